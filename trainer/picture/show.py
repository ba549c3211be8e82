"""Bars as a picture: as the bytes of a file, or as what a terminal is sent."""

from __future__ import annotations

from fractions import Fraction
from pathlib import PurePath

from trainer.errors import TrainerError
from trainer.picture.engrave import UNITS, png, size, svg
from trainer.picture.mei import mei
from trainer.picture.terminal import WAYS, Room
from trainer.score.model import Bar, Meter, Note, Score, Staff

WIDTHS = (100, 8000)  # pixels of a picture in a file
NOT_CHOSEN = (
    "No way to show pictures in this terminal has been chosen: `trainer picture --try` finds one, "
    "and "
    "`trainer picture PIECE START --out FILE.png` writes to a file."
)
_MOST_COLUMNS = 120  # wider lines of music read badly
_SPACES = (20, 26, 34)  # units of a drawing for each column: large staves first, 18 a space


def as_file(score: Score, begin: Fraction, end: Fraction, name: str, width: int) -> bytes:
    """What a file of that name (.svg or .png) is to hold: the bars of `begin` up to `end` (ql),
    `width` pixels wide if it is a PNG. Raises TrainerError."""
    kind = PurePath(name).suffix.lower()
    if kind not in (".svg", ".png"):
        raise TrainerError(f"{name!r} is not a picture's name; end it in .svg or .png.")
    drawing = svg(mei(score, begin, end), UNITS)
    return drawing.encode() if kind == ".svg" else png(drawing, width)


def in_terminal(score: Score, begin: Fraction, end: Fraction, way: str, room: Room) -> str:
    """What the terminal is sent to show these bars by a way that it knows. The staves are made
    smaller where all lines of music would not fit. Raises TrainerError where no way is chosen."""
    if way not in WAYS:
        raise TrainerError(NOT_CHOSEN)
    text = mei(score, begin, end)
    columns = min(room.columns, _MOST_COLUMNS)
    wide, high = room.cell
    pixels = columns * wide
    for space in _SPACES:
        drawing = svg(text, space * columns)
        units, height = size(drawing)
        if height * pixels <= units * (room.lines - 3) * high:
            break
    return WAYS[way].sent(png(drawing, pixels), columns)


def samples(room: Room) -> dict[str, str]:
    """A small picture of one note, as each way sends it; the terminal shows what it knows."""
    note = Note(Fraction(0), Fraction(4), 71, "B", 0, 4, 0)
    bar = Bar(0, "1", Fraction(0), Fraction(4), Meter(4, 4), final=True)
    score = Score("", (Staff(0, ""),), (bar,), (note,))
    columns = 12
    picture = png(svg(mei(score, Fraction(0), bar.end), 330), columns * room.cell[0])
    return {name: way.sent(picture, columns) for name, way in WAYS.items()}
