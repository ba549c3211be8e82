"""A start opened: everything about it, to be read; beside its map where the screen is wide."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Horizontal
from textual.content import Content

from trainer.deck.model import Piece, Start
from trainer.draw.history import STEP
from trainer.ui.keys import bindings
from trainer.ui.screens.map import colour_bands, map_within
from trainer.ui.screens.page import PageScreen, ReaderScreen, page_lines
from trainer.ui.theme import INKS
from trainer.ui.widgets.reader import Reader
from trainer.ui.widgets.sheet import Line, Sheet, ink

if TYPE_CHECKING:
    from trainer.memory.model import Retention
    from trainer.memory.readiness import Catch
    from trainer.reports.start_sections import Section
    from trainer.reports.view import View

ALL = 3  # as in the app
BESIDE_FROM = 110  # columns of the screen
MAP = 50  # columns of the map beside it: eight bars a row
GAP = 3
BEGUN = "━="  # what the sign of a try begins with whose start held


class StartScreen(ReaderScreen):
    """Gives the id of the start that was looked at last."""

    ROOM = "start"
    BINDINGS = bindings("start")
    DEFAULT_CSS = f"""
    StartScreen > #both {{ height: 1fr; padding: 1 2 0 2; }}
    StartScreen #map {{ width: {MAP + GAP}; height: 1fr; display: none; }}
    StartScreen.-beside #map {{ display: block; }}
    StartScreen Reader {{ width: 1fr; }}
    """

    def __init__(self, piece: Piece, start: str) -> None:
        super().__init__()
        self._piece = piece
        self._start = start
        self._view: View | None = None  # that the lines are of
        self._shown: tuple[str, int] | None = None  # start and width of the lines
        self._lines: list[Line] = []
        self._known: dict[str, Retention] = {}
        self._catches: tuple[Catch, ...] = ()

    def body(self) -> ComposeResult:
        with Horizontal(id="both"):
            yield Sheet("map", fixed=True)
            yield Reader("lines")

    @property
    def start(self) -> Start:
        return self._piece.deck.start(self._start)

    def title_words(self) -> tuple[str, str]:
        from trainer.reports.view import where

        at = where(self._piece, self.start, self.trainer.view.words)
        return f"Start {self.start.number}, {at}", self._piece.deck.title

    def draw(self) -> None:
        beside = self.app.size.width >= BESIDE_FROM
        self.set_class(beside, "-beside")
        self.trainer.need(ALL)
        if self.trainer.stage >= ALL:
            self._learn(self.trainer.view)
        self.show_title(*self.title_words())
        self.show_strip()
        self.reader.show(self.lines(self.room[0] - (MAP + GAP if beside else 0)))
        if beside:
            size = MAP, self.room[1] - 2 - self.sheet("strip").line_count
            found = map_within(self.trainer, self._piece, self._start, self._known, size)
            self.sheet("map").show(found)

    def _learn(self, view: View) -> None:
        """What is the same for every start of the piece, worked out once."""
        if view is not self._view:
            from trainer.reports.retention import bands
            from trainer.reports.start import ways_back

            self._known = bands(view, self._piece.deck.id)
            self._catches = ways_back(view, self._piece.deck.id)
            self._view, self._shown = view, None

    def lines(self, width: int) -> list[Line]:
        """Everything about the start; drawn once, however often it is scrolled in."""
        if self._view is None:
            return [ink("Working it out …", "$faint")]
        if self._shown != (self._start, width):
            self._lines = self._read(self._view, width)
            self._shown = self._start, width
        return self._lines

    def _read(self, view: View, width: int) -> list[Line]:
        from trainer.reports.start import about
        from trainer.reports.start_sections import sections

        found = about(view, self._piece.deck.id, self._start, self._catches)
        look = self.trainer.look(width)
        lines: list[Line] = []
        for section in sections(found, self._piece, look, words=view.words):
            lines += [""] if lines else []
            lines += [ink(section.title, "bold")] if section.title else []
            if section.name == "page":
                lines += page_lines(self._piece, self.start, look)
            else:
                lines += _coloured(section, found.both.band, ascii=look.ascii)
        return lines

    # What is done

    def action_move(self, by: int) -> None:
        ids = [start.id for start in self._piece.deck.starts]
        at = min(max(0, ids.index(self._start) + by), len(ids) - 1)
        if ids[at] != self._start:
            self._start = ids[at]
            self.reader.to_top()
        self.draw()

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


def _coloured(section: Section, band: str, *, ascii: bool) -> list[Line]:
    """The lines of a section; their colours repeat what signs and words say."""
    match section.name:
        case "stands":
            first, *others = section.lines
            return [ink(first, INKS[band]), *others]
        case "history":
            return [_outcomes(line) if at == 1 else line for at, line in enumerate(section.lines)]
        case "strip":
            return [colour_bands(line, ascii=ascii) for line in section.lines]
        case "reasons":
            return [ink(line, "$faint") for line in section.lines]
    return list(section.lines)


def _outcomes(line: str) -> Content:
    """The signs of the tries in the inks of what they are like: holding, nearly, or not."""
    content = Content(line)
    for at in range(0, len(line), STEP):
        sign = line[at : at + 3]
        through = len(set(sign)) == 1 and sign[0] in BEGUN
        style = "$holds" if through else "$fading" if sign[0] in BEGUN else "$weak"
        content = content.stylize(style, at, at + len(sign))
    return content
