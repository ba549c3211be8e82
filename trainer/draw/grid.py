"""A page as a table: note names by beat and hand, one row a voice and chord note."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from trainer.draw.layout import Canvas, Column, Drawing, Placed, Style, blocks, columns, until
from trainer.draw.names import written
from trainer.draw.text import clean, cut, fit
from trainer.draw.window import Head, Moment, Window
from trainer.score.model import Staff

_LEAST = 4  # cells a moment
_LABEL = 8  # cells a staff's label may take


def grid(window: Window, style: Style, bars: int = 2) -> Drawing:
    """The table, in blocks of at most `bars` bars, with an empty line between blocks."""
    labels = {staff.number: label(staff) for staff in window.score.staves}
    margin = max(len(labels[staff]) for staff in window.staves) + 1

    def fits(moments: Sequence[Moment]) -> bool:
        last = _columns(window, moments, style)[-1]
        return margin + last.at + last.width <= style.width

    drawing = Drawing((), ())
    for moments in blocks(window.moments, bars, fits):
        drawing = drawing.then(_block(window, moments, style, labels, margin))
    return drawing


def label(staff: Staff) -> str:
    """RH, LH, or the part's name, at most 8 cells."""
    hand = {"right hand": "RH", "left hand": "LH"}.get(staff.role)
    return hand or cut(clean(staff.part), _LABEL) or str(staff.number + 1)


def _block(
    window: Window,
    moments: Sequence[Moment],
    style: Style,
    labels: dict[int, str],
    margin: int,
) -> Drawing:
    cols = _columns(window, moments, style)
    canvas = Canvas(cols[-1].at + cols[-1].width)
    heads = [*window.carried(moments[0].onset), *(h for m in moments for h in m.heads)]
    names: list[str] = []
    placed: list[Placed] = []
    for head_row in _header(window, cols, style):
        names.append("")
        canvas.put(canvas.row(), 0, head_row)
    for i, staff in enumerate(window.staves):
        if i == (len(window.staves) == 2):
            names.append("")
            _put_ruler(canvas, cols, style)
        rows = _rows([head for head in heads if head.staff == staff])
        for number, row in enumerate(rows or [[]]):
            names.append("" if number else labels[staff])
            line = canvas.row()
            _put_bar_lines(canvas, line, cols, style)
            for head in row:
                placed.append(_put_head(canvas, line, head, cols, window, style, margin))
            if not number:
                _put_silence(canvas, line, staff, cols, style)
    if len(window.staves) == 1:
        names.append("")
        _put_ruler(canvas, cols, style)
    lines = [
        (fit(name, margin) + line).rstrip()
        for name, line in zip(names, canvas.lines(), strict=True)
    ]
    return Drawing(tuple(lines), tuple(placed))


def _columns(window: Window, moments: Sequence[Moment], style: Style) -> list[Column]:
    over = window.carried(moments[0].onset)

    def needs(moment: Moment) -> int:
        heads = (*moment.heads, *(over if moment is moments[0] else ()))
        texts = [len(_text(head, moment, style)) + head.held for head in heads]
        return max([_LEAST, len(moment.ruler) + 1, *(size + 1 for size in texts)])

    return columns(moments, needs)


def _text(head: Head, moment: Moment, style: Style) -> str:
    """A head in its cell: "G♯5", with its finger "G♯5:3", carried on by a tie "(G♯5)"."""
    name = written(
        head.step,
        head.alter,
        head.octave,
        names=style.names,
        ascii=style.ascii,
        natural=head.natural,
    )
    if not head.struck:
        return f"({name})"
    grace = "~" if head.staff in moment.graces else ""
    return f"{grace}{name}:{head.fingers[0]}" if head.fingers else grace + name


def _header(window: Window, cols: Sequence[Column], style: Style) -> Iterator[str]:
    """The bars' labels over their first columns, and the entry's mark where it is in mid-bar."""
    yield bar_labels(cols, "bar ")
    for col in cols:
        if col.moment.onset == window.entry > col.moment.bar.start:
            yield " " * col.at + ("v" if style.ascii else "▼")


def bar_labels(cols: Sequence[Column], word: str = "") -> str:
    """The printed bar labels over the columns, shortened where a bar is too narrow."""
    text = ""
    firsts = [col for i, col in enumerate(cols) if not i or col.bar_line]
    edges = [*(col.at for col in firsts[1:]), cols[-1].at + cols[-1].width]
    for col, edge in zip(firsts, edges, strict=True):
        token = clean(col.moment.bar.label)
        room = edge - col.at - (edge < edges[-1])
        name = word + token if len(word + token) <= room else token
        text = text.ljust(col.at) + cut(name, max(0, room))
    return text


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


def _put_head(
    canvas: Canvas,
    line: int,
    head: Head,
    cols: Sequence[Column],
    window: Window,
    style: Style,
    margin: int,
) -> Placed:
    col = next(col for col in cols if col.moment.onset == head.onset)
    text = _text(head, col.moment, style)
    canvas.put(line, col.at, text)
    if head.held:
        first, last = col.at + len(text), until(cols, head.end) - 1
        canvas.put(line, first, ("=" if style.ascii else "─") * (last - first))
    return Placed(head, line, margin + col.at, len(text), head.onset < window.entry)


def _put_silence(
    canvas: Canvas, line: int, staff: int, cols: Sequence[Column], style: Style
) -> None:
    """Rests of the whole staff, and grace notes that no head follows."""
    for col in cols:
        if staff in col.moment.rests:
            canvas.put(line, col.at, "-" if style.ascii else "–")
        elif staff in col.moment.graces and canvas.get(line, col.at) == " ":
            canvas.put(line, col.at, "~")


def _put_ruler(canvas: Canvas, cols: Sequence[Column], style: Style) -> None:
    line = canvas.row()
    _put_bar_lines(canvas, line, cols, style)
    for col in cols:
        text = col.moment.ruler
        canvas.put(line, col.at, "." if style.ascii and text == "·" else text)


def _put_bar_lines(canvas: Canvas, line: int, cols: Sequence[Column], style: Style) -> None:
    for col in cols:
        if col.bar_line:
            canvas.put(line, col.at - 2, "|" if style.ascii else "│")
