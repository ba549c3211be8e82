"""What a screen lets be heard: the opening of a start, and the clicks of a count.

Sound is an extra and switched off at first. A key that needs it is there only while it can be
had; where it cannot, everything else goes on without a sound.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from functools import cached_property
from typing import TYPE_CHECKING

from trainer.sound.player import Player, trouble
from trainer.ui.room import Room

if TYPE_CHECKING:
    from trainer.deck.model import Piece, Start
    from trainer.score.count import Count
    from trainer.sound.tones import Tone

BARS = 2  # of an opening
OFF = "Sound is switched off: switch it on in the settings."

After = Callable[[], None]


class Sounding:
    """The sound of one screen; at most one thing is heard at a time."""

    def __init__(self, room: Room) -> None:
        self._room = room
        self._player = Player()
        self._failed = ""
        self._turn = 0
        self._opens = False  # whether what is heard is music, and no count

    @cached_property
    def _beforehand(self) -> str:
        app = self._room.trainer
        on = app.desk.settings.get(app.view.student, "sound") == "on"
        return trouble() if on else OFF

    @property
    def why_not(self) -> str:
        """Why nothing can be heard on this screen, "" where it can as far as is known."""
        return self._beforehand or self._failed

    def opening(self, piece: Piece, start: Start) -> None:
        """Let the opening of a start be heard; while one is heard, stop it. Raises TrainerError
        where it is too long."""
        if self._opens and self._player.plays:
            self.stop()
            return
        from trainer.deck.page import opening_span
        from trainer.sound.tones import tones

        rate = self._room.trainer.view.own(piece.deck.id, start.id).tempo
        sounds = tones(piece.score, *opening_span(piece, start, BARS), rate)
        self._play(sounds, None, lambda: None)
        self._opens = True

    def strikes(self, strikes: Sequence[tuple[float, int]]) -> None:
        """Let keys be heard as they were struck (seconds, MIDI note number); while something is
        heard, stop it."""
        if self._opens and self._player.plays:
            self.stop()
            return
        from trainer.sound.tones import replayed

        self._play(replayed(strikes), None, lambda: None)
        self._opens = True

    def count(self, count: Count, begun: After) -> None:
        """Let the clicks of a count be heard. `begun` is called when the sound begins, or when
        it is known that there will be none."""
        self._play((), count, begun)

    def stop(self) -> None:
        """Be silent at once; what was to be called when the sound begins is forgotten."""
        self._turn += 1
        self._opens = False
        self._player.stop()

    def _play(self, sounds: Sequence[Tone], count: Count | None, begun: After) -> None:
        from trainer.sound.tones import samples

        self.stop()
        turn = self._turn

        def told(why: str) -> None:
            with suppress(RuntimeError):  # the app has ended
                self._room.call_later(self._told, turn, why, begun)

        self._player.play(lambda: samples(sounds, count), told)

    def _told(self, turn: int, why: str, begun: After) -> None:
        if turn != self._turn:
            return
        if why:
            self._failed = why
            self._room.say(why)
            self._room.redraw()
        begun()
