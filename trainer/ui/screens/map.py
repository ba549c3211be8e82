"""The map of a piece, and the start that is looked at on it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.content import Content

from trainer.deck.model import Piece, Start
from trainer.draw.map import piece_map
from trainer.draw.words import BANDS, band_shade, band_sign
from trainer.ui.keys import bindings
from trainer.ui.room import Room, window
from trainer.ui.screens.choose import Choice, ChooseScreen
from trainer.ui.screens.page import PageScreen
from trainer.ui.theme import INKS
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said, wrapped

if TYPE_CHECKING:
    from trainer.memory.model import Retention
    from trainer.reports.view import View

PLANNED, ALL = 2, 3  # as in the app
DETAIL = 8  # lines of the chosen start, on a screen of 24 and more
DETAIL_LOW = 6
FIGURES_FROM = 3  # cold tries; under that counts are shown


class MapScreen(Room):
    """`start` is the id of the start to look at first, by default the first of a piece."""

    ROOM = "map"
    BINDINGS = bindings("map")
    DEFAULT_CSS = """
    MapScreen > #map { height: 1fr; padding: 1 2 0 2; }
    MapScreen > #start { height: 9; padding: 0 2; }
    MapScreen.-under24 > #start { height: 7; }
    """

    def __init__(self, start: str = "") -> None:
        super().__init__()
        self._wanted = start
        self._piece: Piece | None = None
        self._start = ""
        self._known: dict[str, Retention] = {}

    def body(self) -> ComposeResult:
        yield Sheet("map", fixed=True)
        yield Sheet("start", fixed=True, under=True)

    @property
    def piece(self) -> Piece:
        """The piece looked at: that of the start asked for, else the first."""
        if self._piece is None:
            view = self.trainer.view
            holders = (
                deck_id
                for deck_id, deck in view.decks.items()
                if any(start.id == self._wanted for start in deck.starts)
            )
            self._look_at(view.pieces[next(holders, next(iter(view.decks)))], self._wanted)
        assert self._piece is not None
        return self._piece

    def _look_at(self, piece: Piece, start: str = "") -> None:
        ids = [one.id for one in piece.deck.starts]
        self._piece = piece
        self._start = start if start in ids else ids[0]
        self._known = {}

    @property
    def start(self) -> Start:
        return self.piece.deck.start(self._start)

    def draw(self) -> None:
        app = self.trainer
        piece, view = self.piece, app.view
        app.need(ALL)
        opened = sum(start.id in view.open for start in piece.deck.starts)
        self.show_title(piece.deck.title, f"{opened} of {len(piece.deck.starts)} starts open")
        low = self.room[1] < 24
        self.set_class(low, "-under24")
        detail = DETAIL_LOW if low else DETAIL
        if app.stage >= PLANNED:
            from trainer.reports.retention import bands

            self._known = bands(view, piece.deck.id)
        self.sheet("map").show(self._map(self.room[1] - 5 - detail))
        self.sheet("start").show(list(self._about(view))[:detail])
        self.show_strip()

    def _map(self, height: int) -> list[Line]:
        """The map with the chosen start in sight; its legend stays at the foot."""
        ascii = self.trainer.ascii
        child = self.trainer.view.student.level == "child"
        text = piece_map(
            self.piece,
            {key: found.band for key, found in self._known.items()},
            here=self._start,
            width=self.room[0],
            ascii=ascii,
            chances=None if child else {key: _figure(r) for key, r in self._known.items()},
        )
        legend = next(at for at in range(len(text) - 1, -1, -1) if _begins_legend(text[at], ascii))
        pointer = ">" if ascii else "▶"
        here = next((at for at, line in enumerate(text[:legend]) if pointer in line), 0)
        lines: list[Line] = [_shaded(line, ascii=ascii) for line in text[:legend]]
        tail: list[Line] = [ink(line, "$faint") for line in text[legend:]]
        return [*window(lines, height - len(tail), here), *tail]

    def _about(self, view: View) -> Iterator[Line]:
        """All that there is to say of the chosen start, the most wanted first."""
        from trainer.reports.view import where

        piece, start = self.piece, self.start
        is_open = start.id in view.open
        state = ink("open", "$accent") if is_open else ink("not open: o opens it", "$accent")
        call = view.next_calls.get(start.id) if self.trainer.stage >= ALL else None
        again = f"   next call {_day(call.day)}" if call and call.day else ""
        head = said(f"Start {start.number}, {where(piece, start, view.words)}", "bold")
        yield row(head, "   ", state, ink(again, "$faint"))
        if self.trainer.stage >= PLANNED:
            yield from self._figures(view)
        tries = [one.attempt for one in view.tries if one.start == start.id and one.cold][-4:]
        if tries:
            told = "; ".join(f"{_day(a.day)} {a.outcome.value}" for a in reversed(tries))
            yield from wrapped(f"Last cold tries: {told}.", self.room[0])
        if start.advice:
            yield from wrapped(f"Advice: {' '.join(start.advice)}", self.room[0])
        if start.reasons:
            why = "; ".join(reason.words for reason in start.reasons)
            yield from wrapped(f"Begins here: {why}.", self.room[0], "$faint")

    def _figures(self, view: View) -> Iterator[Line]:
        """What is believed of the start. A child sees how it stands, in words."""
        start = self.start
        now = view.retention(start.id)
        join = view.retention(start.id, "join")
        sign = band_sign(now.band, ascii=self.trainer.ascii)
        parts: list[Line] = [ink(f"{sign} {now.band}", INKS[now.band])]
        if view.student.level != "child" and now.tries:
            parts.append(f"  next try {now.basis}; join {join.basis}")
        yield row(*parts)

    # What is done

    def action_move(self, by: int) -> None:
        ids = [start.id for start in self.piece.deck.starts]
        at = min(max(0, ids.index(self._start) + by), len(ids) - 1)
        self._start = ids[at]
        self.say("")
        self.draw()

    def action_open(self) -> None:
        self._set_open([self.start], opened=self._start not in self.trainer.view.open)

    def action_open_all(self) -> None:
        closed = [s for s in self.piece.deck.starts if s.id not in self.trainer.view.open]
        self._set_open(closed, opened=True)

    def _set_open(self, starts: list[Start], *, opened: bool) -> None:
        app = self.trainer
        with self.minding():
            if starts:
                numbers = [start.number for start in starts]
                app.desk.set_open(app.view.student, self.piece.deck, numbers, opened=opened)
                app.reload()

    def action_page(self) -> None:
        self.app.push_screen(PageScreen(self.piece, self.start))

    def action_prepare(self) -> None:
        from trainer.ui.screens.prepare import PrepareScreen

        def done(_: str | None) -> None:
            self._piece, self._wanted = None, self._start

        self.app.push_screen(PrepareScreen(self.piece, self._start), done)

    def action_piece(self) -> None:
        view = self.trainer.view
        choices = [Choice(d.id, n, d.title) for n, d in enumerate(view.decks.values(), 1)]

        def chosen(deck_id: str | None) -> None:
            if deck_id is not None:
                with self.minding():
                    self._look_at(view.pieces[deck_id])
                self.draw()

        self.app.push_screen(ChooseScreen("Which piece?", choices, self.piece.deck.id), chosen)


def _figure(found: Retention) -> float | str | None:
    """The chance, or what it would rest on where that is too little."""
    return found.chance if found.tries >= FIGURES_FROM else found.basis if found.tries else None


def _begins_legend(line: str, ascii: bool) -> bool:
    return line.startswith(f" {band_shade('holds', ascii=ascii)}{band_sign('holds', ascii=ascii)}")


def _shaded(line: str, *, ascii: bool) -> Content:
    """A line of the map in the colours of its bands, which repeat what shade and sign say."""
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


def _day(day: object) -> str:
    from datetime import date

    return f"{day.day} {day:%b}" if isinstance(day, date) else ""
