"""A page as a table: note names by beat and hand, one row a voice and chord note."""

from __future__ import annotations

from collections.abc import Sequence

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
from trainer.draw.text import cells, cut, fit
from trainer.draw.window import Head, Moment, Window
from trainer.errors import TrainerError

_SPACINGS = (4, 3)  # least cells a moment, tried in this order
_LABEL = 8  # cells a staff's label may take


def grid(
    window: Window,
    style: Style,
    moments: Sequence[Moment] | None = None,
    *,
    bars: int = 2,
    remarks: Remarks | None = None,
) -> Drawing:
    """The table in blocks of at most `bars` bars, with an empty line between blocks.

    `moments` are those of the window to be drawn, all by default. With `remarks` there are no
    fingers and no signs. Raises TrainerError where the width is too small for a single moment.
    """
    labels = staff_labels(window, style)
    margin = max(map(cells, labels.values())) + 1

    def lay(run: Sequence[Moment]) -> tuple[Column, ...] | None:
        options = (_columns(window, run, style, least, remarks) for least in _SPACINGS)
        return next((cols for cols in options if margin + cols[-1].end <= style.width), None)

    drawing = Drawing((), ())
    for _, cols in blocks(moments or window.moments, bars, lay):
        if cols is None:
            raise TrainerError(f"{style.width} columns are too few for this music: widen it.")
        drawing = drawing.then(_block(window, cols, style, labels, margin, remarks))
    return drawing


def staff_labels(window: Window, style: Style) -> dict[int, str]:
    """RH, LH, or the part's name in at most 8 cells, by the staff's number; nothing where the
    score has one staff only."""
    if len(window.score.staves) == 1:
        return {window.staves[0]: ""}
    hands = {"right hand": "RH", "left hand": "LH"}
    return {
        staff.number: hands.get(staff.role)
        or cut(style.label(staff.part), _LABEL, ascii=style.ascii)
        or str(staff.number + 1)
        for staff in window.score.staves
        if staff.number in window.staves
    }


def signs_beside(moment: Moment, staff: int, style: Style) -> list[Remark]:
    """The signs of a staff at a moment: those of notes together, then each other one."""
    here = [one for one in moment.told if style.signs and one.staff == staff and one.text]
    short = "".join(one.text for one in here if len(one.text) == 1)
    texts = [short, *(one.text for one in here if len(one.text) > 1)]
    return [Remark(style.label(text), lead=0) for text in texts if text]


def _columns(
    window: Window, moments: Sequence[Moment], style: Style, least: int, remarks: Remarks | None
) -> tuple[Column, ...]:
    said = remarks or Remarks()

    def needs(moment: Moment) -> int:
        heads = moment.opening if moment is moments[0] else moment.heads
        texts = [len(_text(head, moment, style, remarks)) + head.held for head in heads]
        beside = (_outside(moment, staff, style, remarks) for staff in window.staves)
        texts += [len(remark.text) for stack in beside for remark in stack]
        return max([least, len(said.ruler(moment)) + 1, *(size + 1 for size in texts)])

    return columns(moments, needs)


def _outside(moment: Moment, staff: int, style: Style, remarks: Remarks | None) -> Sequence[Remark]:
    """What stands under a staff: what is said of it, else its signs."""
    if remarks is not None:
        return remarks.outside(staff, moment)
    return signs_beside(moment, staff, style)


def _text(head: Head, moment: Moment, style: Style, remarks: Remarks | None) -> str:
    """A head in its cell: "G♯5", with its finger "G♯5:3", carried on by a tie "(G♯5)"; with what
    is said of it before it."""
    name = written(head.step, head.alter, head.octave, names=style.names, natural=head.natural)
    if not head.struck:
        return f"({name})"
    grace = "~" if head.staff in moment.graces else ""
    if remarks is not None:
        said = remarks.before(head)
        return (said.text if said else "") + grace + name
    finger = f":{style.label(head.fingers[0])[:3]}" if head.fingers else ""
    return grace + name + finger


def _block(
    window: Window,
    cols: Sequence[Column],
    style: Style,
    labels: dict[int, str],
    margin: int,
    remarks: Remarks | None,
) -> Drawing:
    sheet = _Sheet(window, cols, style, remarks)
    for text in header(cols, style, window.entry, "bar "):
        sheet.row(text)
    ruler_at = {1: 1, 2: 1}.get(len(window.staves), 0)
    for i, staff in enumerate(window.staves):
        if i == ruler_at:
            sheet.ruler()
        sheet.staff(staff, labels[staff])
    if ruler_at == len(window.staves):
        sheet.ruler()
    return sheet.drawing(margin)


class _Sheet:
    """One block while it is being drawn."""

    def __init__(
        self, window: Window, cols: Sequence[Column], style: Style, remarks: Remarks | None
    ) -> None:
        self.window, self.cols, self.style = window, cols, style
        self.given, self.remarks = remarks, remarks or Remarks()
        self.canvas = Canvas(cols[-1].end)
        self.labels: list[str] = []
        self.placed: list[Placed] = []
        self.spots: list[Spot] = []

    def row(self, text: str = "", label: str = "") -> int:
        line = self.canvas.row()
        self.canvas.put(line, 0, text)
        self.labels.append(label)
        return line

    def music_row(self, label: str = "") -> int:
        line = self.row("", label)
        for col in self.cols:
            if col.bar_line:
                self.canvas.put(line, col.edge, "│")
        return line

    def ruler(self) -> None:
        line = self.music_row()
        for col in self.cols:
            at = col.at
            self.canvas.put(line, at, col.moment.ruler)
            at += len(col.moment.ruler)
            for remark in self.remarks.after(col.moment):
                self.remark(line, at, remark)
                at += len(remark.text)

    def remark(self, line: int, at: int, remark: Remark) -> None:
        self.canvas.put(line, at, remark.text)
        if remark.kind:
            self.spots.append(Spot(line, at, len(remark.text), remark.kind))

    def beside(self, number: int) -> None:
        """What is said of a staff, under it."""
        stacks = [
            (col.at, _outside(col.moment, number, self.style, self.given)) for col in self.cols
        ]
        lines = [self.music_row() for _ in range(max(len(stack) for _, stack in stacks))]
        for at, stack in stacks:
            for line, remark in zip(lines, reversed(stack), strict=False):
                self.remark(line, at, remark)

    def staff(self, number: int, label: str) -> None:
        heads = [
            *self.cols[0].moment.opening,
            *(head for col in self.cols[1:] for head in col.moment.heads),
        ]
        rows = _rows([head for head in heads if head.staff == number]) or [[]]
        top = self.canvas.height
        for i, row in enumerate(rows):
            line = self.music_row("" if i else label)
            for head in row:
                self.head(line, head)
        self.silence(top, number)
        self.beside(number)

    def head(self, line: int, head: Head) -> None:
        col = next(col for col in self.cols if col.moment.onset == head.onset)
        text = _text(head, col.moment, self.style, self.given)
        self.canvas.put(line, col.at, text)
        if head.held:
            first, last = col.at + len(text), until(self.cols, head.end) - 1
            fill = "═" if self.style.ascii else "─"
            self.canvas.put(line, first, fill * (last - first))
        before = head.onset < self.window.entry
        self.placed.append(Placed(head, line, col.at, len(text), before))
        if said := self.remarks.before(head):
            self.spots.append(Spot(line, col.at, len(text), said.kind))

    def silence(self, line: int, number: int) -> None:
        """Rests of the whole staff, and grace notes that no head follows."""
        for col in self.cols:
            if number in col.moment.rests:
                self.canvas.put(line, col.at, "–")
            elif number in col.moment.graces and self.canvas.get(line, col.at) == " ":
                self.canvas.put(line, col.at, "~")

    def drawing(self, margin: int) -> Drawing:
        lines = (
            (fit(label, margin) + self.style.ink(text)).rstrip() or " "
            for label, text in zip(self.labels, self.canvas.lines(), strict=True)
        )
        return Drawing(tuple(lines), tuple(self.placed), tuple(self.spots)).indented(margin)


def _rows(heads: Sequence[Head]) -> list[list[Head]]:
    """The heads of a staff in rows where none overlaps: higher voices and heads above."""
    voices: dict[str, list[Head]] = {}
    for head in heads:
        voices.setdefault(head.voice, []).append(head)
    ordered = sorted(voices.values(), key=lambda v: -sum(head.place for head in v) / len(v))
    return [row for voice in ordered for row in _voice_rows(voice)]


def _voice_rows(voice: Sequence[Head]) -> list[list[Head]]:
    rows: list[list[Head]] = []
    for head in sorted(voice, key=lambda h: (h.onset, -h.place, -h.alter)):
        row = next((row for row in rows if row[-1].end <= head.onset), None)
        if row is None:
            rows.append(row := [])
        row.append(head)
    return rows
