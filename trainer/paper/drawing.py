"""The map of a piece, drawn as SVG inside the page.

Each shade has a sign beside it or over it: a grey print, or no eye for shades, loses nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from trainer.deck.model import Piece, Start
from trainer.draw.words import BANDS, band_sign
from trainer.memory.model import Band
from trainer.paper.html import Element, el, span
from trainer.paper.page import INK, LINE
from trainer.score.model import Bar
from trainer.values import Frozen

GREYS: dict[Band, str] = {
    "holds": "#444",
    "fading": "#8c8c8c",
    "weak": "#d0d0d0",
    "untried": "#fff",
}
_PHRASES = ("#e4e4e4", "#fff")  # where nothing is judged, phrase after phrase
_WIDE, _MARGIN, _PICKUP, _BARS = 1000, 74, 44, 8
_TALL = 26  # of a bar
_LETTER = 0.62  # a letter's width in parts of its height, on the safe side


class Tag(Frozen, frozen=True):
    """What stands over a start: its number, and what is said of it ("! 31%")."""

    number: int
    told: str = ""


class _Cell(Frozen, frozen=True):
    """A printed bar, the parts of a split one together, and where it is drawn."""

    start: Fraction
    end: Fraction
    label: str
    at: float
    width: float

    def x(self, onset: Fraction) -> float:
        return self.at + float((onset - self.start) / (self.end - self.start)) * self.width


def piece_map(
    piece: Piece,
    tags: Mapping[str, Tag],
    bands: Mapping[str, Band] | None,
    *,
    label: str,
    size: int = 26,
    turns: bool = False,
) -> Element:
    """The piece in rows of eight bars. `tags` and `bands` go by the starts' ids; without bands
    nothing is judged and the phrases are told apart only. `label` says in words what is drawn;
    `size` is the height of a number, 2 units a point on paper; `turns` shows the page turns."""
    rows = [_row(piece, row, tags, bands, size, turns) for row in _rows(piece.score.bars) if row]
    return el("div", *rows, class_="map", role="img", aria_label=label)


def key() -> Element:
    """What the shades and signs mean."""
    return el(
        "p",
        *(el("span", _sample(band), span("sign", band_sign(band)), f" {band}") for band in BANDS),
        class_="key",
    )


def _sample(band: Band) -> Element:
    box = el("rect", x=0.5, y=0.5, width=31, height=15, fill=GREYS[band], stroke=LINE)
    return el("svg", box, viewBox="0 0 32 16", aria_hidden="true")


def _rows(bars: Sequence[Bar]) -> Iterator[list[_Cell]]:
    """The bars in rows; a pickup stands before the first row's full count."""
    indent = _PICKUP if bars[0].upbeat else 0
    wide = (_WIDE - _MARGIN - indent - 4) / _BARS
    row: list[_Cell] = []
    full = 0
    for bar in bars:
        if bar.continues and row:
            last = row[-1]
            row[-1] = _Cell(last.start, bar.end, last.label, last.at, last.width)
            continue
        if full == _BARS:
            yield row
            row, full = [], 0
        pickup = bar.upbeat and not row
        at = row[-1].at + row[-1].width if row else _MARGIN + (0 if pickup else indent)
        row.append(_Cell(bar.start, bar.end, bar.label, at, _PICKUP if pickup else wide))
        full += not pickup
    yield row


def _row(
    piece: Piece,
    row: Sequence[_Cell],
    tags: Mapping[str, Tag],
    bands: Mapping[str, Band] | None,
    size: int,
    turns: bool,
) -> Element:
    starts = sorted(piece.deck.starts, key=lambda start: start.onset)
    here = [start for start in starts if row[0].start <= start.onset < row[-1].end]
    marks, levels = _marks(row, here, tags, size)
    top = levels * size * 1.15 + 8
    pages = _turns(piece, row, top, size) if turns else []
    tall = top + _TALL + (size * 1.1 if pages else 6)
    return el(
        "svg",
        *_phrases(piece, starts, row, bands, top),
        *_lines(row, here, top),
        *marks,
        *pages,
        _text(
            _MARGIN - 10,
            top + _TALL / 2 + size * 0.27,
            size * 0.75,
            _first_label(row),
            anchor="end",
            weight="400",
        ),
        viewBox=f"0 0 {_WIDE} {round(tall)}",
        aria_hidden="true",
        class_="row",
    )


def _phrases(
    piece: Piece,
    starts: Sequence[Start],
    row: Sequence[_Cell],
    bands: Mapping[str, Band] | None,
    top: float,
) -> Iterator[Element]:
    """The shade of each phrase as far as it reaches into this row."""
    for nth, start in enumerate(starts):
        begin, end = max(start.onset, row[0].start), min(piece.end_of(start), row[-1].end)
        if begin < end:
            shade = _PHRASES[nth % 2] if bands is None else GREYS[bands.get(start.id, "untried")]
            left = _x(row, begin)
            wide = _x(row, end) - left
            yield el("rect", x=left, y=top, width=wide, height=_TALL, fill=shade)


def _lines(row: Sequence[_Cell], here: Sequence[Start], top: float) -> Iterator[Element]:
    """The frame, thin lines between bars, thick ones where a phrase begins."""
    left, right = row[0].at, row[-1].at + row[-1].width
    yield el("rect", x=left, y=top, width=right - left, height=_TALL, fill="none", stroke=LINE)
    for cell in row[1:]:
        yield _line(cell.at, top, top + _TALL, 1, LINE)
    for start in here:
        yield _line(_x(row, start.onset), top - 8, top + _TALL, 6, INK)


def _marks(
    row: Sequence[_Cell], here: Sequence[Start], tags: Mapping[str, Tag], size: int
) -> tuple[list[Element], int]:
    """The tags over a row, and on how many lines they stand: a crowd climbs."""
    ends: list[float] = []  # the right edge of each line, the lowest first
    placed: list[tuple[float, int, Tag]] = []
    for start in here:
        tag = tags[start.id]
        wide = size * _LETTER * (len(str(tag.number)) + (len(tag.told) + 1) * 0.8)
        left = max(0.0, min(_x(row, start.onset) - 2, _WIDE - wide))
        level = next((n for n, edge in enumerate(ends) if edge <= left), len(ends))
        ends += [0.0] * (level + 1 - len(ends))
        ends[level] = left + wide + 6
        placed.append((left, level, tag))
    levels = len(ends)
    marks = [
        _text(
            left, (levels - level) * size * 1.15 - size * 0.2, size, str(tag.number), told=tag.told
        )
        for left, level, tag in placed
    ]
    return marks, levels


def _turns(piece: Piece, row: Sequence[_Cell], top: float, size: int) -> list[Element]:
    """Where a new page begins: an arrow under the bar."""
    low = top + _TALL
    found = []
    for mark in piece.score.marks_of("page"):
        if mark.onset and row[0].start <= mark.onset < row[-1].end:
            at = _x(row, mark.onset)
            found.append(_line(at, low, low + size * 0.8, 3, INK))
            found.append(_text(at + 8, low + size * 0.8, size * 0.7, "page turn", weight="400"))
    return found


def _x(row: Sequence[_Cell], onset: Fraction) -> float:
    return next((cell for cell in reversed(row) if cell.start <= onset), row[0]).x(onset)


def _line(at: float, top: float, low: float, width: int, colour: str) -> Element:
    return el("line", x1=at, y1=top, x2=at, y2=low, stroke=colour, stroke_width=width)


def _text(
    x: float,
    y: float,
    size: float,
    words: str,
    *,
    told: str = "",
    anchor: str = "start",
    weight: str = "700",
) -> Element:
    """Words at a place, with what is told of them after them in smaller."""
    more = el("tspan", f" {told}", font_size=size * 0.8, font_weight="400") if told else None
    return el(
        "text", words, more, x=x, y=y, font_size=size, font_weight=weight, fill=INK,
        text_anchor=anchor,
    )  # fmt: skip


def _first_label(row: Sequence[_Cell]) -> str:
    """The printed number of the first bar of a row that is not a pickup."""
    full = [cell for cell in row if cell.width > _PICKUP] or row
    return full[0].label[:5]
