"""The map of a piece: its phrases over its bars, with what holds, as lines and in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from trainer.deck.model import Piece, Start
from trainer.draw.layout import Canvas
from trainer.draw.text import clean, cut
from trainer.draw.words import BANDS, band_shade, band_sign, percent
from trainer.errors import TrainerError
from trainer.memory.model import Band
from trainer.score.cite import BRITISH, Words, span
from trainer.score.model import Bar
from trainer.values import Frozen

_BARS = 8  # bars a row where the width allows
_CELL, _LEAST_CELL = 8, 5  # cells a bar, its line included: wanted, and at least
_WIDE_CELL = 12  # where there is room for it
_PICKUP = 3
NARROWEST = 24

Chances = Mapping[str, "float | str | None"]


class _Cell(Frozen, frozen=True):
    """A printed bar on the map (the parts of a split bar together), its first cell and width."""

    start: Fraction
    end: Fraction
    label: str
    at: int
    width: int


def piece_map(
    piece: Piece,
    bands: Mapping[str, Band] | None,
    *,
    here: str | None = None,
    width: int = 80,
    ascii: bool = False,
    chances: Chances | None = None,
) -> list[str]:
    """The piece in rows of eight bars, or fewer where the width is small, and a legend.

    `bands` and `chances` go by the starts' ids; a start without a band is untried. With no
    bands at all nothing is judged: the map shows where the phrases begin. A chance
    is 0-1, or the text to be shown instead ("2 of 2"). `here` is the id of the start to point
    at. Raises TrainerError where the width is under 24 cells.
    """
    if width < NARROWEST:
        raise TrainerError(f"{width} columns are too few for a map: widen to {NARROWEST}.")
    spans = _spans(piece)
    margin = 2 + max((len(clean(bar.label)[:5]) for bar in piece.score.bars), default=1)
    lines: list[str] = []
    for row in _rows(piece.score.bars, width - margin - 1):
        tags = [
            (_column(row, start.onset), _tags(start, bands, chances, here, ascii))
            for start, _ in spans
            if row[0].start <= start.onset < row[-1].end
        ]
        lines += [" " * margin + line for line in _label_lines(tags, width - margin)]
        label = f" {row[0].label}"[: margin - 1].ljust(margin)
        lines.append(label + _bar_line(row, spans, bands or {}, ascii))
    return lines if bands is None else [*lines, *_legend(here, width, ascii)]


def _spans(piece: Piece) -> list[tuple[Start, Fraction]]:
    starts = sorted(piece.deck.starts, key=lambda start: start.onset)
    return [(start, piece.end_of(start)) for start in starts]


def _rows(bars: Sequence[Bar], room: int) -> list[list[_Cell]]:
    """The bars in rows; a pickup goes before the first row's full count."""
    count = next(n for n in (_BARS, 6, 4, 2, 1) if n == 1 or n * _LEAST_CELL + _PICKUP <= room)
    size = max(_LEAST_CELL, (room - _PICKUP) // count)
    size = _WIDE_CELL if size >= _WIDE_CELL and count == _BARS else min(_CELL, size)
    rows: list[list[_Cell]] = []
    full = count
    for bar in bars:
        label = clean(bar.label)[:5]
        if bar.continues and rows:
            last = rows[-1][-1]
            rows[-1][-1] = _Cell(last.start, bar.end, last.label, last.at, last.width)
            continue
        if full >= count:
            rows.append([])
            full = 0
        pickup = bar.upbeat and not rows[-1]
        at = rows[-1][-1].at + rows[-1][-1].width if rows[-1] else _indent(bars, pickup)
        rows[-1].append(_Cell(bar.start, bar.end, label, at, _PICKUP if pickup else size))
        full += not pickup
    return rows


def _indent(bars: Sequence[Bar], pickup: bool) -> int:
    """Rows that begin with a full bar stand in line under a first row with a pickup."""
    return _PICKUP if bars[0].upbeat and not pickup else 0


def _column(row: Sequence[_Cell], onset: Fraction) -> int:
    """The cell of a position in a row: a bar line's on a bar's start, else within the bar."""
    cell = next(cell for cell in reversed(row) if cell.start <= onset)
    return cell.at + int((onset - cell.start) / (cell.end - cell.start) * cell.width)


def _tags(
    start: Start,
    bands: Mapping[str, Band] | None,
    chances: Chances | None,
    here: str | None,
    ascii: bool,
) -> tuple[str, str]:
    """A start's mark over its span, in full and short: "▶4! 30%" and "▶4!"."""
    pointer = (">" if ascii else "▶") if start.id == here else ""
    sign = "" if bands is None else band_sign(bands.get(start.id, "untried"), ascii=ascii)
    short = f"{pointer}{start.number}{sign}"
    if chances is None:
        return short, short
    chance = chances.get(start.id)
    figure = ("-" if ascii else "–") if chance is None else chance
    text = percent(figure) if isinstance(figure, float | int) else clean(figure)
    return f"{short} {text}", short


def _label_lines(tags: Sequence[tuple[int, tuple[str, str]]], room: int) -> list[str]:
    """The marks over a row, each from its start's cell on; a crowd goes to further lines."""
    lines = [""] if tags else []
    for i, (at, (full, short)) in enumerate(tags):
        edge = tags[i + 1][0] - 1 if i + 1 < len(tags) else room
        text = full if at + len(full) <= edge else short
        at = max(0, min(at, room - len(text)))
        line = next((i for i, done in enumerate(lines) if not done or len(done) < at), len(lines))
        lines += [""] * (line + 1 - len(lines))
        lines[line] = cut(lines[line].ljust(at) + text, room)
    return lines[::-1]


def _bar_line(
    row: Sequence[_Cell],
    spans: Sequence[tuple[Start, Fraction]],
    bands: Mapping[str, Band],
    ascii: bool,
) -> str:
    """A row of shaded bars: thin lines between bars, thick ones where a phrase begins."""
    thin, thick = ("|", "I") if ascii else ("│", "┃")
    width = row[-1].at + row[-1].width
    canvas = Canvas(width + 1)
    line = canvas.row()
    first, last = row[0].start, row[-1].end
    for start, end in spans:
        if start.onset >= last or end <= first:
            continue
        at = row[0].at if start.onset < first else _column(row, start.onset)
        stop = width if end >= last else _column(row, end)
        shade = band_shade(bands.get(start.id, "untried"), ascii=ascii)
        canvas.put(line, at, shade * (stop - at))
    for cell in row:
        canvas.put(line, cell.at, thin)
    canvas.put(line, width, thin)
    taken = -1
    for start, _ in spans:
        if first <= start.onset < last:
            taken = min(max(_column(row, start.onset), taken + 1), width - 1)
            canvas.put(line, taken, thick)
    if any(end == last for _, end in spans):
        canvas.put(line, width, thick)
    return canvas.lines()[0]


def _legend(here: str | None, width: int, ascii: bool) -> list[str]:
    """What the shades and signs mean, in as many lines as the width asks for."""
    entries = [f"{band_shade(b, ascii=ascii)}{band_sign(b, ascii=ascii)} {b}" for b in BANDS]
    if here is not None:
        entries.append((">" if ascii else "▶") + " here")
    lines = [""]
    for entry in entries:
        if len(lines[-1]) + 2 + len(entry) > width:
            lines.append("")
        lines[-1] += ("  " if lines[-1] else " ") + entry
    return lines


def spoken_map(
    piece: Piece,
    bands: Mapping[str, Band],
    *,
    here: str | None = None,
    chances: Chances | None = None,
    words: Words = BRITISH,
) -> list[str]:
    """The map in words, one line a start: "Start 4, bb. 25-28: weak, 30%. You are here." """
    lines = []
    for start, end in _spans(piece):
        band = bands.get(start.id, "untried")
        chance = (chances or {}).get(start.id)
        figure = percent(chance) if isinstance(chance, float | int) else clean(chance or "")
        said = f"{band}, {figure}" if figure else band
        place = span(piece.score, start.onset, end, words=words)
        tail = " You are here." if start.id == here else ""
        lines.append(f"Start {start.number}, {place}: {said}.{tail}")
    return lines
