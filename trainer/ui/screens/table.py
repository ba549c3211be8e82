"""A report to be read: its rows and its notes, made once for a view and a width."""

from __future__ import annotations

from abc import abstractmethod
from typing import TYPE_CHECKING

from trainer.ui.keys import bindings
from trainer.ui.screens.page import ReaderScreen
from trainer.ui.widgets.sheet import Line, ink

if TYPE_CHECKING:
    from trainer.document.model import Document
    from trainer.reports.view import View


class ReportScreen(ReaderScreen):
    """Shows a report; a subclass says which, and `anew` when it is another one."""

    def __init__(self) -> None:
        super().__init__()
        self._made: tuple[View, int] | None = None  # what the lines were made of
        self._lines: list[Line] = []

    @abstractmethod
    def document(self, view: View) -> Document: ...

    def anew(self) -> None:
        self._made = None
        self.reader.to_top()
        self.draw()

    def lines(self, width: int) -> list[Line]:
        view = self.trainer.view
        if self._made is None or self._made[0] is not view or self._made[1] != width:
            self._lines = list(self._read(view, width))
            self._made = view, width
        return self._lines

    def _read(self, view: View, width: int) -> list[Line]:
        from trainer.document.lines import laid
        from trainer.draw.text import wrapped

        document = self.document(view)
        notes = [line for note in document.notes for line in wrapped(note, width)]
        if document.table is None or not document.rows:
            return [ink(line, "bold") for line in notes]
        heads, rows = laid(document.table, width=width, ascii=self.trainer.ascii)
        lines: list[Line] = [ink(line, "$faint") for line in heads]
        for found in rows:
            lines += [ink(found.over, "bold")] if found.over else []
            lines += found.lines
        return [*lines, "", *(ink(line, "$accent") for line in notes)] if notes else lines


class BesideScreen(ReportScreen):
    """What an instrument heard beside what the player said."""

    ROOM = "beside"
    BINDINGS = bindings("beside")

    def title_words(self) -> tuple[str, str]:
        return "Heard and said", self.trainer.view.student.name

    def document(self, view: View) -> Document:
        from trainer.reports.heard import report

        return report(view)
