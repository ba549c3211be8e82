"""What was heard of a try, on the written page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.content import Content

from trainer.ui.keys import bindings
from trainer.ui.screens.page import PageScreen, ReaderScreen
from trainer.ui.sounding import Sounding
from trainer.ui.widgets.sheet import Line, wrapped

if TYPE_CHECKING:
    from trainer.desk.hearing import Tried
    from trainer.draw.heard import HeardPage
    from trainer.draw.layout import Style
    from trainer.draw.page import Form

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
