"""The studio: every student by what they need, and the recitals to come."""

from __future__ import annotations

from contextlib import closing

from textual.message import Message
from textual.worker import get_current_worker

from trainer.document.model import Document
from trainer.draw.words import counted
from trainer.errors import TrainerError
from trainer.reports.view import View
from trainer.ui.keys import bindings
from trainer.ui.screens.table import Basis, Made, ReportScreen


class Stopped(Exception):
    """Nobody waits for it any more."""


class Counted(Message):
    """So many students of so many have been looked at."""

    def __init__(self, done: int, of: int) -> None:
        super().__init__()
        self.done = done
        self.of = of


class StudioScreen(ReportScreen):
    """Gives the id of the student chosen, or None."""

    ROOM = "studio"
    BINDINGS = bindings("studio")
    PAGES = ("students", "recitals to come")

    def __init__(self) -> None:
        super().__init__()
        self._told = ""
        self._looks = 0

    def chosen(self) -> tuple[object, ...]:
        return (self._page, self._looks)

    def on_screen_resume(self) -> None:
        """Back from a lesson: what was done there is looked at again."""
        self._looks += 1
        super().on_screen_resume()

    def document(self, view: View) -> Document:  # noqa: ARG002
        """In another thread, with a store of its own."""
        from trainer.reports.studio import as_table, programmes_table

        worker = get_current_worker()

        def progress(done: int, of: int) -> None:
            if worker.is_cancelled:
                raise Stopped
            self.post_message(Counted(done, of))

        beside = self.trainer.desk.beside()
        with closing(beside.store):
            found = beside.views.studio(progress)
        return programmes_table(found) if self._page else as_table(found)

    def _make(self, basis: Basis) -> None:
        try:
            super()._make(basis)
        except TrainerError as error:
            self.post_message(Made(basis, None, str(error)))
        except Stopped:
            pass

    def on_unmount(self) -> None:
        self.workers.cancel_node(self)

    def on_counted(self, message: Counted) -> None:
        self._told = f"{message.done} of {message.of}"
        self.draw()

    def on_made(self, message: Made) -> None:
        self._told = ""
        super().on_made(message)

    def title_words(self) -> tuple[str, str]:
        count = len(self._found.rows) if self._found and not self._page else 0
        return "The studio", self._told or (counted(count, "student") if count else "")

    # What is done

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        does = action != "lesson" or bool(self.marked)
        return does and super().check_action(action, parameters)

    def action_open(self) -> None:
        self.dismiss(self.marked)

    def action_lesson(self) -> None:
        """The page before the lesson of the marked student."""
        from trainer.ui.screens.students import open_lesson

        open_lesson(self, self.marked)
