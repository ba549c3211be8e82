"""The engraved picture of a page, shown on the terminal itself while the app stands aside."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from textual.app import SuspendNotSupported

from trainer import terminal
from trainer.errors import TrainerError
from trainer.ui.room import Room

if TYPE_CHECKING:
    from trainer.deck.model import Piece, Start

CANNOT = "No picture can be shown from here; `trainer page PIECE START --picture` shows it."


class Engraved:
    """The pictures of one screen."""

    def __init__(self, room: Room) -> None:
        self._room = room

    @cached_property
    def way(self) -> str:
        """How pictures are shown in this terminal; "" where none can be."""
        from trainer.picture.engrave import trouble
        from trainer.picture.terminal import WAYS

        app = self._room.trainer
        way = app.desk.settings.get(app.view.student, "picture")
        return way if way in WAYS and not trouble() else ""

    def show(self, piece: Piece, start: Start, title: str) -> None:
        """Show the bars of a start, with a title, until Enter is pressed. Raises TrainerError
        where they cannot be engraved or the terminal cannot be had."""
        from trainer.deck.page import page_span
        from trainer.picture.show import in_terminal
        from trainer.picture.terminal import measured

        sent = in_terminal(piece.score, *page_span(piece, start), self.way, measured())
        try:
            with self._room.app.suspend():
                terminal.say(["", title])
                terminal.send(sent)
                terminal.wait()
        except SuspendNotSupported:
            raise TrainerError(CANNOT) from None
