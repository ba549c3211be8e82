"""What a screen hears: the instrument that is set, looked at some thirty times a second.

Without an instrument nothing is here and nothing is asked for. To open one and to judge a try is
done in another thread; in between a look costs microseconds, and the keys work as ever.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING, Any, Generic, Protocol, TypeVar

from textual.timer import Timer

from trainer.draw.words import counted
from trainer.errors import TrainerError
from trainer.ui.room import Room

if TYPE_CHECKING:
    from trainer.deck.model import Piece
    from trainer.desk.following import Following, Follows
    from trainer.desk.hearing import Hearing, Seen, Tried
    from trainer.listen.signs import Sign
    from trainer.practice.exercise import Act
    from trainer.practice.session import Session

LOOKS = 30  # a second
AWAY = "the instrument is not connected: use the letters"
FAILED = "the instrument cannot be heard any more: use the letters"
BACK = "the instrument is back: play from the beginning of the start"
UNKNOWN = "its notes are not known: use the letters"
LOST = "the instrument was disconnected: play it again"


class Ear(Protocol):
    """What hears something through a port."""

    @property
    def sign(self) -> str: ...

    def close(self) -> None: ...


E = TypeVar("E", bound=Ear)


class ByEar(Generic[E]):
    """The ear of one screen, from when it is opened until it is closed."""

    def __init__(self, room: Room) -> None:
        self.room = room
        self.ear: E | None = None
        self._timer: Timer | None = None
        self._closed = False

    @property
    def on(self) -> bool:
        """Whether an instrument is listened to, connected or not."""
        return self.ear is not None

    @property
    def sign(self) -> str:
        """What is pressed on the instrument for a sign, "" where there are none now."""
        return self.ear.sign if self.ear else ""

    def open(self) -> None:
        """Open the instrument, if one is wanted; what goes wrong is said on the screen."""
        self.room.run_worker(self._open, thread=True, group="instrument")

    def _open(self) -> None:
        try:
            ear = self.make()
        except TrainerError as error:
            self.later(self.room.say, str(error))
            return
        if ear is not None:
            import trainer.listen.match  # noqa: F401  # numpy, before the first call asks for it

            if self._closed:
                ear.close()
            self.later(self._opened, ear)

    def _opened(self, ear: E) -> None:
        if self._closed:
            ear.close()
            return
        self.ear = ear
        self._timer = self.room.set_interval(1 / LOOKS, self.look)
        self.room.redraw()

    def close(self) -> None:
        """Let go of the instrument."""
        self._closed = True
        if self._timer:
            self._timer.stop()
        if self.ear:
            self.ear.close()
        self.ear = None

    def later(self, what: Callable[..., None], *words: object) -> None:
        """Do it in the app's own thread."""
        with suppress(RuntimeError):  # the app has ended
            self.room.call_later(what, *words)

    @abstractmethod
    def make(self) -> E | None:
        """Open it, in another thread; None where none is wanted."""

    @abstractmethod
    def look(self) -> None:
        """Take what came."""


class TryByEar(ByEar["Hearing"]):
    """The ear of a drill. `told` is called with a try that was heard to its end (None: it cannot be
    judged) and the sign that ended it; `signed` with a sign apart from a try; `changed` when `line`
    has."""

    def __init__(
        self,
        room: Room,
        told: Callable[[Tried | None, Sign | None], None],
        signed: Callable[[Sign], None],
        changed: Callable[[], None],
    ) -> None:
        super().__init__(room)
        self._told, self._signed, self._changed = told, signed, changed
        self._seen: Seen | None = None
        self._turn = 0  # goes on with each verdict, so that a late one is known as such
        self._judging = self._away = False

    def make(self) -> Hearing | None:
        app = self.room.trainer
        return app.desk.instruments.hearing(app.view.student, app.instrument)

    @property
    def asked(self) -> bool:
        """Whether a key has to say how the try went."""
        return self.ear is not None and self.ear.asked and not self._judging

    @property
    def line(self) -> str:
        """How it stands, in a few words beside the call."""
        seen = self._seen
        if self.ear is None or seen is None:
            return ""
        if self._judging:
            return "…"
        if self.asked:
            return "press the letter that says how far you came"
        if seen.failed:
            return FAILED
        if not seen.connected:
            return seen.note or AWAY
        if seen.unknown:
            return UNKNOWN
        if seen.lost:
            return LOST
        if seen.back:
            return BACK
        if seen.bar:
            crossed = ", into the next phrase" if seen.crossed else ""
            waiting = ", waiting" if seen.waiting else ""
            return f"{counted(seen.bar, 'bar')}{crossed}{waiting}"
        if seen.waiting:
            return "waiting"
        if seen.note:
            return seen.note
        return f"listening; {self.sign} if nothing comes to mind" if self.sign else "listening"

    def attend(self, session: Session) -> None:
        """Listen to what the drill waits for now."""
        if self.ear and not self._away:
            self.ear.attend(session, self.room.trainer.view)

    def act(self, sign: Sign, session: Session) -> Act | None:
        """What a sign does now."""
        return self.ear.act(sign, session) if self.ear else None

    def again(self) -> None:
        """Listen at the same call from its beginning."""
        if self.ear:
            self.ear.again()

    def leave(self) -> None:
        """Another screen stands above this one: what comes is nobody's, and the time of the call
        goes on."""
        self._away = True

    def come_back(self) -> None:
        self._away = False

    def counted(self, seconds: float) -> None:
        """A count is given up to the call."""
        if self.ear:
            self.ear.counted(seconds)

    def witnessed(self, session: Session, act: Act) -> dict[str, Any]:
        """What was heard of a try of which a key tells how it went."""
        return self.ear.witnessed(session, act) if self.ear else {}

    def look(self) -> None:
        ear, line = self.ear, self.line
        if ear is None:
            return
        if self._away:
            ear.pass_over()
            return
        seen = self._seen = ear.look()
        if seen.ended:
            self._judge(ear, seen.sign)
        elif seen.sign:
            self._signed(seen.sign)
        if self.line != line:
            self._changed()

    def _judge(self, ear: Hearing, sign: Sign | None) -> None:
        self._turn += 1
        self._judging, turn = True, self._turn

        def work() -> None:
            tried = ear.tried()
            self.later(self._judged, turn, tried, sign)

        self.room.run_worker(work, thread=True, group="verdict")

    def _judged(self, turn: int, tried: Tried | None, sign: Sign | None) -> None:
        if turn != self._turn:
            return
        self._judging = False
        if self.asked:  # else the drill has gone on, by a key
            self._told(tried, sign)


class RunByEar(ByEar["Following"]):
    """The ear of a run-through of a piece. `went` is called with what there is to do about it, and
    when the place has changed."""

    def __init__(self, room: Room, piece: Piece, went: Callable[[Follows], None]) -> None:
        super().__init__(room)
        self._piece, self._went = piece, went
        self._seen: Follows | None = None

    def make(self) -> Following | None:
        app = self.room.trainer
        return app.desk.instruments.following(app.view, self._piece, app.instrument)

    @property
    def line(self) -> str:
        """Where the playing is, in a few words."""
        seen = self._seen
        if self.ear is None or seen is None:
            return ""
        if seen.failed:
            return FAILED
        return (seen.place or "listening") if seen.connected else AWAY

    @property
    def followed(self) -> bool:
        """Whether anything was heard."""
        return self._seen is not None and self.ear is not None and self.ear.heard

    def look(self) -> None:
        ear, line = self.ear, self.line
        if ear is None:
            return
        seen = self._seen = ear.look()
        if seen.slips or seen.ended or seen.sign or self.line != line:
            self._went(seen)
