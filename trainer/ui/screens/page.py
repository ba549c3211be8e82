"""A text longer than the screen, to be read: the whole page of a phrase."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.content import Content

from trainer.ui.engraved import Engraved
from trainer.ui.keys import bindings
from trainer.ui.room import Room
from trainer.ui.sounding import Sounding
from trainer.ui.widgets.reader import Reader
from trainer.ui.widgets.sheet import Line

if TYPE_CHECKING:
    from trainer.deck.model import Piece, Start
    from trainer.draw.layout import Style
    from trainer.draw.page import Form


class ReaderScreen(Room):
    """Shows its lines and scrolls in them; a subclass says which."""

    DEFAULT_CSS = """
    ReaderScreen > Reader { padding: 1 2 0 2; }
    """

    def body(self) -> ComposeResult:
        yield Reader("lines")

    @property
    def reader(self) -> Reader:
        return self.query_one(Reader)

    @abstractmethod
    def title_words(self) -> tuple[str, str]: ...

    @abstractmethod
    def lines(self, width: int) -> list[Line]: ...

    def draw(self) -> None:
        self.show_title(*self.title_words())
        self.show_strip()
        self.reader.show(self.lines(self.room[0]))

    def action_scroll(self, by: int) -> None:
        self.reader.scroll_lines(by)

    def action_leaf(self, by: int) -> None:
        self.reader.leaf(by)

    async def action_further(self, by: int) -> None:
        self.reader.leaf(by)


class PageScreen(ReaderScreen):
    """The written music of one phrase."""

    ROOM = "page"
    BINDINGS = bindings("page")

    def __init__(self, piece: Piece, start: Start) -> None:
        super().__init__()
        self._piece = piece
        self._start = start
        self.sounding = Sounding(self)
        self.engraved = Engraved(self)

    def title_words(self) -> tuple[str, str]:
        from trainer.reports.view import where

        at = where(self._piece, self._start, self.trainer.view.words)
        title = f"Start {self._start.number}, {at}"
        return title, self._piece.deck.title

    def lines(self, width: int) -> list[Line]:
        return page_lines(self._piece, self._start, self.trainer.look(width))

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        can = {"hear": not self.sounding.why_not, "picture": bool(self.engraved.way)}
        return can.get(action, True) and super().check_action(action, parameters)

    def action_picture(self) -> None:
        """Show the bars engraved, on the terminal itself."""
        with self.minding():
            self.engraved.show(self._piece, self._start, " - ".join(self.title_words()))

    def action_hear(self) -> None:
        """Let the opening of this page be heard, or stop it."""
        with self.minding():
            self.sounding.opening(self._piece, self._start)

    def on_screen_suspend(self) -> None:
        self.sounding.stop()

    def on_unmount(self) -> None:
        self.sounding.stop()


def page_lines(
    piece: Piece, start: Start, look: Style, form: Form = "staff", *, join: bool = False
) -> list[Line]:
    """The page of a start: its music up to the bar line before the next start, or its `join`
    alone. What comes before the entry is dimmed."""
    from trainer.deck.page import join_span, page_span
    from trainer.draw.page import drawing

    span = join_span if join else page_span
    drawn = drawing(piece.score, *span(piece, start), look, form=form)
    lines = [Content(line) for line in drawn.lines]
    for head in drawn.placed:
        if head.before:
            dimmed = lines[head.line].stylize("$faint", head.column, head.column + head.cells)
            lines[head.line] = dimmed
    return list(lines)


def page_within(
    piece: Piece, start: Start, look: Style, height: int, *, join: bool = False
) -> tuple[list[Line], bool]:
    """The page of a start in so many lines, and whether it is all of it.

    The staff is drawn where its first block fits, else the table, which is lower; what is
    left out is left out by whole blocks where that is possible.
    """
    return within(lambda form: page_lines(piece, start, look, form, join=join), height)


def within(draw: Callable[[Form], list[Line]], height: int) -> tuple[list[Line], bool]:
    """What `draw` gives in so many lines, and whether it is all of it."""
    lines = draw("staff")
    if _first_block(lines) > height - 1:
        lines = draw("table")
    if len(lines) <= height:
        return lines, True
    ends = [at for at, line in enumerate(lines) if not line and at < height]
    return lines[: ends[-1] if ends else max(0, height - 1)], False


def _first_block(lines: list[Line]) -> int:
    return next((at for at, line in enumerate(lines) if not line), len(lines))
