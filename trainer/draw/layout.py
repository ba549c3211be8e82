"""Where the moments of a page go: blocks of bars, columns, and the cells they are drawn in."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

from msgspec.structs import replace

from trainer.draw.names import Naming
from trainer.draw.window import Head, Moment
from trainer.values import Frozen


class Style(Frozen, frozen=True):
    """How a page is written: cells a line, the notes' names, and whether in ASCII."""

    width: int = 80
    names: Naming = "english"
    ascii: bool = False


class Placed(Frozen, frozen=True):
    """A drawn head: its line and column in the drawing, the cells its text takes, and whether
    it stands before the entry."""

    head: Head
    line: int
    column: int
    cells: int
    before: bool


class Drawing(Frozen, frozen=True):
    """Lines of text, and where the heads stand in them (for dimming and for counting)."""

    lines: tuple[str, ...]
    placed: tuple[Placed, ...]

    def then(self, other: Drawing) -> Drawing:
        """This drawing with another one under it, an empty line between them."""
        top = len(self.lines) + 1 if self.lines else 0
        lines = (*self.lines, "", *other.lines) if self.lines else other.lines
        moved = (replace(placed, line=placed.line + top) for placed in other.placed)
        return Drawing(lines, (*self.placed, *moved))


class Column(Frozen, frozen=True):
    """A moment's place in a block: its first cell and how many it has, the gap after it too."""

    moment: Moment
    at: int
    width: int
    bar_line: bool  # a bar line is drawn in the cell two before it


class Canvas:
    """Rows of cells to be written on, one character a cell."""

    def __init__(self, width: int) -> None:
        self._width = width
        self._rows: list[list[str]] = []

    def row(self, fill: str = " ") -> int:
        """Add a row and give its index."""
        self._rows.append([fill] * self._width)
        return len(self._rows) - 1

    def put(self, row: int, column: int, text: str) -> None:
        """Write a text; what lies beyond the edge is an error, not cut."""
        if column < 0 or column + len(text) > self._width:
            raise IndexError(f"{text!r} at {column} is wider than {self._width}")
        self._rows[row][column : column + len(text)] = text

    def get(self, row: int, column: int) -> str:
        return self._rows[row][column]

    def lines(self) -> list[str]:
        return ["".join(row).rstrip() for row in self._rows]


def blocks(
    moments: Sequence[Moment], bars: int, fits: Callable[[Sequence[Moment]], bool]
) -> Iterator[Sequence[Moment]]:
    """Cut the moments into blocks: as many bars as fit up to `bars`, else up to a beat, else
    as many moments as fit, one at least. An upbeat or the rest of a split bar counts with
    its neighbour."""
    begin = 0
    while begin < len(moments):
        stops = _stops(moments, begin, bars)
        end = next((stop for stop in stops if fits(moments[begin:stop])), begin + 1)
        yield moments[begin:end]
        begin = end


def _stops(moments: Sequence[Moment], begin: int, bars: int) -> Iterator[int]:
    """Where a block may end, the best first."""
    lines = [i for i in range(begin + 1, len(moments)) if _new_bar(moments[i - 1], moments[i])]
    lines = [*lines, len(moments)]
    whole = _new_bar(moments[begin - 1], moments[begin]) if begin else True
    yield from reversed(lines[: bars if whole else 1])
    first_bar = lines[0]
    yield from (i for i in range(first_bar - 1, begin, -1) if moments[i].beat.denominator == 1)
    yield from range(first_bar - 1, begin, -1)


def _new_bar(before: Moment, after: Moment) -> bool:
    return before.bar is not after.bar and not before.bar.upbeat and not after.bar.continues


def columns(moments: Sequence[Moment], needs: Callable[[Moment], int]) -> list[Column]:
    """The columns of a block from cell 0; `needs` gives each moment's cells with its gap."""
    placed: list[Column] = []
    at = 0
    for moment in moments:
        bar_line = bool(placed) and placed[-1].moment.bar is not moment.bar
        at += 2 if bar_line else 0
        placed.append(Column(moment, at, needs(moment), bar_line))
        at += placed[-1].width
    return placed


def until(placed: Sequence[Column], onset: Fraction) -> int:
    """The cell where a note that ends at `onset` ends: the next column's first, or the edge."""
    for column in placed:
        if column.moment.onset >= onset:
            return column.at - (2 if column.bar_line else 0)
    return placed[-1].at + placed[-1].width
