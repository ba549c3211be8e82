"""The key card: the keys of all screens on one page, made from their registry."""

from __future__ import annotations

from itertools import zip_longest
from typing import Any

from trainer.draw.text import cells, fit
from trainer.ui.keys import EVERYWHERE, KEYS, Key
from trainer.ui.screens.help import NAMES

TWO_FROM = 80  # columns of the page, from which on it is set in two
GAP, APART = 4, 3  # cells between the two, and between one key and the next


def screens() -> dict[str, list[Key]]:
    """The keys of every screen: what works everywhere first, then in the registry's order."""
    found: dict[str, list[Key]] = {EVERYWHERE: []}
    for key in KEYS:
        found.setdefault(key.screen, []).append(key)
    return found


def card(width: int, *, ascii: bool = False) -> list[str]:
    """All keys as lines of at most `width` cells, 24 or more; two columns from 80 on."""
    size = (width - GAP) // 2 if width >= TWO_FROM else width
    blocks = [
        [_name(screen), *_listed(keys, size, ascii=ascii)] for screen, keys in screens().items()
    ]
    if size == width:
        return [line for block in blocks for line in block]
    left, right = _halves(blocks)
    return [
        f"{fit(one, size, ascii=ascii)}{' ' * GAP}{other}".rstrip()
        for one, other in zip_longest(left, right, fillvalue="")
    ]


def as_rows() -> list[dict[str, Any]]:
    """The same for programs: a row a key, with all the names of it and what it does."""
    return [
        {
            "screen": screen,
            "key": key.face,
            "keys": key.keys.split(","),
            "words": key.words,
            "meaning": key.meaning,
        }
        for screen, keys in screens().items()
        for key in keys
    ]


def _name(screen: str) -> str:
    name = NAMES[screen]
    return name[0].upper() + name[1:]


def _listed(keys: list[Key], width: int, *, ascii: bool) -> list[str]:
    """The keys with their words, as many to a line as there is room for."""
    lines = [""]
    for key in keys:
        said = f"{key.stands(ascii)} {key.words}"
        if lines[-1] and cells(lines[-1]) + APART + cells(said) > width:
            lines.append("")
        lines[-1] += f"{' ' * APART if lines[-1] else '  '}{said}"
    return lines


def _halves(blocks: list[list[str]]) -> tuple[list[str], list[str]]:
    """The blocks in two columns, broken between two of them where the longer one is shortest."""

    def lines(some: list[list[str]]) -> list[str]:
        return [line for block in some for line in block]

    at = min(
        range(len(blocks) + 1),
        key=lambda n: max(len(lines(blocks[:n])), len(lines(blocks[n:]))),
    )
    return lines(blocks[:at]), lines(blocks[at:])
