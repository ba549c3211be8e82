"""The log: every try, the newest first; of one start, or of all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec.structs import replace

from trainer.ui.keys import bindings
from trainer.ui.screens.table import ReportScreen

if TYPE_CHECKING:
    from trainer.document.model import Document
    from trainer.reports.view import View


class LogScreen(ReportScreen):
    """Begins with the tries of one start of a deck, by their ids; without them, with all."""

    ROOM = "log"
    BINDINGS = bindings("log")

    def __init__(self, deck: str = "", start: str = "") -> None:
        super().__init__()
        self._deck = deck
        self._start = start
        self._all = not start

    def chosen(self) -> tuple[object, ...]:
        return (self._all,)

    def title_words(self) -> tuple[str, str]:
        view = self.trainer.view
        found = None if self._all else view.find(self._deck, self._start)
        told = f"start {found[1].number}, {found[0].deck.title}" if found else "all pieces"
        return f"Attempts, {told}", view.student.name

    def document(self, view: View) -> Document:
        from trainer.document.model import Sentence
        from trainer.reports.attempts import report

        found = report(view) if self._all else report(view, self._deck, self._start)
        if found.rows:
            return replace(found, title="", blocks=found.blocks[:1])
        none = Sentence("This start has not been tried yet.")
        return found if self._all else replace(found, title="", blocks=(none,))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        does = action != "all" or bool(self._start)
        return does and super().check_action(action, parameters)

    def action_all(self) -> None:
        self._all = not self._all
        self.draw()
