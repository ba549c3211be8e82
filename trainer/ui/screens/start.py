"""A start opened: everything about it, to be read; beside its map where the screen is wide."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Horizontal

from trainer.deck.model import Piece, Start
from trainer.ui.keys import bindings
from trainer.ui.screens.map import map_within
from trainer.ui.screens.page import PageScreen
from trainer.ui.screens.table import ReportScreen
from trainer.ui.widgets.rows import Rows
from trainer.ui.widgets.sheet import Sheet

if TYPE_CHECKING:
    from trainer.document.model import Document
    from trainer.memory.model import Retention
    from trainer.memory.readiness import Catch
    from trainer.reports.view import View

ALL = 3  # as in the app
BESIDE_FROM = 110  # columns of the screen
MAP = 50  # columns of the map beside it: eight bars a row
GAP = 3


class StartScreen(ReportScreen):
    """Gives the id of the start that was looked at last."""

    ROOM = "start"
    BINDINGS = bindings("start")
    STAGE = ALL
    DEFAULT_CSS = f"""
    StartScreen > #both {{ height: 1fr; }}
    StartScreen #map {{ width: {MAP + GAP + 2}; height: 1fr; padding: 1 0 0 2; display: none; }}
    StartScreen.-beside #map {{ display: block; }}
    StartScreen Rows {{ width: 1fr; }}
    """

    def __init__(self, piece: Piece, start: str) -> None:
        super().__init__()
        self._piece = piece
        self._start = start
        self._view: View | None = None  # that the rest is of
        self._known: dict[str, Retention] = {}
        self._catches: tuple[Catch, ...] = ()

    def body(self) -> ComposeResult:
        with Horizontal(id="both"):
            yield Sheet("map", fixed=True)
            yield Rows("document")
        yield from (one for one in super().body() if not isinstance(one, Rows))

    @property
    def start(self) -> Start:
        return self._piece.deck.start(self._start)

    @property
    def beside(self) -> bool:
        return self.app.size.width >= BESIDE_FROM

    @property
    def width(self) -> int:
        return self.room[0] - (MAP + GAP if self.beside else 0)

    def chosen(self) -> tuple[object, ...]:
        return (self._start,)

    def title_words(self) -> tuple[str, str]:
        from trainer.reports.view import where

        at = where(self._piece, self.start, self.trainer.view.words)
        return f"Start {self.start.number}, {at}", self._piece.deck.title

    def document(self, view: View) -> Document:
        from trainer.reports import start, start_sections
        from trainer.reports.retention import bands

        deck = self._piece.deck.id
        if view is not self._view:  # the same for every start of the piece, worked out once
            self._known, self._catches = bands(view, deck), start.ways_back(view, deck)
            self._view = view
        found = start.about(view, deck, self._start, self._catches)
        return start_sections.document(found, self._piece, names=view.names, words=view.words)

    def draw(self) -> None:
        self.set_class(self.beside, "-beside")
        super().draw()
        if self.beside and self._view is not None:
            size = MAP, self.room[1] - 2 - self.sheet("strip").line_count
            self.sheet("map").show(
                map_within(self.trainer, self._piece, self._start, self._known, size)
            )

    # What is done

    def action_turn(self, by: int) -> None:
        """The next start, or the one before."""
        ids = [start.id for start in self._piece.deck.starts]
        self._start = ids[min(max(0, ids.index(self._start) + by), len(ids) - 1)]
        self.draw()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        return action == "turn" or super().check_action(action, parameters)

    def action_words(self) -> None:
        """Own words for this start, for this student alone."""
        from trainer.ui.screens.ask import AskScreen

        app, deck_id = self.trainer, self._piece.deck.id
        start, own = self.start, app.view.own(deck_id, self._start)

        def told(text: str | None) -> None:
            if text is None:
                return
            with self.minding():
                app.desk.own.set(app.view.student, self._piece.deck, start, {"words": text})
                app.reload()
                self._piece = app.view.pieces[deck_id]
            self.draw()

        question = (
            "They are for you alone and come after the teacher's advice. Leave it empty for none."
        )
        title = f"Your words for start {start.number}"
        self.app.push_screen(AskScreen(title, question, str, text=own.words, optional=True), told)

    def action_worked_on(self) -> None:
        """This start was worked on apart from its calls."""
        app = self.trainer
        with self.minding():
            app.desk.own.work_on(app.view.student, self._piece.deck, self.start)
            app.reload()
            self.say(f"Start {self.start.number} was worked on today. It is called again as usual.")
        self.draw()

    def action_page(self) -> None:
        self.app.push_screen(PageScreen(self._piece, self.start))

    def action_back(self) -> None:
        self.dismiss(self._start)
