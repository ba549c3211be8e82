"""A drill of another kind, a run-through, or a rehearsal of slips: chosen here, then begun."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from trainer.practice.drills import KINDS
from trainer.practice.run import RUN
from trainer.practice.slip import SLIP
from trainer.ui.screens.choose import Choice, ChooseScreen, ask_piece

if TYPE_CHECKING:
    from trainer.ui.room import Room

PLAYED_ON = {
    RUN: "Run-through: a whole piece, with its slips logged",
    SLIP: "Recovery: you are stopped, and carry on from the next start",
}


def offer(room: Room) -> None:
    """Ask which kind, and begin it."""
    words = {kind.name: kind.title for kind in KINDS.values()} | PLAYED_ON
    choices = [Choice(name, n, text) for n, (name, text) in enumerate(words.items(), 1)]

    def chosen(name: str | None) -> None:
        if name == RUN:
            _ask_piece(room, lambda deck_id: _run(room, deck_id))
        elif name == SLIP:
            _ask_piece(room, lambda deck_id: _rehearse(room, deck_id))
        elif name is not None:
            _drill(room, name)

    room.app.push_screen(ChooseScreen("Which drill?", choices), chosen)


def _drill(room: Room, kind: str) -> None:
    from trainer.ui.screens.drill import DrillScreen

    with room.minding():
        session = room.trainer.desk.exercises.drill(room.trainer.view, kind=kind)
        if session.calls:
            room.app.push_screen(DrillScreen(session))
        else:
            room.say(f"{KINDS[kind].title}: there is nothing to call today.")


def _ask_piece(room: Room, then: Callable[[str], None]) -> None:
    ask_piece(room, "Which piece?", tuple(room.trainer.view.decks.values()), then)


def _run(room: Room, deck_id: str) -> None:
    from trainer.ui.screens.run import RunScreen

    app = room.trainer
    with room.minding():
        app.push_screen(RunScreen(app.desk.exercises.run(app.view, deck_id)))


def _rehearse(room: Room, deck_id: str) -> None:
    from trainer.ui.screens.slip import SlipScreen

    app = room.trainer
    with room.minding():
        app.push_screen(SlipScreen(app.desk.exercises.rehearsal(app.view, deck_id)))
