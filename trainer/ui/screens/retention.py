"""Retention: phrase by phrase what holds, the weakest first or in another order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.draw.words import BANDS
from trainer.ui.keys import bindings
from trainer.ui.screens.choose import Choice, ChooseScreen
from trainer.ui.screens.table import ReportScreen

if TYPE_CHECKING:
    from trainer.document.model import Document
    from trainer.memory.model import Band
    from trainer.reports.view import View

ALL = 3  # as in the app


class RetentionScreen(ReportScreen):
    ROOM = "retention"
    BINDINGS = bindings("retention")
    STAGE = ALL

    def __init__(self) -> None:
        super().__init__()
        self._deck: str | None = None
        self._sort = "weakest"
        self._only: Band | None = None

    def chosen(self) -> tuple[object, ...]:
        return ("", self._deck, self._sort, self._only)

    def title_words(self) -> tuple[str, str]:
        name = self.trainer.view.student.name
        return super().title_words() if self._found else (f"Retention for {name}", "")

    def document(self, view: View) -> Document:
        from trainer.reports.retention import report

        only = (self._only,) if self._only else ()
        return report(view, self._deck, sort=self._sort, only=only)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        app = self.trainer
        does = {
            "sort": self._found is not None,
            "only": self._found is not None,
            "heard": app.desk.settings.get(app.view.student, "instrument") != "off",
            "log": app.view.level == "advanced" and bool(self.marked),
        }.get(action, True)
        return does and super().check_action(action, parameters)

    def action_sort(self) -> None:
        from trainer.reports.retention import SORTS

        names = list(SORTS)
        self._sort = names[(names.index(self._sort) + 1) % len(names)]
        self.draw()

    def action_only(self) -> None:
        """The next band, after the last one all of them again."""
        choices = (None, *BANDS)
        self._only = choices[(choices.index(self._only) + 1) % len(choices)]
        self.draw()

    def action_log(self) -> None:
        from trainer.ui.screens.log import LogScreen

        for piece, start in self.trainer.view.starts():
            if start.id == self.marked:
                self.app.push_screen(LogScreen(piece.deck.id, start.id))

    def action_heard(self) -> None:
        from trainer.ui.screens.table import ReportReader

        self.app.push_screen(ReportReader("heard"))

    def action_piece(self) -> None:
        decks = list(self.trainer.view.decks.values())
        choices = [Choice("", 0, "all pieces")]
        choices += [Choice(deck.id, n, deck.title) for n, deck in enumerate(decks, 1)]

        def chosen(deck_id: str | None) -> None:
            if deck_id is not None:
                self._deck = deck_id or None
                self.draw()

        self.app.push_screen(ChooseScreen("Which piece?", choices, self._deck or ""), chosen)
