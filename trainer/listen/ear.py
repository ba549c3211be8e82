"""One try, heard from the call to its end. Pure: time comes with the events and the ticks.

    ear = Ear(waiting, asked, policy, signs, since=clock())
    now = ear.listen(port.take(), clock_before_the_taking)   # some thirty times a second
    ear.verdict                                              # once now.ended

When is a try over? Nothing ends before the first few notes: to think, or to touch a wrong key, is
no try. After that it ends with a silence, and how long that has to be depends on where the player
is. Well into the next phrase the outcome is settled, and a short rest will do. Within the phrase a
player who has stopped may be looking for the way on, or for a better beginning, and is given time.
A written long note or rest, at the pace that was played, is no silence. The end is always counted
from the last note, so that it does not matter when somebody looks.
"""

from __future__ import annotations

from collections import deque
from statistics import median
from typing import TYPE_CHECKING

from msgspec.structs import replace as replaced

from trainer.listen.model import SURE, Policy, Provisional
from trainer.listen.signs import Means, Sign, Signs, clashes
from trainer.values import Frozen

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trainer.listen.model import Entry, Verdict, Waiting
    from trainer.listen.port import Event

MOST = 1000  # notes of one try that are listened to
BOUNCE = 0.02  # seconds in which no hand strikes a key twice, though a keyboard may send it so
STRIDE = 4  # chords that a player goes on by at once; more is a jump, or another story
PACE = 0.6  # seconds a quarter until more is known


class Patience(Frozen, frozen=True):
    """Seconds of silence that end a try; and how many chords into the next phrase its end is
    settled.

    No source. Whoever stops within the phrase for more than three seconds has broken off there, as
    does whoever goes on later: with five seconds, beginners thought that nothing was heard.
    """

    within: float = 3.0  # inside the phrase: the player may go on, or begin again
    over: float = 1.0  # or so much beyond what is written, where that is more
    arrived: float = 1.8  # on the first chords of the next phrase, or the last of the piece
    beyond: float = 1.4  # further into it
    some: int = 3  # chords into the next phrase from which on it is further
    enough: int = 8  # chords into it after which nothing more is judged
    written: float = 8.0  # seconds that a written note or rest may add


class Listening(Frozen, frozen=True):
    """How it stands. `onset` is the position (ql) of the chord where the player seems to be, None
    where that cannot be said; `last` is when the last key went down, on the port's clock, also
    after the end; `due` is when the try will be over if no other comes, None where it will not by
    itself. `crossed`: the next phrase has begun. `lost`: the instrument was away on the way to the
    join, and the try will not end by itself."""

    notes: int = 0
    onset: float | None = None
    said: Provisional | None = None
    last: float | None = None
    due: float | None = None
    ended: bool = False
    crossed: bool = False
    lost: bool = False
    sign: Sign | None = None


class Ear:
    """Hears one try at the start `asked`; `since` is when it was called, on the port's clock.

    `signs` may be shared by all tries of a drill; they are passed over where the piece has the same
    notes. After the end signs are still heard, and notes are not. Raises TrainerError for a start
    that is not waited for.
    """

    def __init__(
        self,
        waiting: Waiting,
        asked: str,
        policy: Policy = Policy(),  # noqa: B008
        signs: Signs | None = None,
        *,
        since: float = 0.0,
        patience: Patience = Patience(),  # noqa: B008
    ) -> None:
        from trainer.listen.match import Listener  # numpy

        self._made_of = waiting, asked, policy, signs, patience
        policy = replaced(policy, most=min(policy.most, MOST))
        self._listener = Listener(waiting, asked, policy)
        self._waiting, self._patience, self._since = waiting, patience, since
        self._entries = {entry.id: entry for entry in waiting.entries}
        silent = signs is None or clashes(signs.means, waiting)
        self._signs = signs if signs is not None and not silent else Signs(Means())
        self._struck: dict[int, float] = {}  # when each key last went down
        self._notes = 0
        self._said: Provisional | None = None
        self._last: float | None = None
        self._at: int | None = None  # the chord where the player seems to be,
        self._came = 0.0  # since when,
        self._paces: deque[float] = deque(maxlen=9)  # the seconds a quarter up to it,
        self._went = 0  # and the chords that were gone through on the way
        self._crossed = False
        self._judged: int | None = None  # notes that are judged, None for all
        self._due: float | None = None  # when it will be over if nothing more comes
        self._end: float | None = None
        self._lost = False
        self._sign: Sign | None = None
        self._verdict: Verdict | None = None

    def listen(self, events: Iterable[Event], time: float, *, connected: bool = True) -> Listening:
        """Take what a port gave; `time` is its clock from just before the taking. Where the
        instrument was not `connected` for a while on the way, what was not heard may have been
        played: such a try is over only by a sign or a key."""
        for event in events:
            self.hear(event)
        if not connected and self._notes and not self._crossed and self._end is None:
            self._lost, self._due = True, None
        self.tick(time)
        return self.now

    @property
    def now(self) -> Listening:
        at = self._at
        return Listening(
            notes=self._notes,
            onset=None if at is None else self._waiting.clusters[at].onset,
            said=self._said,
            last=self._last,
            due=self._due,
            ended=self._end is not None,
            crossed=self._crossed,
            lost=self._lost,
            sign=self._sign,
        )

    def anew(self, since: float) -> Ear:
        """An ear for the same start, called again at `since`."""
        waiting, asked, policy, signs, patience = self._made_of
        return Ear(waiting, asked, policy, signs, since=since, patience=patience)

    def beginning(self, start: str) -> float:
        """The position (ql) of a start's first chord."""
        return self._waiting.clusters[self._entries[start].at].onset

    @property
    def verdict(self) -> Verdict:
        """What was heard up to the end, or so far. Worked out once after the end, which takes
        hundredths of a second, and tenths for notes that are not of the piece; after the end it
        may be asked for in a thread of its own."""
        if self._verdict is None or self._end is None:
            through = self._crossed or self._judged is not None  # what came after it is no stop
            end = None if self._end is None or through else self._end - self._since
            self._verdict = self._listener.end(end, self._judged)
        return self._verdict

    def hear(self, event: Event) -> None:
        """Take an event. What came before the call belongs to no try."""
        if event.time < self._since:
            return
        self._take(self._signs.hear(event))

    def tick(self, time: float) -> None:
        """Nothing came until now."""
        self._take(self._signs.tick(time))
        self._expire(time)

    def finish(self, time: float) -> None:
        """End it now: the player pressed a key of the computer."""
        self._expire(time)
        self._stop(time)

    def _take(self, sign: Sign | None) -> None:
        """The keys that turned out to be notes, and a sign that turned out to be one."""
        for note in self._signs.notes():
            if sign is not None and note.time > self._signs.began:
                self._signed(sign)
            self._note(note)
        if sign is not None:
            self._signed(sign)

    def _signed(self, sign: Sign) -> None:
        self._expire(self._signs.began)
        self._stop(self._signs.began)
        self._sign = self._sign or sign

    def _note(self, event: Event) -> None:
        if event.time < self._since:  # held back since before the call
            return
        if event.chance < SURE:  # it keeps no silence waiting
            if self._end is None:
                self._listener.hear(event.since(self._since))
            return
        before = self._struck.get(event.pitch)
        self._struck[event.pitch] = self._last = event.time
        if before is not None and event.time - before < BOUNCE:
            return
        self._expire(event.time)
        if self._end is not None:
            return
        heard = event.since(self._since)
        self._notes += 1
        said = self._listener.hear(heard)
        if said is not None:
            self._said = said
            self._follow(event.time, said)
        if not self._lost and self._notes >= self._listener.policy.first:
            self._due = event.time + self._silence()

    def _follow(self, time: float, said: Provisional) -> None:
        """Keep up with where the player is, at what pace, and whether the join was crossed."""
        before, at = self._at, self._listener.at
        if at is None or said.leading not in self._entries:
            self._at = None
            return
        entry, clusters = self._entries[said.leading], self._waiting.clusters
        if before is None:
            self._went = max(self._went, min(said.notes, at - entry.at + 1))
        elif 0 < at - before <= STRIDE:
            self._went += 1
            self._paces.append((time - self._came) / (clusters[at].onset - clusters[before].onset))
        if at != before:
            self._at, self._came = at, time
        join = self._join(entry)
        gone_through = 2 * self._went >= join - entry.at  # and not jumped over
        self._crossed = at >= join and (self._crossed or gone_through)
        settled = self._crossed and said.final and at - join >= self._patience.enough
        if settled and self._judged is None:
            self._judged = said.notes

    def _join(self, entry: Entry) -> int:
        """The chord where the next phrase begins, or the last one of the piece."""
        return min(entry.join, len(self._waiting.clusters) - 1)

    def _silence(self) -> float:
        """How long nothing has to come for the try to be over."""
        patience, at = self._patience, self._at
        if at is None or self._said is None:
            return patience.within
        clusters = self._waiting.clusters
        written = 0.0
        if at + 1 < len(clusters):
            pace = median(self._paces) if self._paces else PACE
            written = min(patience.written, (clusters[at + 1].onset - clusters[at].onset) * pace)
        if not self._crossed and self._judged is None:
            return max(patience.within, written + patience.over)
        into = at - self._join(self._entries[self._said.leading])
        far = self._judged is not None or into >= patience.some
        return patience.beyond if far else patience.arrived

    def _expire(self, time: float) -> None:
        """End it if the silence was long enough by now, unless what came in it is held back until
        it is known to be a sign or a note."""
        due, held = self._due, self._signs.since
        if due is not None and time >= due and (held is None or held >= due):
            self._stop(due)

    def _stop(self, time: float) -> None:
        if self._end is None:
            self._end, self._due = time, None
