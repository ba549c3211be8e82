"""The lettered staff: one row a staff line, note letters on it, a beat ruler between the hands.

A note in a space shares the row of the line below it; the letter removes the doubt. The line
runs into the letter of a line note and breaks around that of a space note. Notes more than
three ledger lines away share one row beyond them and carry their octave.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from trainer.draw.clefs import Clef, Clefs
from trainer.draw.grid import grid, signs_beside, staff_labels
from trainer.draw.layout import (
    Canvas,
    Column,
    Drawing,
    Placed,
    Remark,
    Remarks,
    Spot,
    Style,
    blocks,
    columns,
    header,
    until,
)
from trainer.draw.names import written
from trainer.draw.text import cells, fit
from trainer.draw.window import Head, Moment, Window
from trainer.values import Frozen

_SPACINGS = (5, 4, 3)  # least cells a moment, tried in this order; the first is proportional
_ROOMY = 120  # from this width on four bars may stand side by side
_LEDGERS = 3  # ledger rows drawn on each side; what lies beyond shares one row more
_TOP, _BOTTOM = 4 + _LEDGERS, -_LEDGERS
_EDGE = 5  # cells of the left edge: the system's line, the clef, a little of the staff line
_CLEF = 4  # cells of a clef that changes


def staff_page(window: Window, style: Style, remarks: Remarks | None = None) -> Drawing:
    """One or two staves in blocks of bars: two if they fit (four where there is ample room),
    else one, else up to a beat; a beat that does not fit is drawn as a table.

    With `remarks` these stand where the fingers and signs would."""
    music = _Music(window, style, remarks)
    short = {"RH": "R", "LH": "L"}
    labels = {n: short.get(label, label) for n, label in staff_labels(window, style).items()}
    room = style.width - max(map(cells, labels.values())) - _EDGE - 1

    def lay(moments: Sequence[Moment]) -> tuple[Column, ...] | None:
        options = (music.columns(moments, least) for least in _SPACINGS)
        return next((cols for cols in options if cols[-1].end <= room), None)

    drawing = Drawing((), ())
    bars = 4 if style.width >= _ROOMY else 2
    for moments, cols in blocks(window.moments, bars, lay, in_beats=True):
        if cols is None:
            drawing = drawing.then(grid(window, style, moments, remarks=remarks))
        else:
            drawing = drawing.then(_Sheet(music, cols).drawing(labels))
    return drawing


class _Cell(Frozen, frozen=True):
    """The heads of one row at one moment, lowest first, with their texts. `on_line` is true
    of the first head where it stands on the row's line, `last_on_line` of the last one."""

    row: int
    heads: tuple[Head, ...]
    texts: tuple[str, ...]
    on_line: bool
    last_on_line: bool

    @property
    def width(self) -> int:
        """The texts side by side, each with a gap; a held one at the end has its sign too."""
        return sum(len(text) + 1 for text in self.texts) + self.heads[-1].held


class _Music:
    """What is to be drawn, worked out once for each moment.

    `opening` says of a moment that a block opens there, so that what sounds on from before
    is drawn there too.
    """

    def __init__(self, window: Window, style: Style, remarks: Remarks | None) -> None:
        self.window, self.style = window, style
        self.remarks, self.plain = remarks or Remarks(), remarks is None
        self.clefs = Clefs(window)
        self._cells: dict[tuple[int, int, bool], list[_Cell]] = {}
        self._widths: dict[tuple[int, bool], int] = {}

    def heads(self, staff: int, moment: Moment, opening: bool) -> list[Head]:
        heads = moment.opening if opening else moment.heads
        return [head for head in heads if head.staff == staff]

    def cells(self, staff: int, moment: Moment, opening: bool) -> list[_Cell]:
        key = (staff, moment.index, opening)
        if key not in self._cells:
            heads = self.heads(staff, moment, opening)
            clef = self.clefs.at(staff, moment.index)
            self._cells[key] = _cells(heads, staff in moment.graces, clef, self.style)
        return self._cells[key]

    def columns(self, moments: Sequence[Moment], least: int) -> tuple[Column, ...]:
        def needs(moment: Moment) -> int:
            wanted = least + _stretch(moment, least)
            return max(wanted, self._width(moment, moment is moments[0]))

        def lead(moment: Moment) -> int:
            changes = (self.clefs.changes(staff, moment.index) for staff in self.window.staves)
            return _CLEF if any(changes) else 0

        return columns(moments, needs, lead)

    def beside(self, staff: int, moment: Moment) -> Sequence[Remark]:
        """What stands outside a staff: the remarks, else the fingers, lowest head first, and
        beyond them the signs."""
        if not self.plain:
            return self.remarks.outside(staff, moment)
        heads = (head for head in moment.heads if head.staff == staff and head.fingers)
        fingers = [Remark(self.style.label(head.fingers[0])[:3], lead=0) for head in heads]
        signs = signs_beside(moment, staff, self.style)
        return [*fingers, *signs] if staff == self.window.staves[0] else [*signs, *fingers]

    def _width(self, moment: Moment, opening: bool) -> int:
        """The cells that the texts of a moment need, with the gap after them."""
        key = (moment.index, opening)
        if key not in self._widths:
            widths = [len(self.remarks.ruler(moment)) + 1]
            for staff in self.window.staves:
                widths += [cell.width for cell in self.cells(staff, moment, opening)]
                widths += [remark.cells for remark in self.beside(staff, moment)]
            self._widths[key] = max(widths)
        return self._widths[key]


def _cells(heads: Sequence[Head], graced: bool, clef: Clef, style: Style) -> list[_Cell]:
    """The rows that one staff's heads take at a moment; a grace note is shown at the highest."""
    ordered = sorted(heads, key=lambda head: (head.place, head.alter))
    struck = [head for head in ordered if head.struck]
    highest = struck[-1] if struck and graced else None
    rows: dict[int, list[Head]] = {}
    for head in ordered:
        row = max(_BOTTOM - 1, min(_TOP + 1, (head.place - clef.bottom) // 2))
        rows.setdefault(row, []).append(head)
    return [
        _Cell(
            row,
            tuple(group),
            tuple(_text(head, row, style, head is highest) for head in group),
            (group[0].place - clef.bottom) % 2 == 0,
            (group[-1].place - clef.bottom) % 2 == 0,
        )
        for row, group in rows.items()
    ]


def _text(head: Head, row: int, style: Style, graced: bool) -> str:
    octave = None if _BOTTOM <= row <= _TOP else head.octave
    name = written(head.step, head.alter, octave, names=style.names, natural=head.natural)
    return ("~" + name if graced else name) if head.struck else f"({name})"


def _stretch(moment: Moment, least: int) -> int:
    """Cells more for a longer wait, in the widest spacing only."""
    if least < _SPACINGS[0]:
        return 0
    wait = moment.until - moment.onset
    return 3 if wait >= 1 else 1 if wait >= Fraction(1, 2) else 0


class _Sheet:
    """One block of staves while it is being drawn."""

    def __init__(self, music: _Music, cols: tuple[Column, ...]) -> None:
        self.music, self.cols = music, cols
        self.window, self.style = music.window, music.style
        self.canvas = Canvas(_EDGE + cols[-1].end + 1)
        self.labels: list[str] = []
        self.placed: list[Placed] = []
        self.spots: list[Spot] = []

    def drawing(self, labels: dict[int, str]) -> Drawing:
        for text in header(self.cols, self.style, self.window.entry):
            self.add(" " * _EDGE + text)
        for i, staff in enumerate(self.window.staves):
            if i:
                self.staff(staff, labels[staff])
                self.beside(staff, above=False)
            else:
                self.beside(staff, above=True)
                self.staff(staff, labels[staff])
                self.ruler()
        margin = max(map(cells, labels.values()))
        lines = (
            (fit(label, margin) + self.style.ink(text)).rstrip() or " "
            for label, text in zip(self.labels, self.canvas.lines(), strict=True)
        )
        return Drawing(tuple(lines), tuple(self.placed), tuple(self.spots)).indented(margin)

    def add(self, text: str = "", label: str = "", fill: str = " ") -> int:
        line = self.canvas.row(fill)
        self.canvas.put(line, 0, text)
        self.labels.append(label)
        return line

    def ruler(self) -> None:
        line = self.add()
        for col in self.cols:
            at = _EDGE + col.at
            self.canvas.put(line, at, col.moment.ruler)
            at += len(col.moment.ruler)
            for remark in self.music.remarks.after(col.moment):
                self.remark(line, at, remark)
                at += len(remark.text)

    def remark(self, line: int, at: int, remark: Remark, name: str = "") -> None:
        """Write a remark from a cell on, and the name of the head that it is of."""
        self.canvas.put(line, at, remark.text + name)
        if remark.kind:
            self.spots.append(Spot(line, at, len(remark.text + name), remark.kind))

    def beside(self, staff: int, *, above: bool) -> None:
        """What stands over or under a staff, stacked as the heads are."""
        stacks = [(col.at, self.music.beside(staff, col.moment)) for col in self.cols]
        height = max(len(stack) for _, stack in stacks)
        lines = [self.add() for _ in range(height)]
        for at, stack in stacks:
            for i, remark in enumerate(reversed(stack)):
                line = lines[height - len(stack) + i] if above else lines[i]
                self.remark(line, _EDGE + at - remark.lead, remark)

    def staff(self, staff: int, label: str) -> None:
        found = [
            (col, cell)
            for col in self.cols
            for cell in self.music.cells(staff, col.moment, col is self.cols[0])
        ]
        rows = [cell.row for _, cell in found]
        lines: dict[int, int] = {}
        for row in range(max([4, *rows]), min([0, *rows]) - 1, -1):
            inside = 0 <= row <= 4
            lines[row] = self.add("", label if row == 2 else "", "─" if inside else " ")
            self.heads(lines[row], row, [(col, cell) for col, cell in found if cell.row == row])
        self.frame(lines, staff)
        self.silence(lines[2], staff)

    def frame(self, lines: dict[int, int], staff: int) -> None:
        """The edges, the bar lines and the clefs of a staff."""
        last = self.cols[-1]
        closed = last.moment.until >= last.moment.bar.end
        for row in range(5):
            bar_line, edge = {4: ("┬", "┐"), 0: ("┴", "┘")}.get(row, ("┼", "┤"))
            self.canvas.put(lines[row], 0, "┃")
            self.canvas.put(lines[row], _EDGE + last.end, edge if closed else "─")
            for col in self.cols:
                if col.bar_line:
                    self.canvas.put(lines[row], _EDGE + col.edge, bar_line)
        for row, sign in self.music.clefs.at(staff, self.cols[0].moment.index).signs:
            self.canvas.put(lines[row], 1, sign)
        for col in self.cols[1:]:
            if self.music.clefs.changes(staff, col.moment.index):
                for row, sign in self.music.clefs.at(staff, col.moment.index).signs:
                    self.canvas.put(lines[row], _EDGE + col.at - _CLEF, f"[{sign}]"[:_CLEF])

    def heads(self, line: int, row: int, found: Sequence[tuple[Column, _Cell]]) -> None:
        """Write one row's heads, each held one with its sign up to its end or the next head."""
        if not found:
            return
        inside, ledger = 0 <= row <= 4, _BOTTOM <= row <= _TOP and not 0 <= row <= 4
        starts = [_EDGE + col.at for col, _ in found]
        for i, (col, cell) in enumerate(found):
            at = _EDGE + col.at
            stop = starts[i + 1] - 1 if i + 1 < len(found) else self.canvas.width
            if not (cell.on_line and inside):
                self.canvas.put(line, at - 1, "─" if cell.on_line and ledger else " ")
            at = self.names(line, at, cell)
            last = cell.heads[-1]
            if last.held:
                end = min(stop, _EDGE + until(self.cols, last.end) - 1)
                self.canvas.put(line, at, "═" * (end - at))
                at = max(at, end)
            if ledger and cell.last_on_line:
                self.canvas.put(line, at, "─")
            elif inside and not cell.last_on_line and not last.held:
                self.canvas.put(line, at, " ")

    def names(self, line: int, at: int, cell: _Cell) -> int:
        """Write the heads of a cell side by side; gives the cell after them."""
        for i, (head, text) in enumerate(zip(cell.heads, cell.texts, strict=True)):
            if i:
                self.canvas.put(line, at, "═" if cell.heads[i - 1].held else " ")
                at += 1
            self.canvas.put(line, at, text)
            if remark := self.music.remarks.before(head):
                self.remark(line, at - remark.lead, remark, text)
            before = head.onset < self.window.entry
            self.placed.append(Placed(head, line, at, len(text), before))
            at += len(text)
        return at

    def silence(self, line: int, staff: int) -> None:
        """Rests of the whole staff, and grace notes that no head follows, on the middle line."""
        for col in self.cols:
            at = _EDGE + col.at
            struck = any(head.struck and head.staff == staff for head in col.moment.heads)
            if staff in col.moment.rests:
                self.canvas.put(line, at - 1, " – ")
            elif staff in col.moment.graces and not struck:
                free = self.canvas.get(line, at) in "─═ "
                self.canvas.put(line, at if free else at - 1, "~")
