"""Recital: what it would find, what it waits for, where to go on after a slip, its last days.

Each page is a report of the registry. A child sees no stages and nothing foretold.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from trainer.record.people import ProgrammeItem
from trainer.reports.registry import REPORTS
from trainer.ui.keys import bindings
from trainer.ui.screens.table import ReportScreen

if TYPE_CHECKING:
    from datetime import date

    from trainer.document.model import Document
    from trainer.reports.view import View

PLANNED = 2  # as in the app
PAGES = {
    "programme": "readiness",
    "stages": "stages",
    "recovery": "recovery",
    "last days": "last-days",
}


class RecitalScreen(ReportScreen):
    ROOM = "recital"
    BINDINGS = bindings("recital")
    STAGE = PLANNED

    @property
    def pages(self) -> tuple[str, ...]:
        view = self.trainer.view
        if view.recital is None:
            return ()
        return ("programme", "recovery") if view.level == "child" else tuple(PAGES)

    def title_words(self) -> tuple[str, str]:
        from trainer.reports.readiness import day_words

        view = self.trainer.view
        if view.recital is None:
            return f"Recital for {view.student.name}", ""
        return view.recital.name, day_words(view, view.recital)

    def document(self, view: View) -> Document:
        from trainer.document.model import Document, Sentence

        if view.recital is None:
            told = (
                "No recital is set.",
                "Once the date is set, the plan works towards it. n sets one: its name, its date, "
                "its pieces.",
            )
            return Document("recital", "", tuple(map(Sentence, told)))
        return REPORTS[PAGES[self.pages[self._page]]](view)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        view = self.trainer.view
        does = action != "set" or (view.level != "child" and bool(view.decks))
        return does and super().check_action(action, parameters)

    def action_set(self) -> None:
        """Set a recital, or change one: its name, its day, its pieces."""
        self._ask("Name of the recital? Give an existing name to change it.", self._named)

    def _named(self, name: str) -> None:
        from trainer.dates import day_of

        today = self.trainer.view.day

        def dated(text: str) -> None:
            self._ask_pieces(name, day_of(text, today))

        self._ask(
            "On which day? Such as 4 Jan, in 3 weeks or 2026-06-21.",
            dated,
            lambda text: day_of(text, today),
        )

    def _ask_pieces(self, name: str, day: date) -> None:
        from trainer.dates import in_full

        decks = list(self.trainer.view.decks.values())
        listed = ", ".join(f"{n} {deck.title}" for n, deck in enumerate(decks, 1))

        def chosen(text: str) -> None:
            items = [ProgrammeItem(decks[n - 1].id) for n in _numbers(text, len(decks))]
            with self.minding():
                app = self.trainer
                app.desk.recitals.set(app.view.student, name, day, items)
                app.reload()
            self.draw()

        question = (
            f"{name} is on {in_full(day)}. Which pieces, from memory? Their numbers, such as 1, 3."
            f" There are {listed}."
        )
        self._ask(question, chosen, lambda text: _numbers(text, len(decks)))

    def _ask(
        self,
        question: str,
        then: Callable[[str], None],
        check: Callable[[str], object] = str,
    ) -> None:
        """Ask for a short answer; without one nothing more is asked."""
        from trainer.ui.screens.ask import AskScreen

        def answered(text: str | None) -> None:
            if text:
                then(text)

        self.app.push_screen(AskScreen("A recital", question, check), answered)


def _numbers(text: str, count: int) -> list[int]:
    """Numbers of pieces as typed: "1, 3". Raises TrainerError."""
    from trainer.errors import TrainerError

    words = text.replace(",", " ").split()
    if not all(word.isdecimal() and 1 <= int(word) <= count for word in words):
        raise TrainerError(f"{text!r} are not numbers of pieces; write them as 1, 3.")
    return [int(word) for word in words]
