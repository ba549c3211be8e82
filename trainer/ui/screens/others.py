"""A drill of another kind: chosen here, then begun."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.practice.drills import KINDS
from trainer.ui.screens.choose import Choice, ChooseScreen

if TYPE_CHECKING:
    from trainer.ui.room import Room


def offer(room: Room) -> None:
    """Ask which kind, and begin it."""
    choices = [Choice(kind.name, n, kind.title) for n, kind in enumerate(KINDS.values(), 1)]

    def chosen(name: str | None) -> None:
        if name is not None:
            _drill(room, name)

    room.app.push_screen(ChooseScreen("Which drill?", choices), chosen)


def _drill(room: Room, kind: str) -> None:
    from trainer.ui.screens.drill import DrillScreen

    with room.minding():
        session = room.trainer.desk.begin(room.trainer.view, kind=kind)
        if session.calls:
            room.app.push_screen(DrillScreen(session))
        else:
            room.say(f"{KINDS[kind].title}: there is nothing to call today.")
