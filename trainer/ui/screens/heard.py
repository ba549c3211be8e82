"""What was heard of a try, on the written page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content

from trainer.ui.keys import bindings
from trainer.ui.screens.page import PageScreen, ReaderScreen
from trainer.ui.sounding import Sounding
from trainer.ui.widgets.sheet import Line, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.deck.model import Piece
    from trainer.desk.hearing import Tried
    from trainer.draw.heard import HeardPage
    from trainer.draw.layout import Style
    from trainer.draw.page import Form
    from trainer.listen.model import Verdict

BREAKS = (("left", "again", "waited"), ("wrong", "missed", "extra"))
INKS = {
    "wrong": "bold $weak",
    "extra": "bold $weak",
    "missed": "bold $fading",
    "earlier": "$faint",
    "quiet": "$faint",
}


class HeardScreen(ReaderScreen):
    """All that was heard of one try: in words, and on the page."""

    ROOM = "heard"
    BINDINGS = bindings("heard")

    def __init__(self, tried: Tried) -> None:
        super().__init__()
        self._tried = tried
        self.sounding = Sounding(self)

    def title_words(self) -> tuple[str, str]:
        tried = self._tried
        start = tried.piece.deck.start(tried.verdict.asked)
        return f"Heard at start {start.number}", tried.piece.deck.title

    def lines(self, width: int) -> list[Line]:
        from trainer.listen.words import sentences

        tried, words = self._tried, self.trainer.view.words
        found: list[Line] = []
        for sentence in sentences(tried.verdict, tried.piece, words):
            found += wrapped(sentence, width)
        return [*found, "", *heard_lines(tried, self.trainer.look(width))]

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        can = {"again": bool(struck(self._tried)) and not self.sounding.why_not}
        return can.get(action, True) and super().check_action(action, parameters)

    def action_page(self) -> None:
        piece = self._tried.piece
        self.app.push_screen(PageScreen(piece, piece.deck.start(self._tried.verdict.asked)))

    def action_again(self) -> None:
        """Let what was played be heard, or stop it."""
        with self.minding():
            self.sounding.strikes(struck(self._tried))

    def on_screen_suspend(self) -> None:
        self.sounding.stop()

    def on_unmount(self) -> None:
        self.sounding.stop()


class HeardRunScreen(ReaderScreen):
    """What was heard of a run-through, on the written music, a phrase on each page; first the one
    in which something went wrong first."""

    ROOM = "heard run"
    BINDINGS = bindings("heard run")

    def __init__(self, piece: Piece, phrases: Sequence[Verdict]) -> None:
        super().__init__()
        self._piece, self._phrases = piece, phrases
        faulty = (at for at, one in enumerate(phrases) if _is_faulty(one))
        self._at = next(faulty, 0)

    def title_words(self) -> tuple[str, str]:
        from trainer.reports.view import where

        start = self._piece.deck.start(self._phrases[self._at].asked)
        at = where(self._piece, start, self.trainer.view.words)
        return f"Heard from start {start.number}, {at}", self._piece.deck.title

    def lines(self, width: int) -> list[Line]:
        from trainer.draw.heard import heard_page
        from trainer.listen.words import notes_sentence

        phrase = self._phrases[self._at]
        found = wrapped(notes_sentence(phrase) or "All notes right.", width)
        drawn = heard_page(phrase, self._piece, self.trainer.look(width))
        return [*found, "", *_inked(drawn)]

    def action_turn(self, by: int) -> None:
        self._at = min(max(0, self._at + by), len(self._phrases) - 1)
        self._top = 0
        self.draw()


def _is_faulty(phrase: Verdict) -> bool:
    """Whether anything went wrong in a phrase."""
    notes = phrase.wrong + phrase.missed + phrase.extra
    return bool(notes or phrase.left or phrase.pauses or phrase.jump) or not phrase.join_reached


def heard_lines(tried: Tried, look: Style, form: Form = "staff") -> list[Line]:
    """The page of what was heard, its signs in their colours; empty where nothing of the piece was
    recognised."""
    from trainer.draw.heard import heard_page

    return _inked(heard_page(tried.verdict, tried.piece, look, form=form))


def _inked(page: HeardPage) -> list[Line]:
    lines = [Content(line) for line in page.lines]
    for spot in page.spots:
        style = INKS.get(spot.kind, "$accent")
        lines[spot.line] = lines[spot.line].stylize(style, spot.column, spot.column + spot.cells)
    return list(lines)


def from_the_break(tried: Tried, look: Style, form: Form = "staff") -> list[Line]:
    """The same page from the bars on where it mattered: where it ended too soon, was left, begun
    again or held up, else where the first note went wrong."""
    from trainer.draw.heard import heard_page

    page = heard_page(tried.verdict, tried.piece, look, form=form)
    lines = _inked(page)
    ended = () if tried.verdict.join_reached else (("ended",),)
    for kinds in (*ended, *BREAKS):
        at = min((spot.line for spot in page.spots if spot.kind in kinds), default=None)
        if at is not None:
            ends = [n for n, line in enumerate(lines[:at]) if not line]
            return lines[ends[-1] + 1 :] if ends else lines
    return lines


def struck(tried: Tried) -> list[tuple[float, int]]:
    """The keys of a try as they were struck: seconds from the call, and MIDI note numbers."""
    verdict = tried.verdict
    return [
        (mark.time, verdict.shift + (mark.pitch if mark.instead is None else mark.instead))
        for mark in verdict.marks
        if mark.time is not None
    ]
