"""Forecasts: how far they have been right, from the student's own log."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.message import Message

from trainer.ui.keys import bindings
from trainer.ui.screens.page import ReaderScreen
from trainer.ui.widgets.sheet import Line, ink

if TYPE_CHECKING:
    from trainer.document.model import Document
    from trainer.reports.view import View

ABOUT = "Each forecast was made before the attempt. This compares them with what happened."


class Compared(Message):
    """The forecasts have been compared with what came."""

    def __init__(self, view: View, table: Document) -> None:
        super().__init__()
        self.view = view
        self.table = table


class ForecastsScreen(ReaderScreen):
    ROOM = "forecasts"
    BINDINGS = bindings("forecasts")

    def __init__(self) -> None:
        super().__init__()
        self._asked: View | None = None
        self._table: Document | None = None

    def title_words(self) -> tuple[str, str]:
        return "Forecasts", self.trainer.view.student.name

    def draw(self) -> None:
        view = self.trainer.view
        if self._asked is not view:
            self._asked, self._table = view, None
            self.run_worker(
                lambda: self._compare(view), thread=True, exclusive=True, group="forecasts"
            )
        super().draw()

    def _compare(self, view: View) -> None:
        """In another thread: it touches no widget."""
        from trainer.reports.forecasts import report

        self.post_message(Compared(view, report(view)))

    def on_compared(self, message: Compared) -> None:
        if message.view is self._asked:
            self._table = message.table
            self.redraw()

    def lines(self, width: int) -> list[Line]:
        from trainer.document.lines import as_lines
        from trainer.ui.widgets.sheet import wrapped

        about = wrapped(ABOUT, width)
        if self._table is None:
            return [*about, "", ink("Comparing …", "$faint")]
        text = as_lines(self._table, width=width, ascii=self.trainer.ascii)
        return [ink(text[0], "bold"), *about, *text[1:]]
