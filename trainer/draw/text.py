"""Text as a terminal shows it: measured in cells, free of controls, cut to a width."""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Iterable
from itertools import count
from typing import Literal

# What stands for a sign where the terminal has only ASCII, sign by sign.
PLAIN = str.maketrans("✓…–─♯♭♮½¼¾·×", "+.--#bn....x")

Align = Literal["left", "right"]
_NUMBERED = re.compile(r"\b((?:bb?|mm?)\.|beat) (?=\d)")


def clean(text: str) -> str:
    """The text on one line, without control, formatting and unassigned characters.

    Text from a score, a deck or a person is data: no control sequence and no mark that
    turns the direction of writing passes. A line break or tab becomes a space.
    """
    if text.isascii() and text.isprintable():  # as nearly always: nothing to take away
        return " ".join(text.split())
    spaced = "".join(" " if char in "\t\n\r\v\f\x85\u2028\u2029" else char for char in text)
    kept = (char for char in spaced if not unicodedata.category(char).startswith("C"))
    return " ".join("".join(kept).split())


# Text in which every character takes one cell: European letters, punctuation, arrows, box
# drawing, blocks, the signs of music. All else is measured by wcwidth, which knows wide,
# combining and joined characters (Unicode Standard Annex 11) and takes its time to import.
_SIMPLE = re.compile(
    "[ -~\u00a0-\u00ac\u00ae-\u02ff\u2010-\u2027\u2030-\u205e\u2190-\u2199"
    "\u2500-\u25fc\u2669-\u266f\u2713]*"
)


def cells(text: str) -> int:
    """How many cells the text takes: 2 a wide character, 0 a combining one, else 1; the
    ambiguous signs (♯, box drawing) are counted as one cell."""
    if text.isascii() or _SIMPLE.fullmatch(text):
        return len(text)
    from wcwidth import wcswidth

    return max(0, wcswidth(text))


def wrapped(text: str, width: int, *, indent: str = "") -> list[str]:
    """The text on one line or more of at most `width` cells, broken at blanks, but not between
    "b." and its number; lines after the first are indented. A word that has no room is broken. No
    text is one empty line."""
    text = clean(text)
    if text.isascii() or _SIMPLE.fullmatch(text):
        text = _NUMBERED.sub("\\1\u00a0", text)
        lines = textwrap.wrap(text, max(width, 1 + len(indent)), subsequent_indent=indent)
        return [line.replace("\u00a0", " ") for line in lines] or [""]
    from wcwidth import wrap

    return wrap(text, max(width, 2 + len(indent)), subsequent_indent=indent) or [""]


def to_ascii(text: str) -> str:
    """The text with accents taken off and "?" for every other sign outside ASCII."""
    text = text.replace("–", "-").replace("’", "'").replace("♯", "#").replace("♭", "b")
    plain = (c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return "".join(plain).encode("ascii", "replace").decode()


def cut(text: str, width: int, *, ascii: bool = False) -> str:
    """The text in at most `width` cells, ended by … (ASCII: a full stop) where it was cut."""
    if cells(text) <= width:
        return text
    if width <= 0:
        return ""
    end = "." if ascii else "…"
    if text.isascii() or _SIMPLE.fullmatch(text):
        return text[: width - 1] + end
    from wcwidth import clip

    return clip(text, 0, width - 1).rstrip() + end


def fit(text: str, width: int, align: Align = "left", *, ascii: bool = False) -> str:
    """The text cut or filled with spaces to exactly `width` cells."""
    text = cut(text, width, ascii=ascii)
    space = " " * (width - cells(text))
    return space + text if align == "right" else text + space


def file_names(texts: Iterable[str]) -> list[str]:
    """Names for files, without their endings, no two alike: "Sonatina in G" is "sonatina-in-g",
    and the next of them "sonatina-in-g-2". Letters and figures of any script stay; where there is
    nothing else the name is "untitled"."""
    found: list[str] = []
    for text in texts:
        words = re.findall(r"[^\W_]+", clean(text).casefold())
        name = "-".join(words)[:60].rstrip("-") or "untitled"
        others = (f"{name}-{n}" for n in count(2))
        found.append(name if name not in found else next(o for o in others if o not in found))
    return found
