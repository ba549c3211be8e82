"""The map of a piece, and the start that is looked at on it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.content import Content

from trainer.deck.model import Piece, Start
from trainer.draw.map import piece_map
from trainer.draw.words import BANDS, band_shade, band_sign
from trainer.score.cite import counted
from trainer.ui.keys import bindings
from trainer.ui.room import Room, window
from trainer.ui.screens.choose import Choice, ChooseScreen
from trainer.ui.screens.page import PageScreen
from trainer.ui.theme import INKS
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said, wrapped

if TYPE_CHECKING:
    from trainer.memory.model import Retention
    from trainer.reports.view import View
    from trainer.ui.app import TrainerApp

PLANNED, ALL = 2, 3  # as in the app
DETAIL = 6  # lines of the chosen start, on a screen of 24 and more
DETAIL_LOW = 5
ENDS = "┃│I|"  # what a row of bars ends with


class MapScreen(Room):
    """`start` is the id of the start to look at first, by default the first of a piece."""

    ROOM = "map"
    BINDINGS = bindings("map")
    DEFAULT_CSS = """
    MapScreen > #map { height: 1fr; padding: 1 2 0 2; }
    MapScreen > #start { height: 7; padding: 0 2; }
    MapScreen.-under24 > #start { height: 6; }
    """

    def __init__(self, start: str = "") -> None:
        super().__init__()
        self._wanted = start
        self._piece: Piece | None = None
        self._start = ""
        self._known: dict[str, Retention] = {}
        self._known_of: View | None = None

    def body(self) -> ComposeResult:
        yield Sheet("map", fixed=True)
        yield Sheet("start", fixed=True, under=True)

    @property
    def piece(self) -> Piece:
        """The piece looked at: that of the start asked for, else the first with an open start."""
        if self._piece is None:
            view = self.trainer.view
            holders = (
                deck_id
                for deck_id, deck in view.decks.items()
                if any(start.id == self._wanted for start in deck.starts)
            )
            begun = (
                deck_id
                for deck_id, deck in view.decks.items()
                if any(start.id in view.open for start in deck.starts)
            )
            usual = next(begun, next(iter(view.decks)))
            self._look_at(view.pieces[next(holders, usual)], self._wanted)
        assert self._piece is not None
        return self._piece

    def _look_at(self, piece: Piece, start: str = "") -> None:
        ids = [one.id for one in piece.deck.starts]
        self._piece = piece
        self._start = start if start in ids else ids[0]
        self._known, self._known_of = {}, None

    @property
    def start(self) -> Start:
        return self.piece.deck.start(self._start)

    def draw(self) -> None:
        app = self.trainer
        piece, view = self.piece, app.view
        app.need(ALL)
        called = [start for start in piece.deck.starts if start.id not in view.left_out]
        opened = sum(start.id in view.open for start in called)
        self.show_title(piece.deck.title, f"{opened} of {counted(len(called), 'start')} open")
        low = self.room[1] < 24
        self.set_class(low, "-under24")
        detail = DETAIL_LOW if low else DETAIL
        if app.stage >= PLANNED and self._known_of is not view:
            from trainer.reports.retention import bands

            self._known, self._known_of = bands(view, piece.deck.id), view
        size = self.room[0], self.room[1] - 5 - detail
        self.sheet("map").show(map_within(app, piece, self._start, self._known, size))
        about = list(self._about(view))
        if len(about) > detail:
            about[detail - 1] = row(about[detail - 1], " …")
        self.sheet("start").show(about[:detail])
        self.show_strip()

    def _about(self, view: View) -> Iterator[Line]:
        """All that there is to say of the chosen start, the most wanted first."""
        from trainer.document.words import day_word
        from trainer.reports.own import advice_words
        from trainer.reports.view import where

        piece, start = self.piece, self.start
        is_open = start.id in view.open
        own = view.own(piece.deck.id, start.id)
        closed = "not drilled for you" if own.left_out else "not open: o opens it"
        state = ink("open" if is_open else closed, "$accent")
        day = view.next_day(start.id) if self.trainer.stage >= ALL else None
        again = f"   next call {day_word(day)}" if day else ""
        if until := view.homework.get(start.id):
            again = f"   homework until {day_word(until)}"
        head = said(f"Start {start.number}, {where(piece, start, view.words)}", "bold")
        yield row(head, "   ", state, ink(again, "$faint"))
        if self.trainer.stage >= PLANNED:
            yield from self._figures(view)
        tries = [one.attempt for one in view.tries if one.start == start.id and one.cold][-4:]
        if tries:
            told = "; ".join(f"{day_word(a.day)} {a.outcome.value}" for a in reversed(tries))
            yield from wrapped(f"Last cold attempts: {told}.", self.room[0])
        for line in advice_words(start.advice, start.fingering if own.fingering else "", own):
            yield from wrapped(line, self.room[0])
        if start.reasons:
            why = "; ".join(reason.words for reason in start.reasons)
            yield from wrapped(f"Begins here: {why}.", self.room[0], "$faint")

    def _figures(self, view: View) -> Iterator[Line]:
        """What is believed of the start. A child sees how it stands, in words."""
        from trainer.reports.start import basis
        from trainer.reports.start_sections import parts

        now = view.retention(self._start)
        band = f"{band_sign(now.band, ascii=self.trainer.ascii)} {now.band}"
        figures = ""
        if view.level != "child" and now.tries:
            both = view.retention(self._start, "start"), view.retention(self._start, "join")
            figures = f"; next attempt {basis(now)}. {parts(*both)}."
        first, *others = wrapped(band + figures, self.room[0], indent="  ")
        yield ink(str(first)).stylize(INKS[now.band], 0, len(band))
        yield from others
        if self._start in view.stuck:
            from trainer.memory.planner import STUCK

            yield from wrapped(f"Stuck. {STUCK}", self.room[0], "bold")

    # What is done

    def action_move(self, by: int) -> None:
        ids = [start.id for start in self.piece.deck.starts]
        at = min(max(0, ids.index(self._start) + by), len(ids) - 1)
        self._start = ids[at]
        self.say("")
        self.draw()

    def action_show(self) -> None:
        """Everything about the start; back from there, the one looked at last is the one here."""
        from trainer.ui.screens.start import StartScreen

        def looked(start: str | None) -> None:
            self._piece = self.trainer.view.pieces[self.piece.deck.id]  # own words may be new
            self._start = start or self._start
            self.draw()

        self.app.push_screen(StartScreen(self.piece, self._start), looked)

    def action_open(self) -> None:
        if self._start in self.trainer.view.left_out:
            number = self.start.number
            self.say(f"Not drilled for you; to drill it: `trainer own PIECE {number} --leave-in`.")
            return
        self._set_open([self.start], opened=self._start not in self.trainer.view.open)

    def action_open_all(self) -> None:
        closed = [s for s in self.piece.deck.starts if s.id in self.trainer.view.closed]
        self._set_open(closed, opened=True)

    def _set_open(self, starts: list[Start], *, opened: bool) -> None:
        app = self.trainer
        with self.minding():
            if starts:
                numbers = [start.number for start in starts]
                app.desk.pieces.set_open(app.view.student, self.piece.deck, numbers, opened=opened)
                app.reload()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        teaches = action != "homework" or self.trainer.teaches
        return teaches and super().check_action(action, parameters)

    def action_homework(self) -> None:
        """Ask for the start for a week, or no more."""
        app = self.trainer
        until = None if self._start in app.view.homework else app.view.day + timedelta(days=7)
        with self.minding():
            app.desk.own.ask(app.view.student, self.piece.deck, [self.start], until)
            app.reload()

    def action_page(self) -> None:
        self.app.push_screen(PageScreen(self.piece, self.start))

    def action_prepare(self) -> None:
        from trainer.ui.screens.prepare import PrepareScreen

        def done(_: str | None) -> None:
            self._piece, self._wanted = None, self._start

        with self.minding():  # the teacher's deck, without a student's own
            master = self.trainer.desk.store.pieces.get(self.piece.deck.id)
            self.app.push_screen(PrepareScreen(master, self._start), done)

    def action_piece(self) -> None:
        view = self.trainer.view
        choices = [Choice(d.id, n, d.title) for n, d in enumerate(view.decks.values(), 1)]

        def chosen(deck_id: str | None) -> None:
            if deck_id is not None:
                with self.minding():
                    self._look_at(view.pieces[deck_id])
                self.draw()

        self.app.push_screen(ChooseScreen("Which piece?", choices, self.piece.deck.id), chosen)


def map_within(
    app: TrainerApp, piece: Piece, here: str, known: dict[str, Retention], size: tuple[int, int]
) -> list[Line]:
    """The map in so many columns and lines, with the start looked at in sight; its legend stays
    at the foot."""
    from trainer.reports.start import figures

    width, height = size
    text = piece_map(
        piece,
        {key: found.band for key, found in known.items()},
        here=here,
        width=width,
        ascii=app.ascii,
        chances=figures(app.view, known),
    )
    legend = next(n for n in range(len(text) - 1, -1, -1) if _begins_legend(text[n], app.ascii))
    pointer = ">" if app.ascii else "▶"
    at = next((n for n, line in enumerate(text[:legend]) if pointer in line), 0)
    lines: list[Line] = [colour_bands(line, ascii=app.ascii) for line in text[:legend]]
    tail: list[Line] = [ink(line, "$faint") for line in text[legend:]]
    rows = [n + 1 for n, line in enumerate(text[:legend]) if line[-1] in ENDS]
    if len(text) + len(rows) <= height:  # room for a line between the rows
        for n in reversed(rows):
            lines.insert(n, "")
    return [*window(lines, height - len(tail), at), *tail]


def _begins_legend(line: str, ascii: bool) -> bool:
    return line.startswith(f" {band_shade('holds', ascii=ascii)}{band_sign('holds', ascii=ascii)}")


def colour_bands(line: str, *, ascii: bool) -> Content:
    """A line of the map or of a strip in the colours of its bands, which repeat what its shades
    and signs say."""
    content = Content(line)
    by_sign = {band_shade(band, ascii=ascii): INKS[band] for band in BANDS}
    begin = 0
    for at in range(1, len(line) + 1):
        if at == len(line) or line[at] != line[begin]:
            style = by_sign.get(line[begin], "")
            if style:
                content = content.stylize(style, begin, at)
            begin = at
    return content
