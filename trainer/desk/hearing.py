"""A drill by ear: an instrument hears each try, and signs on it do what keys do.

One `Hearing` goes with one drill, on a screen or line by line:

    hearing.attend(session, view)    # whenever the drill has gone on
    seen = hearing.look()            # some thirty times a second
    tried = hearing.tried()          # once seen.ended: what was heard, and what it comes to
    hearing.act(sign, session)       # what a sign does now

What is recorded goes through `Desk.act`, as from a key.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from time import perf_counter
from typing import TYPE_CHECKING, Any

from msgspec.structs import replace

from trainer.deck.page import before_join
from trainer.listen.model import Policy, exact
from trainer.listen.proposal import Lenience, Proposal, propose
from trainer.listen.signs import LOW_KEY, Means, Sign, Signs, clashes, words_of
from trainer.listen.words import notes_sentence
from trainer.practice.drills import drill_kind
from trainer.practice.exercise import Act
from trainer.practice.session import Session, State
from trainer.record.attempt import Outcome
from trainer.score.cite import BRITISH
from trainer.values import Frozen

if TYPE_CHECKING:
    from datetime import datetime

    from trainer.deck.model import Piece, Start
    from trainer.listen.ear import Ear, Listening
    from trainer.listen.model import Verdict, Waiting
    from trainer.listen.port import Event, Port
    from trainer.reports.view import View

WAITING = 2.0  # seconds of silence after which it is said that nothing comes
BACK = 3.0  # and after which, once the instrument is there again, nobody plays on
SOON = 3.0  # seconds after a call in which nobody has given up yet
TOO_LITTLE = "Too little was heard to judge it."
BY_A_KEY = {*(Act(outcome.value) for outcome in Outcome), Act.CHOOSE}  # tell how a try went
EXACT = 1e-9  # quarters that two places may differ by and be one


class Seen(Frozen, frozen=True):
    """How it stands. `bar` counts the bars of the try from 1, wherever it was begun, so that it
    tells nobody whether that was right; 0 before anything is recognised. `crossed`: it is in the
    next phrase. `waiting`: for some seconds nothing has come, and it is not over. `ended`: the try,
    of one note at least, has just come to its end. `lost`: the instrument was away on the way;
    `back`: it is there again, and what is played now is heard from the beginning. `failed`: the
    ear can hear nothing any more. `unknown`: the notes of what is called are not known, so that
    none is listened to. `note` says how well a microphone hears, until something is heard. `sign`
    is told once, with the end that it makes or alone."""

    connected: bool
    bar: int = 0
    crossed: bool = False
    waiting: bool = False
    ended: bool = False
    lost: bool = False
    back: bool = False
    failed: bool = False
    unknown: bool = False
    note: str = ""
    sign: Sign | None = None


class Tried(Frozen, frozen=True):
    """A try that was heard: the verdict, and the outcome that it comes to, if it comes to one."""

    piece: Piece
    verdict: Verdict
    proposal: Proposal

    @property
    def notes(self) -> str:
        """What was wrong with the notes, in a sentence; "" where nothing was."""
        return notes_sentence(self.verdict) if self.verdict.played else ""

    @property
    def fields(self) -> dict[str, Any]:
        """What goes into the log beside an outcome, as `Desk.act` takes it."""
        proposal = self.proposal
        return {
            "heard": proposal.witness,
            "latency": proposal.latency,
            "tempo": proposal.tempo,
            "hands": proposal.hands,
        }


class Hearing:
    """The ear of one drill. `clock` is the port's, in seconds."""

    def __init__(
        self,
        port: Port,
        means: Means = LOW_KEY,
        policy: Policy = Policy(),  # noqa: B008
        clock: Callable[[], float] = perf_counter,
    ) -> None:
        self.port = port
        self._means, self._policy, self._clock = means, policy, clock
        self._signs = Signs(means)
        self._waiting: dict[tuple[str, bool], Waiting] = {}
        self._call: tuple[int, datetime] | None = None  # what the ear listens to
        self._piece: Piece | None = None
        self._words = BRITISH
        self._ear: Ear | None = None
        self._heard: Listening | None = None
        self._known: tuple[tuple[int, datetime] | None, Tried] | None = None  # of which call
        self._since = self._counted = 0.0  # when it was called, and the seconds counted up to it
        self._met = False  # whether the instrument was ever there,
        self._there = True  # whether it was at the last look,
        self._came = 0.0  # since when it is there again,
        self._back = False  # and whether that was in this call
        self.failed = False  # nothing can be heard any more

    @property
    def sign(self) -> str:
        """What is pressed for the next call, in words; "" where there are no signs: none are
        wanted, or the piece has the same notes."""
        return words_of(self._signs.means)

    @property
    def asked(self) -> bool:
        """Whether the try has ended and the drill still waits: a key has to say how it went, unless
        its verdict comes."""
        return self._call is not None and self._heard is not None and self._heard.ended

    def act(self, sign: Sign, session: Session) -> Act | None:
        """What a signal does now. "next" goes on; at a call, before any note, it records NOTHING,
        except just after the call, when it may be a slow second press. "again" calls the last
        start once more; "stop" ends the drill. None if it does nothing."""
        calling = session.state is State.CALLING
        soon = self._clock() - self._since < SOON
        if session.state is State.OVER:
            return None
        if calling and sign == "next" and (self.asked or soon):
            return None
        acts = {"next": Act.NOTHING if calling else Act.RESUME, "again": Act.AGAIN}
        wanted = acts.get(sign, Act.STOP)
        return wanted if session.allows(wanted) else None

    def attend(self, session: Session, view: View) -> None:
        """Listen at the call that waits, anew where it has changed; without one, to signs alone."""
        call = session.call
        hears = session.judge == "self" and drill_kind(session.drill).heard
        if session.state is not State.CALLING or call is None or not hears or self.failed:
            self.rest()
        elif self._call != (session.position, session.since):
            found = view.find(call.deck, call.spot.id)
            self._call = session.position, session.since
            self._ear = self._heard = None
            self._back = False
            if found is not None:
                self._begin(*found, joins=drill_kind(session.drill).begins == "before the join")
                self._words = view.words

    def rest(self) -> None:
        """Listen to signs alone, until something else waits."""
        self._call = self._ear = self._heard = None

    def again(self) -> None:
        """Listen at the same call from its beginning."""
        if self._ear is not None:
            self._anew(self._clock())

    def _anew(self, since: float) -> None:
        assert self._ear is not None
        self._ear, self._heard = self._ear.anew(since), None
        self._known = None

    def _ready(self, now: float) -> None:
        """The time of the call is counted from now on."""
        if self._ear is not None:
            self._since, self._counted = now, 0.0
            self._anew(now)

    def pass_over(self) -> None:
        """Take what has come, and listen to none of it: something else is being looked at. The
        call stands, and its time goes on."""
        now = self._clock()
        events = self.port.take()
        self._came_or_went(now, connected=self.port.connected)
        self._signed(events, now)

    def counted(self, seconds: float) -> None:
        """A count is given up to the call, which the player waits for."""
        self._counted = self._clock() + seconds - self._since if self._ear else 0.0

    def _begin(self, piece: Piece, start: Start, *, joins: bool) -> None:
        from trainer.listen.ear import Ear  # numpy

        key = piece.deck.id, joins
        if key not in self._waiting:
            self._waiting[key] = _waiting(piece, joins=joins)
        waiting = self._waiting[key]
        means = Means() if clashes(self._means, waiting) else self._means
        if self._signs.means != means:
            self._signs = Signs(means)
        self._piece = piece
        self._since, self._counted = self._clock(), 0.0
        if any(entry.id == start.id for entry in waiting.entries):  # else it has no notes
            self._ear = Ear(waiting, start.id, self._policy, self._signs, since=self._since)

    def look(self) -> Seen:
        """Take what has come since the last look. No mistake in the ear ends a drill: where there
        is one, nothing is heard any more, and the letters tell."""
        now = self._clock() - self.port.delay
        events, connected = self.port.take(), self.port.connected
        self._came_or_went(events[0].time if events else now, connected=connected)
        try:
            return self._look(events, now, connected=connected)
        except Exception:
            self.failed = True
            self.rest()
            return Seen(connected, failed=True)

    def _look(self, events: tuple[Event, ...], now: float, *, connected: bool) -> Seen:
        ear, before = self._ear, self._heard
        if ear is None or (before is not None and before.ended):
            sign = self._signed(events, now)
            unknown = ear is None and self._call is not None
            note = "" if before else self.port.note
            return Seen(connected, sign=sign, failed=self.failed, unknown=unknown, note=note)
        heard = self._heard = ear.listen(events, now, connected=connected)
        ended = heard.ended and heard.notes > 0
        if heard.ended and not ended:
            self.again()
        last = max(self._came, heard.last or 0.0)
        if heard.lost and connected and now - last >= BACK:
            self._ready(now)
            self._back = True
        return Seen(
            connected,
            self._bar(heard),
            crossed=heard.crossed,
            waiting=heard.due is not None and heard.last is not None and now - heard.last > WAITING,
            ended=ended,
            lost=heard.lost,
            back=self._back and not heard.notes,
            note="" if heard.notes else self.port.note,
            sign=heard.sign,
        )

    def _came_or_went(self, now: float, *, connected: bool) -> None:
        """Where the instrument comes back before the first note, the call counts from now on."""
        if connected and not self._there:
            self._came = now
            self._back = self._met and self._ear is not None
            if self._heard is None or not self._heard.notes:
                self._ready(now)
        self._met |= connected
        self._there = connected

    def tried(self) -> Tried | None:
        """What was heard of the try, up to now where it has not ended; None where that cannot be
        judged: too few notes, or the instrument was away. Takes hundredths of a second, and may be
        asked in another thread."""
        call, ear, piece, heard = self._call, self._ear, self._piece, self._heard
        if ear is None or piece is None or heard is None:
            return None
        if heard.lost or heard.notes < self._policy.first:
            return None
        ear.finish(self._clock())
        try:
            verdict = ear.verdict
        except Exception:  # as in `look`
            self.failed = True
            return None
        if verdict.latency is not None:
            verdict = replace(verdict, latency=max(0.0, verdict.latency - self._counted))
        tried = Tried(piece, verdict, propose(verdict, piece, Lenience(), self._words))
        self._known = call, tried
        return tried

    def witnessed(self, session: Session, act: Act) -> dict[str, Any]:
        """What goes into the log beside an outcome that a key tells, as `Desk.act` takes it; empty
        for any other act, and where too little was heard."""
        if act not in BY_A_KEY or session.state not in (State.CALLING, State.CHOOSING):
            return {}
        call = session.position, session.since
        if self._call == call:
            self.tried()
        known = self._known
        return known[1].fields if known and known[0] == call else {}

    def close(self) -> None:
        self.rest()
        self.port.close()

    def _signed(self, events: tuple[Event, ...], now: float) -> Sign | None:
        """A sign among events that belong to no try."""
        found = None
        for event in events:
            found = self._signs.hear(event) or found
        found = self._signs.tick(now) or found
        self._signs.notes()
        return found

    def _bar(self, heard: Listening) -> int:
        """Which bar of the try it is."""
        if heard.onset is None or heard.said is None or self._ear is None or self._piece is None:
            return 0
        begun = self._ear.beginning(heard.said.leading)
        bars = [_bar_of(self._piece, onset) for onset in (begun, heard.onset)]
        return max(0, bars[1] - bars[0]) + 1


def _bar_of(piece: Piece, onset: float) -> int:
    return piece.score.bar_at(exact(onset)).index


def _waiting(piece: Piece, *, joins: bool) -> Waiting:
    """What is waited for: the starts of a piece, or the bars before their joins."""
    from trainer.listen.score import waiting

    found = waiting(piece)
    if not joins:
        return found
    onsets = [cluster.onset for cluster in found.clusters]
    places = {start.id: float(before_join(piece, start)) for start in piece.deck.starts}
    entries = (
        replace(entry, at=bisect_left(onsets, places[entry.id] - EXACT)) for entry in found.entries
    )
    return replace(found, entries=tuple(sorted(entries, key=lambda entry: entry.at)))
