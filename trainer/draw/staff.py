"""The lettered staff: one row a staff line, note letters on it, a beat ruler between the hands.

A note in a space shares the row of the line below it; the letter removes the doubt. The line
runs into the letter of a line note and breaks around that of a space note. Notes more than
three ledger lines away share one row beyond them and carry their octave.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from trainer.draw.grid import grid, staff_labels
from trainer.draw.layout import (
    Canvas,
    Column,
    Drawing,
    Placed,
    Style,
    blocks,
    columns,
    header,
    until,
)
from trainer.draw.names import written
from trainer.draw.text import cells, fit
from trainer.draw.window import Head, Moment, Window
from trainer.score.model import Score
from trainer.values import Frozen

_SPACINGS = (5, 4, 3)  # least cells a moment, tried in this order; the first is proportional
_LEDGERS = 3  # ledger rows drawn on each side; what lies beyond shares one row more
_TOP, _BOTTOM = 4 + _LEDGERS, -_LEDGERS
_LEAD = 5  # cells of an edge: the system's line, the clef, a little of the staff line
_CLEF_PLACES = {"G": 32, "F": 24, "C": 28}  # the clef's own note, in steps from C0


class Clef(Frozen, frozen=True):
    """A sign on a line (1-5 from below); `octaves` is +1 for a small 8 above, -1 below."""

    sign: Literal["G", "F", "C"]
    line: int
    octaves: int = 0

    @property
    def row(self) -> int:
        return self.line - 1

    @property
    def bottom(self) -> int:
        """The place (steps from C0) of the lowest line."""
        return _CLEF_PLACES[self.sign] - 2 * (self.line - 1) + 7 * self.octaves

    @property
    def signs(self) -> tuple[tuple[int, str], ...]:
        """What is drawn, by row: the letter, and the 8 or 15 over or under it."""
        if not self.octaves:
            return ((self.row, self.sign),)
        beside = self.row + (1 if self.octaves > 0 else -1)
        return (self.row, self.sign), (beside, "8" if abs(self.octaves) == 1 else "15")


class Clefs:
    """The clefs of a window by staff and position, and where they change."""

    def __init__(self, window: Window) -> None:
        score = window.score
        self._found: dict[int, list[tuple[Fraction, Clef]]] = {}
        for mark in score.marks_of("clef"):
            clef = _clef(mark.text)
            if clef:
                self._found.setdefault(mark.staff, []).append((mark.onset, clef))
        for staff in window.staves:
            if staff not in self._found:
                self._found[staff] = [(Fraction(0), _guess(score, staff))]
        self.changes = {
            (staff, moment.onset)
            for staff in window.staves
            for before, moment in pairwise(window.moments)
            if self.at(staff, before.onset) != self.at(staff, moment.onset)
        }

    def at(self, staff: int, onset: Fraction) -> Clef:
        """The clef in force; before the first one, the first."""
        found = self._found[staff]
        return found[max(0, bisect_right([place for place, _ in found], onset) - 1)][1]


def _clef(text: str) -> Clef | None:
    sign, line, octaves = text[:1], text[1:2], text[2:]
    if sign not in _CLEF_PLACES or line not in "12345" or not line:
        return None
    if octaves and not 1 < int(line) < 5:
        return None  # no such clef: its 8 would stand off the staff
    shift = {"+8": 1, "-8": -1, "+15": 2, "-15": -2}.get(octaves, 0)
    return Clef("G" if sign == "G" else "F" if sign == "F" else "C", int(line), shift)


def _guess(score: Score, staff: int) -> Clef:
    """The clef that keeps most notes on the staff where the score gives none."""
    pitches = sorted(note.pitch for note in score.notes if note.staff == staff)
    return Clef("F", 4) if pitches and pitches[len(pitches) // 2] < 60 else Clef("G", 2)


def staff_page(window: Window, style: Style) -> Drawing:
    """One or two staves in blocks of bars: two if they fit (four where there is ample room),
    else one, else up to a beat; a beat that does not fit is drawn as a table."""
    clefs = Clefs(window)
    labels = _labels(window, style)
    margin = max(map(cells, labels.values())) + _LEAD

    def lay(moments: Sequence[Moment]) -> tuple[Column, ...] | None:
        for least in _SPACINGS:
            cols = _columns(window, clefs, moments, style, least)
            if margin + cols[-1].end + 1 <= style.width:
                return cols
        return None

    drawing = Drawing((), ())
    for moments, cols in blocks(window.moments, 4 if style.width >= 120 else 2, lay, in_beats=True):
        if cols is None:
            drawing = drawing.then(grid(window, style, moments))
        else:
            drawing = drawing.then(_Sheet(window, clefs, cols, style).drawing(labels))
    return drawing


def _labels(window: Window, style: Style) -> dict[int, str]:
    short = {"RH": "R", "LH": "L"}
    return {n: short.get(label, label) for n, label in staff_labels(window, style).items()}


def _row(place: int, clef: Clef) -> int:
    """The row of a place: 0-4 the lines from below, ledger rows outside, the rows beyond."""
    return max(_BOTTOM - 1, min(_TOP + 1, (place - clef.bottom) // 2))


def _text(head: Head, row: int, style: Style, graced: bool) -> str:
    octave = head.octave if row > _TOP or row < _BOTTOM else None
    name = written(head.step, head.alter, octave, names=style.names, natural=head.natural)
    return ("~" + name if graced else name) if head.struck else f"({name})"


class _Cell(Frozen, frozen=True):
    """The heads of one row at one moment, lowest first, with their texts."""

    row: int
    on_line: bool
    heads: tuple[Head, ...]
    texts: tuple[str, ...]

    @property
    def width(self) -> int:
        """The texts side by side, each held one with a cell of its sign, and a gap."""
        return sum(len(text) + 1 for text in self.texts) + self.heads[-1].held


def _cells(heads: Sequence[Head], moment: Moment, clef: Clef, style: Style) -> list[_Cell]:
    """The rows that one staff's heads take at a moment; a grace note is shown at the highest."""
    ordered = sorted(heads, key=lambda head: (head.place, head.alter))
    struck = [head for head in ordered if head.struck]
    graced = struck[-1] if struck and struck[-1].staff in moment.graces else None
    rows: dict[int, list[Head]] = {}
    for head in ordered:
        rows.setdefault(_row(head.place, clef), []).append(head)
    return [
        _Cell(
            row,
            (group[0].place - clef.bottom) % 2 == 0,
            tuple(group),
            tuple(_text(head, row, style, head is graced) for head in group),
        )
        for row, group in rows.items()
    ]


def _columns(
    window: Window, clefs: Clefs, moments: Sequence[Moment], style: Style, least: int
) -> tuple[Column, ...]:
    over = window.carried(moments[0].onset)
    edges = [*(moment.onset for moment in moments[1:]), _end(window, moments[-1].onset)]
    after = dict(zip((moment.onset for moment in moments), edges, strict=True))

    def needs(moment: Moment) -> int:
        heads = (*moment.heads, *(over if moment is moments[0] else ()))
        widths = [
            least + _stretch(after[moment.onset] - moment.onset, least),
            len(moment.ruler) + 1,
        ]
        for staff in window.staves:
            own = [head for head in heads if head.staff == staff]
            found = _cells(own, moment, clefs.at(staff, moment.onset), style)
            widths += [cell.width for cell in found]
            widths += [len(text) + 1 for head in own for text in _fingers(head, style)]
        return max(widths)

    def lead(moment: Moment) -> int:
        changed = any((staff, moment.onset) in clefs.changes for staff in window.staves)
        return 4 if changed else 0

    return columns(moments, needs, lead)


def _stretch(wait: Fraction, least: int) -> int:
    """Cells more for a longer wait, in the widest spacing only."""
    if least < _SPACINGS[0]:
        return 0
    return 3 if wait >= 1 else 1 if wait >= Fraction(1, 2) else 0


def _fingers(head: Head, style: Style) -> tuple[str, ...]:
    return tuple(style.label(finger)[:3] for finger in head.fingers[:1])


class _Sheet:
    """One block of staves while it is being drawn."""

    def __init__(
        self, window: Window, clefs: Clefs, cols: tuple[Column, ...], style: Style
    ) -> None:
        self.window, self.clefs, self.cols, self.style = window, clefs, cols, style
        self.canvas = Canvas(_LEAD + cols[-1].end + 1)
        self.labels: list[str] = []
        self.placed: list[Placed] = []

    def drawing(self, labels: dict[int, str]) -> Drawing:
        shift = " " * _LEAD
        for text in header(self.cols, self.style, self.window.entry):
            self.add(shift + text)
        for i, staff in enumerate(self.window.staves):
            below = i > 0 and i == len(self.window.staves) - 1
            if not below:
                self.fingers(staff, above=True)
            self.staff(staff, labels[staff])
            if below:
                self.fingers(staff, above=False)
            if not i:
                self.ruler()
        margin = max(map(cells, labels.values()))
        lines = (
            (fit(label, margin) + self.style.ink(text)).rstrip() or " "
            for label, text in zip(self.labels, self.canvas.lines(), strict=True)
        )
        return Drawing(tuple(lines), tuple(p.moved(0, margin) for p in self.placed))

    def add(self, text: str = "", label: str = "", fill: str = " ") -> int:
        line = self.canvas.row(fill)
        self.canvas.put(line, 0, text)
        self.labels.append(label)
        return line

    def ruler(self) -> None:
        line = self.add()
        for col in self.cols:
            self.canvas.put(line, _LEAD + col.at, col.moment.ruler)

    def heads(self, staff: int, col: Column) -> list[Head]:
        over = self.window.carried(col.moment.onset) if col is self.cols[0] else ()
        return [head for head in (*col.moment.heads, *over) if head.staff == staff]

    def fingers(self, staff: int, *, above: bool) -> None:
        """The fingers over or under a staff, stacked as the heads are."""
        stacks = {
            col.at: [text for head in self.heads(staff, col) for text in _fingers(head, self.style)]
            for col in self.cols
        }
        height = max(map(len, stacks.values()))
        lines = [self.add() for _ in range(height)]
        for at, stack in stacks.items():
            for i, text in enumerate(stack):
                line = lines[height - 1 - i] if above else lines[len(stack) - 1 - i]
                self.canvas.put(line, _LEAD + at, text)

    def staff(self, staff: int, label: str) -> None:
        found = [
            (col, cell)
            for col in self.cols
            for cell in _cells(
                self.heads(staff, col),
                col.moment,
                self.clefs.at(staff, col.moment.onset),
                self.style,
            )
        ]
        rows = [cell.row for _, cell in found]
        lines = {}
        for row in range(max([4, *rows]), min([0, *rows]) - 1, -1):
            inside = 0 <= row <= 4
            lines[row] = self.add("", label if row == 2 else "", "─" if inside else " ")
        for row, line in lines.items():
            self.cells(line, row, [(col, cell) for col, cell in found if cell.row == row])
        self.frame(lines, staff)
        self.silence(lines[2], staff)

    def frame(self, lines: dict[int, int], staff: int) -> None:
        """The edges, the bar lines and the clefs of a staff."""
        right = _LEAD + self.cols[-1].end
        closed = self.cols[-1].moment.bar.end <= _end(self.window, self.cols[-1].moment.onset)
        for row in range(5):
            kind = {4: "┬┐", 0: "┴┘"}.get(row, "┼┤")
            self.canvas.put(lines[row], 0, "┃")
            self.canvas.put(lines[row], right, kind[1] if closed else "─")
            for col in self.cols:
                if col.bar_line:
                    self.canvas.put(lines[row], _LEAD + col.edge, kind[0])
        first = self.clefs.at(staff, self.cols[0].moment.onset)
        for row, sign in first.signs:
            self.canvas.put(lines[row], 1, sign)
        for col in self.cols[1:]:
            if (staff, col.moment.onset) in self.clefs.changes:
                clef = self.clefs.at(staff, col.moment.onset)
                for row, sign in clef.signs:
                    self.canvas.put(lines[row], _LEAD + col.at - 4, f"[{sign}]"[:4])

    def cells(self, line: int, row: int, found: Sequence[tuple[Column, _Cell]]) -> None:
        """Write one row's heads, each held one with its sign up to its end or the next head."""
        for i, (col, cell) in enumerate(found):
            at = _LEAD + col.at
            stop = _LEAD + found[i + 1][0].at - 1 if i + 1 < len(found) else self.canvas.width
            if not cell.on_line or not 0 <= row <= 4:
                self.canvas.put(line, at - 1, "─" if cell.on_line and _ledger(row) else " ")
            for j, (head, text) in enumerate(zip(cell.heads, cell.texts, strict=True)):
                self.canvas.put(line, at, text)
                before = head.onset < self.window.entry
                self.placed.append(Placed(head, line, at, len(text), before))
                at += len(text)
                if j + 1 < len(cell.heads):
                    self.canvas.put(line, at, "═" if head.held else " ")
                    at += 1
            last = cell.heads[-1]
            end = min(stop, _LEAD + until(self.cols, last.end) - 1) if last.held else at
            self.canvas.put(line, at, "═" * (end - at))
            on_line = (last.place - _bottom(self.clefs, last)) % 2 == 0
            if on_line and _ledger(row):
                self.canvas.put(line, max(at, end), "─")
            elif not on_line and 0 <= row <= 4 and not last.held:
                self.canvas.put(line, max(at, end), " ")

    def silence(self, line: int, staff: int) -> None:
        """Rests of the whole staff, and grace notes that no head follows, on the middle line."""
        for col in self.cols:
            at = _LEAD + col.at
            if staff in col.moment.rests:
                self.canvas.put(line, at - 1, " – ")
            elif staff in col.moment.graces and not any(h.struck for h in self.heads(staff, col)):
                free = self.canvas.get(line, at) in "─═ "
                self.canvas.put(line, at if free else at - 1, "~")


def _bottom(clefs: Clefs, head: Head) -> int:
    return clefs.at(head.staff, head.onset).bottom


def _ledger(row: int) -> bool:
    """Whether a row is a ledger line's: outside the staff, and not one of the rows beyond."""
    return _BOTTOM <= row < 0 or 4 < row <= _TOP


def _end(window: Window, last: Fraction) -> Fraction:
    """Where a block whose last moment this is ends: at the next moment, or the window's end."""
    return next((m.onset for m in window.moments if m.onset > last), window.end)
