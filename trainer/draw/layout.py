"""Where the moments of a page go: blocks of bars, columns, and the cells they are drawn in."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction

from msgspec.structs import replace

from trainer.draw.names import Naming
from trainer.draw.text import clean, cut, to_ascii
from trainer.draw.window import Head, Moment
from trainer.values import Frozen


class Style(Frozen, frozen=True):
    """How a page is written: cells a line, the notes' names, whether in ASCII, and whether with
    the signs beside the notes."""

    width: int = 80
    names: Naming = "english"
    ascii: bool = False
    signs: bool = True

    def ink(self, text: str) -> str:
        """A drawing's signs as this style writes them."""
        return text.translate(_ASCII) if self.ascii else text

    def label(self, text: str) -> str:
        """A text from the score, clean, as this style writes it."""
        return to_ascii(clean(text)) if self.ascii else clean(text)


_ASCII = str.maketrans("─│┃┬┼┴┐┤┘═–·▼…♯♭♮×«»■", "-||||||||=r.v.#bnx<>]")


class Placed(Frozen, frozen=True):
    """A drawn head: its line and column in the drawing, the cells its text takes, and whether
    it stands before the entry."""

    head: Head
    line: int
    column: int
    cells: int
    before: bool

    def moved(self, lines: int, columns: int) -> Placed:
        return replace(self, line=self.line + lines, column=self.column + columns)


class Remark(Frozen, frozen=True):
    """Something said of a note or a place of the page: a sign, or a sign and a name, and what
    `kind` of thing it says. `lead` cells of it stand before the place, in the gap there."""

    text: str
    kind: str = ""
    lead: int = 1

    @property
    def cells(self) -> int:
        """The cells from its place on, with the gap after it."""
        return len(self.text) - self.lead + 1


class Remarks(Frozen, frozen=True):
    """What is said on a page: before struck heads, by onset and pitch; outside a staff, by onset
    and staff, the lowest first; after the beats of the ruler, by onset."""

    heads: Mapping[tuple[Fraction, int], Remark] = {}
    beside: Mapping[tuple[Fraction, int], tuple[Remark, ...]] = {}
    beats: Mapping[Fraction, tuple[Remark, ...]] = {}

    def before(self, head: Head) -> Remark | None:
        return self.heads.get((head.onset, head.pitch)) if head.struck else None

    def outside(self, staff: int, moment: Moment) -> tuple[Remark, ...]:
        return self.beside.get((moment.onset, staff), ())

    def after(self, moment: Moment) -> tuple[Remark, ...]:
        return self.beats.get(moment.onset, ())

    def ruler(self, moment: Moment) -> str:
        """The ruler's word for a moment, and what is said after it."""
        return moment.ruler + "".join(remark.text for remark in self.after(moment))


class Spot(Frozen, frozen=True):
    """Where a remark stands in a drawing: its line, first cell and count of cells, and its kind."""

    line: int
    column: int
    cells: int
    kind: str

    def moved(self, lines: int, columns: int) -> Spot:
        return replace(self, line=self.line + lines, column=self.column + columns)


class Drawing(Frozen, frozen=True):
    """Lines of text, where the heads stand in them (for dimming and for counting), and where the
    remarks are.

    An empty line stands between blocks and nowhere else.
    """

    lines: tuple[str, ...]
    placed: tuple[Placed, ...]
    spots: tuple[Spot, ...] = ()

    def then(self, other: Drawing) -> Drawing:
        """This drawing with another one under it, an empty line between them."""
        top = len(self.lines) + 1 if self.lines else 0
        lines = (*self.lines, "", *other.lines) if self.lines else other.lines
        placed = (one.moved(top, 0) for one in other.placed)
        spots = (one.moved(top, 0) for one in other.spots)
        return Drawing(lines, (*self.placed, *placed), (*self.spots, *spots))

    def indented(self, columns: int) -> Drawing:
        """The same places so many cells to the right; the lines are as they were."""
        placed = (one.moved(0, columns) for one in self.placed)
        return Drawing(self.lines, tuple(placed), tuple(s.moved(0, columns) for s in self.spots))


class Column(Frozen, frozen=True):
    """A moment's place in a block. `at` is its text's first cell, `width` counts from there to
    its end with the gap after it; `edge` is where its room begins: its bar line or clef."""

    moment: Moment
    edge: int
    at: int
    width: int
    bar_line: bool  # a bar line stands in the cell `edge`

    @property
    def end(self) -> int:
        return self.at + self.width


class Canvas:
    """Rows of cells to be written on, one character a cell."""

    def __init__(self, width: int) -> None:
        self.width = width
        self._rows: list[list[str]] = []

    def row(self, fill: str = " ") -> int:
        """Add a row and give its index."""
        self._rows.append([fill] * self.width)
        return len(self._rows) - 1

    @property
    def height(self) -> int:
        return len(self._rows)

    def put(self, row: int, column: int, text: str) -> None:
        """Write a text; what lies beyond the edge is an error, not cut."""
        if column < 0 or column + len(text) > self.width:
            raise IndexError(f"{text!r} at {column} is wider than {self.width}")
        self._rows[row][column : column + len(text)] = text

    def get(self, row: int, column: int) -> str:
        return self._rows[row][column]

    def lines(self) -> list[str]:
        return ["".join(row).rstrip() for row in self._rows]


Lay = Callable[[Sequence[Moment]], "tuple[Column, ...] | None"]


def blocks(
    moments: Sequence[Moment], bars: int, lay: Lay, *, in_beats: bool = False
) -> Iterator[tuple[Sequence[Moment], tuple[Column, ...] | None]]:
    """Cut the moments into blocks: as many bars as fit up to `bars`, else up to a beat, else
    (unless `in_beats`) as many moments as fit.

    `lay` gives the columns of a block, or None where it does not fit. Each block comes with
    its columns, None where not even the least block fits. An upbeat or the rest of a split
    bar counts with its neighbour.
    """
    begin = 0
    while begin < len(moments):
        end, cols = begin + 1, None
        for end in _stops(moments, begin, bars, in_beats):
            cols = lay(moments[begin:end])
            if cols:
                break
        yield moments[begin:end], cols
        begin = end


def _stops(moments: Sequence[Moment], begin: int, bars: int, in_beats: bool) -> Iterator[int]:
    """Where a block may end, the best first, the nearest last."""
    lines = [i for i in range(begin + 1, len(moments)) if _new_bar(moments[i - 1], moments[i])]
    lines = [*lines, len(moments)]
    whole = not begin or _new_bar(moments[begin - 1], moments[begin])
    yield from reversed(lines[: bars if whole else 1])
    for i in range(lines[0] - 1, begin, -1):
        if moments[i].beat.denominator == 1:
            yield i
    if not in_beats:
        yield from range(lines[0] - 1, begin, -1)


def _new_bar(before: Moment, after: Moment) -> bool:
    return before.bar is not after.bar and not before.bar.upbeat and not after.bar.continues


def columns(
    moments: Sequence[Moment],
    needs: Callable[[Moment], int],
    lead: Callable[[Moment], int] = lambda _moment: 0,
) -> tuple[Column, ...]:
    """The columns of a block from cell 0. `needs` gives each moment's cells with its gap,
    `lead` the cells wanted before it (after the bar line) by something like a clef."""
    placed: list[Column] = []
    edge = 0
    for moment in moments:
        bar_line = bool(placed) and placed[-1].moment.bar is not moment.bar
        at = edge + 2 * bar_line + (lead(moment) if placed else 0)
        placed.append(Column(moment, edge, at, needs(moment), bar_line))
        edge = placed[-1].end
    return tuple(placed)


def until(placed: Sequence[Column], onset: Fraction) -> int:
    """The cell where a note that ends at `onset` ends: the next column's edge, or the end."""
    return next((col.edge for col in placed if col.moment.onset >= onset), placed[-1].end)


def header(
    cols: Sequence[Column], style: Style, entry: Fraction, word: str = ""
) -> tuple[str, ...]:
    """The bars' labels over their first columns, and ▼ over the entry where it is in mid-bar
    (on a line of its own where a label is in the way)."""
    labels = _bar_labels(cols, style, word)
    for col in cols:
        if col.moment.onset == entry > col.moment.bar.start:
            line = labels.ljust(col.at + 1)
            if line[max(0, col.at - 1) : col.at + 2].strip():
                return labels, " " * col.at + "▼"
            return (line[: col.at] + "▼" + line[col.at + 1 :],)
    return (labels,)


def _bar_labels(cols: Sequence[Column], style: Style, word: str) -> str:
    """The printed bar labels, shortened where a bar is too narrow; what goes on within
    a printed bar (a block, the later part of a split bar) says so: "9…"."""
    text = ""
    firsts = [col for i, col in enumerate(cols) if not i or col.bar_line]
    ends = [*(col.edge for col in firsts[1:]), cols[-1].end]
    for col, end in zip(firsts, ends, strict=True):
        token = style.label(col.moment.bar.label)
        if col.moment.bar.continues or col.moment.onset > col.moment.bar.start:
            token += "…"
        room = max(0, end - col.at)
        name = word + token if len(word + token) <= room else token
        text = text.ljust(col.at) + cut(name, room)
    return text
