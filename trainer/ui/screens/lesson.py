"""Before the lesson, on one page; and from there to what is done at it: hearing three starts,
correcting the starts, writing a note, handing the deck out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.errors import TrainerError
from trainer.ui.keys import bindings
from trainer.ui.screens.ask import AskScreen
from trainer.ui.screens.choose import Choice, ChooseScreen, ask_piece
from trainer.ui.screens.table import ReportScreen
from trainer.ui.widgets.rows import ListRow

if TYPE_CHECKING:
    from trainer.document.model import Document
    from trainer.reports.view import View

PLANNED = 2  # as in the app
ROOMY = 30  # lines


class LessonScreen(ReportScreen):
    """The page of the student of the day."""

    ROOM = "lesson"
    BINDINGS = bindings("lesson")
    STAGE = PLANNED

    def __init__(self) -> None:
        super().__init__()
        self._weakest: list[str] = []  # starts, by their ids

    def title_words(self) -> tuple[str, str]:
        name = self.trainer.view.student.name
        return super().title_words() if self._found else (f"Before the lesson: {name}", "")

    def document(self, view: View) -> Document:
        from trainer.reports.lesson import lesson
        from trainer.reports.lesson_page import document

        found = lesson(view)
        self._weakest = [one.start for one in found.weakest]
        return document(found)

    def _read(self, found: Document, width: int) -> None:
        """Without empty lines, where that makes it one page."""
        super()._read(found, width)
        if self.room[1] < ROOMY:
            self._rows = [ListRow(at, [ln for ln in lines if ln]) for at, lines in self._rows]

    # What is done

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        app = self.trainer
        does = {
            "hear": app.stage >= PLANNED and bool(app.view.open),
            "prepare": bool(app.view.decks),
            "hand_out": bool(app.view.decks),
        }.get(action, True)
        return does and super().check_action(action, parameters)

    def action_hear(self) -> None:
        """A drill of the three starts most in need, the teacher being the judge."""
        from trainer.reports.lesson import three_to_hear
        from trainer.ui.screens.drill import DrillScreen

        app = self.trainer
        if app.desk.views.is_past(app.view):
            app.reload()
            self.say("A new day has begun: press h once more.")
            return
        chosen = three_to_hear(app.view)
        if not chosen:
            self.say("Every open start has been heard today.")
            return
        with self.minding():
            session = app.desk.exercises.drill(app.view, judge="teacher", only=chosen)
            app.push_screen(DrillScreen(session))

    def action_room(self, name: str) -> None:
        """Look at the retention, the map or the recital, a child's chances included."""
        from trainer.ui.screens.today import go_to

        go_to(self, name)

    def action_note(self) -> None:
        """Write today's note; the one there is can be gone on with."""
        app = self.trainer
        with self.minding():
            before = app.desk.notes.of(app.view.student)
            text = before.text if before else ""

            def written(answer: str | None) -> None:
                if answer is None or answer == text:
                    return
                with self.minding():
                    app.desk.notes.write(app.view.student, answer)
                    app.reload()

            question = (
                "What should be remembered of today's lesson? The note stays on this computer and "
                "is never part of a record that is handed on. An empty text deletes it."
            )
            app.push_screen(AskScreen("A note", question, len, text=text, optional=True), written)

    def action_prepare(self) -> None:
        """Split, move, advise: the starts of a piece, first the weakest one told of here."""
        from trainer.ui.screens.prepare import PrepareScreen

        def chosen(deck_id: str) -> None:
            with self.minding():
                piece = self.trainer.desk.store.pieces.get(deck_id)  # without a student's own
                known = {start.id for start in piece.deck.starts}
                first = next((start_id for start_id in self._weakest if start_id in known), "")
                self.app.push_screen(PrepareScreen(piece, first))

        self._ask_piece("Prepare which piece?", chosen)

    def action_hand_out(self) -> None:
        """Write a piece's deck into a file."""
        self._ask_piece("Hand out which deck?", self._ask_notes)

    def _ask_notes(self, deck_id: str) -> None:
        """With the notes of the score or without? Where they are not here there is no choice."""
        from trainer.deck.file import has_notes

        with self.minding():
            piece = self.trainer.desk.store.pieces.get(deck_id)
            if not has_notes(piece):
                self._ask_path(deck_id, notes=False)
                return
            choices = (
                Choice("with", None, "With the notes, so that the music can be shown"),
                Choice("without", None, "Without the notes, where copyright requires it"),
            )

            def chosen(answer: str | None) -> None:
                if answer is not None:
                    self._ask_path(deck_id, notes=answer == "with")

            question = f"Hand out {piece.deck.title}"
            self.app.push_screen(ChooseScreen(question, choices), chosen)

    def _ask_path(self, deck_id: str, *, notes: bool) -> None:
        from trainer.ui.widgets.paths import typed

        app = self.trainer
        title = app.view.decks[deck_id].title
        without = "" if notes else " without its notes"

        def named(text: str | None) -> None:
            if not text:
                return
            from trainer.files import write_file

            with self.minding():
                path = typed(text)
                write_file(path, app.desk.pieces.hand_out(deck_id, notes=notes), replace=False)
                self.say(f"{title}: written to {path.name}{without}.")

        question = f"Which file is the deck of {title}{without} to go into?"
        app.push_screen(AskScreen("Hand the deck out", question, _free), named)

    def _ask_piece(self, question: str, then: Callable[[str], None]) -> None:
        """Of which piece? With one there is nothing to ask; those in hand come first."""
        view = self.trainer.view
        decks = sorted(
            view.decks.values(), key=lambda deck: not any(s.id in view.open for s in deck.starts)
        )
        ask_piece(self, question, decks, then)


def _free(text: str) -> None:
    """Raises TrainerError for a name that is taken, and for a folder that is not there."""
    from trainer.ui.widgets.paths import typed

    path: Path = typed(text)
    try:
        taken, folder = path.exists(), path.parent.is_dir()
    except (OSError, ValueError):
        raise TrainerError("That is not a name for a file; give another.") from None
    if taken:
        raise TrainerError(f"{path.name} exists already; choose another name.")
    if not folder:
        raise TrainerError(f"There is no folder {path.parent}; make it first, or choose another.")
