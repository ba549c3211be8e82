"""What a drill's screen hears: the instrument that is set, looked at some thirty times a second.

Without an instrument nothing is here and nothing is asked for. To open one and to judge a try is
done in another thread; in between a look costs microseconds, and the keys work as ever.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING

from textual.timer import Timer

from trainer.draw.words import counted
from trainer.errors import TrainerError
from trainer.ui.room import Room

if TYPE_CHECKING:
    from trainer.desk.hearing import Hearing, Seen, Tried
    from trainer.listen.signs import Sign
    from trainer.practice.session import Session

LOOKS = 30  # a second
AWAY = "the instrument is not connected: the keys count"
LOST = "the instrument was away: a key says how this one went"


class ByEar:
    """The ear of one screen. `told` is called with a try that was heard to its end (None: it
    cannot be judged) and the sign that ended it; `signed` with a sign apart from a try;
    `changed` when `line` has."""

    def __init__(
        self,
        room: Room,
        told: Callable[[Tried | None, Sign | None], None],
        signed: Callable[[Sign], None],
        changed: Callable[[], None],
    ) -> None:
        self._room, self._told, self._signed, self._changed = room, told, signed, changed
        self._hearing: Hearing | None = None
        self._seen: Seen | None = None
        self._timer: Timer | None = None
        self._turn = 0  # goes on with each call, so that a late verdict is known as such
        self._judging = self._away = self._closed = False

    @property
    def on(self) -> bool:
        """Whether an instrument is listened to, connected or not."""
        return self._hearing is not None

    @property
    def sign(self) -> str:
        """What is pressed for the next call, "" where there are no signs now."""
        return self._hearing.sign if self._hearing else ""

    @property
    def line(self) -> str:
        """How it stands, in a few words beside the call."""
        seen = self._seen
        if self._hearing is None or seen is None:
            return ""
        if self._judging:
            return "…"
        if seen.lost:
            return LOST
        if not seen.connected:
            return AWAY
        return counted(seen.bar, "bar") if seen.bar else "listening"

    def open(self) -> None:
        """Open the instrument, if one is wanted; what goes wrong is said on the screen."""
        self._room.run_worker(self._open, thread=True, group="instrument")

    def _open(self) -> None:
        app = self._room.trainer
        try:
            hearing = app.desk.hearing(app.view.student, app.instrument)
        except TrainerError as error:
            self._later(self._room.say, str(error))
            return
        if hearing is not None:
            import trainer.listen.match  # noqa: F401  # numpy, before the first call asks for it

            if self._closed:
                hearing.close()
            self._later(self._opened, hearing)

    def _later(self, what: Callable[..., None], *words: object) -> None:
        """Do it in the app's own thread."""
        with suppress(RuntimeError):  # the app has ended
            self._room.call_later(what, *words)

    def _opened(self, hearing: Hearing) -> None:
        if self._closed:
            hearing.close()
            return
        self._hearing = hearing
        self._timer = self._room.set_interval(1 / LOOKS, self._look)
        self._room.redraw()

    def close(self) -> None:
        """Let go of the instrument."""
        self._closed = True
        if self._timer:
            self._timer.stop()
        if self._hearing:
            self._hearing.close()
        self._hearing = None

    def attend(self, session: Session) -> None:
        """Listen to what the drill waits for now."""
        if self._hearing and not self._away:
            self._hearing.attend(session, self._room.trainer.view)

    def again(self) -> None:
        """Listen at the same call from its beginning."""
        self._forget()
        if self._hearing:
            self._hearing.again()

    def leave(self) -> None:
        """Another screen stands above this one: what comes is nobody's."""
        self._away = True
        self._forget()
        if self._hearing:
            self._hearing.rest()

    def come_back(self) -> None:
        self._away = False

    def counted(self, seconds: float) -> None:
        """A count is given up to the call."""
        if self._hearing:
            self._hearing.counted(seconds)

    def so_far(self) -> Tried | None:
        """What was heard of a try whose outcome a key tells."""
        judging, hearing = self._judging, self._hearing
        self._forget()
        return hearing.tried() if hearing and not judging else None

    def _forget(self) -> None:
        """A verdict that is still worked out comes too late."""
        self._turn += 1
        self._judging = False

    def _look(self) -> None:
        hearing, line = self._hearing, self.line
        if hearing is None:
            return
        seen = self._seen = hearing.look()
        if self._away:
            return
        if seen.ended:
            self._judge(hearing, seen.sign)
        elif seen.sign:
            self._signed(seen.sign)
        if self.line != line:
            self._changed()

    def _judge(self, hearing: Hearing, sign: Sign | None) -> None:
        self._forget()
        self._judging, turn = True, self._turn

        def work() -> None:
            tried = hearing.tried()
            self._later(self._judged, turn, tried, sign)

        self._room.run_worker(work, thread=True, group="verdict")

    def _judged(self, turn: int, tried: Tried | None, sign: Sign | None) -> None:
        if turn == self._turn:
            self._forget()
            self._told(tried, sign)
