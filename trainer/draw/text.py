"""Text as a terminal shows it: measured in cells, free of controls, cut to a width."""

from __future__ import annotations

import unicodedata
from typing import Literal

# What stands for a sign where the terminal has only ASCII, sign by sign.
PLAIN = str.maketrans("✓…–─♯♭♮½¼¾·×", "+.--#bn....x")

Align = Literal["left", "right"]


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


def cells(text: str) -> int:
    """How many cells the text takes: 2 a wide character, 0 a combining one, else 1.

    Wide is East Asian Width W or F (Unicode Standard Annex 11); the ambiguous signs
    (♯, box drawing) are counted as one cell.
    """
    if text.isascii():
        return len(text)
    return sum(_char_cells(char) for char in text)


def _char_cells(char: str) -> int:
    if unicodedata.category(char) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(char) in "WF" else 1


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
    kept, used = "", 0
    for char in text:
        used += _char_cells(char)
        if used > width - 1:
            break
        kept += char
    return kept + ("." if ascii else "…")


def fit(text: str, width: int, align: Align = "left", *, ascii: bool = False) -> str:
    """The text cut or filled with spaces to exactly `width` cells."""
    text = cut(text, width, ascii=ascii)
    space = " " * (width - cells(text))
    return space + text if align == "right" else text + space
