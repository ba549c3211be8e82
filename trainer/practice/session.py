"""A drill as an exercise (`practice.exercise`): its states, and the table of what each act does.

A session is given its calls in their order and asks nobody.

    calling   --through, stopped, broke off, looked, nothing-->  calling (the next call)
    calling   --elsewhere-->  choosing  --choose-->  calling
    calling   --pause-->      paused    --resume-->  calling
    any       --stop-->       over
    calling   --amend-->      amending  --an outcome-->  calling
    calling   --heard-->      told      --resume-->  calling
    told      --again-->      calling (the same start at once)
    told      --an outcome--> told (the player says otherwise than was heard)
    told      --elsewhere-->  choosing told  --choose, cancel-->  told

A try that is heard is recorded at once and the player is told; time counts from the next call.
A key counts where nothing was heard, and over what was heard. A drill that has no call left is
over; one that has run for 25 minutes rests. Times are aware instants, given with each action.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from enum import StrEnum

from msgspec.structs import replace

from trainer.practice.drills import COLD, drill_kind
from trainer.practice.exercise import (
    TABLES,
    Act,
    Action,
    Exercise,
    Record,
    Row,
    attempt,
    nothing_more,
    taken_back,
    within,
)
from trainer.practice.order import Spot, in_again
from trainer.record.attempt import PAGE, Attempt, Judge, Outcome
from trainer.score.cite import counted
from trainer.values import Frozen

REST_AFTER = 25 * 60.0  # seconds of drill, then a rest of five minutes is offered
BREAK = 5 * 60.0  # seconds without a try that count as a rest


class State(StrEnum):
    CALLING = "calling"
    CHOOSING = "choosing"  # elsewhere: at which start?
    AMENDING = "amending"  # what was the last try really?
    CHOOSING_AMENDED = "choosing amended"
    CHOOSING_TOLD = "choosing told"
    TOLD = "told"  # what was heard stands recorded; the player may say otherwise
    PAUSED = "paused"
    RESTING = "resting"
    OVER = "over"


# The letter for each act of a player: on every screen and in the line mode alike.
LETTERS: dict[str, Act] = {
    "t": Act.THROUGH,
    "s": Act.STOPPED,
    "b": Act.BROKE_OFF,
    "l": Act.LOOKED,
    "n": Act.NOTHING,
    "e": Act.ELSEWHERE,
    "h": Act.HINT,
    "p": Act.PAUSE,
    "a": Act.AMEND,
    "u": Act.UNDO,
    "q": Act.STOP,
}


class Call(Frozen, frozen=True):
    """One start to be called: all that the player is told, and what the log needs.

    `hints` are the names of the hints there are, in the order in which they are given. Where the
    join alone is called, `into` says what it leads into ("into start 6"), `shown` is that start's
    number and `place` names the join.
    """

    spot: Spot
    deck: str
    revision: str
    title: str
    number: int
    place: str
    hints: tuple[str, ...] = ()
    into: str = ""
    leads: int = 0  # the number of the start that a join leads into, 0 at the end

    @property
    def shown(self) -> int:
        """The number that stands large."""
        return self.leads or self.number

    @property
    def called(self) -> str:
        """ "Start 7", or "Into start 6"."""
        return f"{self.into[0].upper()}{self.into[1:]}" if self.into else f"Start {self.number}"

    @property
    def words(self) -> str:
        """ "Start 7, b. 41", or "Into start 6, from b. 20"."""
        if self.into:
            return f"{self.place[0].upper()}{self.place[1:]}"
        return f"{self.called}, {self.place}"


class Session(Exercise, frozen=True):
    """A drill as it stands. `calls[position]` is the call that waits for its outcome;
    `tries` are the attempts of this drill that stand, and `before` the calls as they were
    before each of them, so that an undo can go back. `again` says that the present call is the
    last one once more, as the player wished."""

    drill: str
    calls: tuple[Call, ...]
    since: datetime  # when the present call (or rest) began
    judge: Judge = "self"
    state: State = State.CALLING
    position: int = 0
    hints: tuple[str, ...] = ()  # taken at the present call
    taken: tuple[Attempt, ...] = ()  # tries taken back since the last one was made
    seen: frozenset[str] = frozenset()  # starts whose page was shown and whose try is no more
    paused: float = 0.0  # seconds of pause within the present call
    drilled: float = 0.0  # seconds since the last rest
    tries: tuple[Attempt, ...] = ()
    before: tuple[tuple[Call, ...], ...] = ()
    rests: int = 0
    stopped: bool = False  # by the player, before the calls were done
    again: bool = False
    warm: frozenset[str] = frozenset()  # starts played today: no attempt at them counts as cold
    safe: frozenset[str] = frozenset()  # starts that may be left out today
    earlier: tuple[str, ...] = ()  # the starts called today before this drill, each time

    @property
    def planned(self) -> tuple[Call, ...]:
        """The calls as the drill began, without those that are asked again."""
        return self.before[0] if self.before else self.calls

    @property
    def rest_is_safe(self) -> bool:
        """Whether all that is still to be called may be left out today."""
        rest = self.calls[self.position :]
        return bool(rest and self.position) and all(call.spot.id in self.safe for call in rest)

    @property
    def not_cold(self) -> str:
        """What the player is told before the drill where attempts will not count as cold."""
        if drill_kind(self.drill).apart:
            return "Attempts in this drill do not count as cold."
        starts = {call.spot.id for call in self.planned}
        warm = len(starts & self.warm)
        if not warm:
            return ""
        if warm == len(starts):
            return (
                "These starts were played today already. This is practice: no attempt counts as "
                "cold."
            )
        were = "was" if warm == 1 else "were"
        return (
            f"{warm} of {counted(len(starts), 'start')} {were} played today already: attempts at "
            f"{'it' if warm == 1 else 'them'} do not count as cold."
        )

    @property
    def title(self) -> str:
        """The name of the drill; one without a cold attempt is not called cold."""
        kind = drill_kind(self.drill)
        none = bool(self.planned) and all(call.spot.id in self.warm for call in self.planned)
        return "Practice" if none and kind.name == COLD else kind.title

    @property
    def call(self) -> Call | None:
        """The call that waits, None when the drill has no more."""
        return self.calls[self.position] if self.position < len(self.calls) else None

    @property
    def last(self) -> Attempt | None:
        return self.tries[-1] if self.tries else None

    @property
    def last_call(self) -> Call | None:
        """The call of the last try: its page stands above the present call."""
        return self.calls[self.position - 1] if self.tries else None

    @property
    def progress(self) -> str:
        """How far the drill is: "3 of 8"; where misses are asked again, "3 of 9, 1 asked again"."""
        again = len(self.calls) - len(self.planned)
        here = self.position + (self.state is not State.TOLD)
        at = f"{min(here, len(self.calls))} of {len(self.calls)}"
        return f"{at}, {again} asked again" if again else at

    def allows(self, act: Act) -> bool:
        needs_a_try = act in (Act.AMEND, Act.UNDO)
        return Exercise.allows(self, act) and (bool(self.tries) or not needs_a_try)

    def takes(self, action: Action) -> bool:
        return Exercise.takes(self, action) and (
            action.act is not Act.HEARD or action.heard is not None
        )

    def settled(self) -> Session:
        """A drill without a call is over; after 25 minutes it rests."""
        if self.state is not State.CALLING:
            return self
        if self.call is None or self.stopped:
            return replace(self, state=State.OVER)
        if self.drilled >= REST_AFTER:
            return replace(self, state=State.RESTING, drilled=0.0, rests=self.rests + 1)
        return self


Step = tuple[Session, tuple[Record, ...]]


def drilled_lately(attempts: Sequence[Attempt], now: datetime) -> float:
    """Seconds of drill up to `now` without a break of five minutes; `attempts` oldest first."""
    total = 0.0
    for one in reversed(attempts):
        if not 0 <= (now - one.at).total_seconds() < BREAK:
            break
        total += one.seconds or 0.0
        now = one.at - timedelta(seconds=one.seconds or 0.0)
    return total


def begin(
    student: str,
    machine: str,
    drill: str,
    calls: tuple[Call, ...],
    at: datetime,
    *,
    judge: Judge = "self",
    drilled: float = 0.0,
    warm: frozenset[str] = frozenset(),
    earlier: tuple[str, ...] = (),
    safe: frozenset[str] = frozenset(),
) -> Session:
    """A new session. `drilled` is the seconds already drilled since the last rest; `warm` are the
    starts that were played today, `earlier` those that were called, each time; `safe` may be left
    out."""
    return Session(
        student,
        machine,
        drill,
        calls,
        at,
        judge,
        State.CALLING if calls else State.OVER,
        drilled=drilled,
        warm=warm,
        earlier=earlier,
        safe=safe,
    )


def _record(session: Session, action: Action) -> Step:
    call = session.call
    if call is None:
        return session, ()
    if len(session.taken) == 1 and session.hints == _given(session.taken[0]) and not action.heard:
        return _put_right(session, session.taken[0], action)
    elapsed = (action.at - session.since).total_seconds()
    seconds = within(elapsed - session.paused)
    made = attempt(
        session,
        action,
        _outcome(action),
        deck=call.deck,
        revision=call.revision,
        start=call.spot.id,
        drill=session.drill,
        judge=session.judge,
        hands=action.hands,
        tempo=action.tempo,
        hints=(*session.hints, PAGE) if call.spot.id in session.seen else session.hints,
        elsewhere=action.start,
        broke_at=action.broke_at,
        seconds=seconds,
        latency=None if action.latency is None else within(action.latency),
        heard=action.heard,
    )
    if action.act is Act.HEARD and action.heard is not None:
        said = action.heard
        made = replace(made, judge="heard", elsewhere=said.elsewhere, broke_at=said.broke_at)
    tried = _tried(replace(session, drilled=session.drilled + seconds), made)
    return _fresh(tried, action.at), (made,)


def _tried(session: Session, attempt: Attempt) -> Session:
    """The session after the try of its present call."""
    after = replace(
        session,
        position=session.position + 1,
        tries=(*session.tries, attempt),
        before=(*session.before, session.calls),
        seen=session.seen - {attempt.start},
        again=False,
    )
    return _called_again(after, attempt)


def _put_right(session: Session, taken: Attempt, action: Action) -> Step:
    """A wrong key, put right at once: it is the same try, when it was made and as cold as it was.
    Nothing was played since: what is played anew is heard, or asks for another hint."""
    attempt = _corrected(session, taken, action)
    return _fresh(_tried(session, attempt), action.at), (attempt,)


def _given(attempt: Attempt) -> tuple[str, ...]:
    """The hints of a try, but for its page."""
    return tuple(name for name in attempt.hints if name != PAGE)


def _outcome(action: Action) -> Outcome:
    if action.act is Act.HEARD and action.heard is not None:
        return action.heard.outcome
    return Outcome.ELSEWHERE if action.act is Act.CHOOSE else Outcome(action.act.value)


def _called_again(session: Session, attempt: Attempt) -> Session:
    """After a miss the same start comes again later in the drill, where nothing cues it."""
    here = session.position - 1
    call = session.calls[here]
    count = sum(1 for other in session.calls if other.spot.id == call.spot.id)
    count += session.earlier.count(call.spot.id)
    if attempt.outcome.start_held or count > drill_kind(session.drill).again:
        return session
    spots = [other.spot for other in session.calls]
    index = in_again(spots, call.spot, here)
    if index is None:
        return session
    return replace(session, calls=(*session.calls[:index], call, *session.calls[index:]))


def _amended(session: Session, action: Action) -> Step:
    """Correct the last try: it is taken back, and a corrected one stands in its place, with what
    was heard of it. To say the same as was heard confirms it."""
    last = session.last
    if last is None or (last.judge == "heard" and _same(last, action)):
        return session, ()
    corrected = _corrected(session, last, action)
    back = replace(session, calls=session.before[-1], tries=(*session.tries[:-1], corrected))
    retraction = taken_back(session, action, last, 1)
    after = _called_again(back, corrected)
    return (_at_once(after) if session.again else after), (retraction, corrected)


def _corrected(session: Session, wrong: Attempt, action: Action) -> Attempt:
    """The same try with another outcome."""
    return replace(
        wrong,
        id=action.ids[0],
        outcome=_outcome(action),
        judge=session.judge,
        elsewhere=action.start,
        broke_at=action.broke_at,
        amends=wrong.id,
    )


def _overruled(session: Session, action: Action) -> Step:
    """The player says how the heard try went."""
    return _amended(_fresh(session, action.at), action)


def _same(last: Attempt, action: Action) -> bool:
    """Whether an action says of a try what stands of it already."""
    said = (_outcome(action), action.start)
    return (last.outcome, last.elsewhere) == said and action.broke_at in (None, last.broke_at)


def _again(session: Session, action: Action) -> Step:
    """Call the start of the last try again at once; the calls after it stay in their order."""
    return _at_once(_fresh(session, action.at)), ()


def _at_once(session: Session) -> Session:
    call, here = session.last_call, session.position
    if call is None:
        return session
    return replace(session, calls=(*session.calls[:here], call, *session.calls[here:]), again=True)


def _undo(session: Session, action: Action) -> Step:
    """Take the last try back; its start is called again. The next key puts the try right, if none
    was answered since; a new try of it is no longer from memory alone: its hints were given and
    its page was shown. So it is with all others that were taken back before it."""
    last = session.last
    if last is None:
        return session, ()
    back = replace(
        session,
        calls=session.before[-1],
        before=session.before[:-1],
        tries=session.tries[:-1],
        position=session.position - 1,
        stopped=False,
        again=False,
    )
    retraction = taken_back(session, action, last)
    fresh = _fresh(back, action.at)
    taken = (*session.taken, last)
    seen = session.seen | {last.start}
    return replace(fresh, hints=_given(last), taken=taken, seen=seen), (retraction,)


def _fresh(session: Session, at: datetime) -> Session:
    return replace(session, since=at, paused=0.0, hints=(), taken=())


def _hint(session: Session, _action: Action) -> Step:
    """Take the next hint of the present call."""
    call = session.call
    given = len(session.hints)
    if call is None or given >= len(call.hints):
        return session, ()
    return replace(session, hints=(*session.hints, call.hints[given])), ()


def _pause(session: Session, action: Action) -> Step:
    # While paused, `paused` holds minus the seconds from the call to the pause.
    elapsed = (action.at - session.since).total_seconds()
    return replace(session, paused=session.paused - elapsed), ()


def _resume(session: Session, action: Action) -> Step:
    elapsed = (action.at - session.since).total_seconds()
    return replace(session, paused=session.paused + elapsed), ()


def _anew(session: Session, action: Action) -> Step:
    """After a rest, or after being told: the time of the call counts from now."""
    return _fresh(session, action.at), ()


def _stop(session: Session, _action: Action) -> Step:
    return replace(session, stopped=True), ()


_PLAYED = (Act.THROUGH, Act.STOPPED, Act.BROKE_OFF, Act.LOOKED, Act.NOTHING)

TABLES[Session] = {
    **{(State.CALLING, act): Row(_record, State.CALLING) for act in _PLAYED},
    (State.CALLING, Act.ELSEWHERE): Row(nothing_more, State.CHOOSING),
    (State.CALLING, Act.HINT): Row(_hint, State.CALLING),
    (State.CALLING, Act.PAUSE): Row(_pause, State.PAUSED),
    (State.CALLING, Act.UNDO): Row(_undo, State.CALLING),
    (State.CALLING, Act.AMEND): Row(nothing_more, State.AMENDING),
    (State.CALLING, Act.STOP): Row(_stop, State.OVER),
    (State.CALLING, Act.HEARD): Row(_record, State.TOLD),
    (State.TOLD, Act.RESUME): Row(_anew, State.CALLING),
    (State.TOLD, Act.AGAIN): Row(_again, State.CALLING),
    **{(State.TOLD, act): Row(_overruled, State.TOLD) for act in _PLAYED},
    (State.TOLD, Act.ELSEWHERE): Row(nothing_more, State.CHOOSING_TOLD),
    (State.TOLD, Act.UNDO): Row(_undo, State.CALLING),
    (State.TOLD, Act.STOP): Row(_stop, State.OVER),
    (State.CHOOSING_TOLD, Act.CHOOSE): Row(_overruled, State.TOLD),
    (State.CHOOSING_TOLD, Act.CANCEL): Row(nothing_more, State.TOLD),
    (State.CHOOSING_TOLD, Act.STOP): Row(_stop, State.OVER),
    (State.CHOOSING, Act.CHOOSE): Row(_record, State.CALLING),
    (State.CHOOSING, Act.CANCEL): Row(nothing_more, State.CALLING),
    (State.CHOOSING, Act.STOP): Row(_stop, State.OVER),
    **{(State.AMENDING, act): Row(_amended, State.CALLING) for act in _PLAYED},
    (State.AMENDING, Act.ELSEWHERE): Row(nothing_more, State.CHOOSING_AMENDED),
    (State.AMENDING, Act.CANCEL): Row(nothing_more, State.CALLING),
    (State.AMENDING, Act.STOP): Row(_stop, State.OVER),
    (State.CHOOSING_AMENDED, Act.CHOOSE): Row(_amended, State.CALLING),
    (State.CHOOSING_AMENDED, Act.CANCEL): Row(nothing_more, State.CALLING),
    (State.CHOOSING_AMENDED, Act.STOP): Row(_stop, State.OVER),
    (State.PAUSED, Act.RESUME): Row(_resume, State.CALLING),
    (State.PAUSED, Act.STOP): Row(_stop, State.OVER),
    (State.RESTING, Act.RESUME): Row(_anew, State.CALLING),
    (State.RESTING, Act.STOP): Row(_stop, State.OVER),
    (State.OVER, Act.UNDO): Row(_undo, State.CALLING),
    (State.OVER, Act.AMEND): Row(nothing_more, State.AMENDING),
}


def picture() -> str:
    """The table as text, a line a state: its acts and where they lead."""
    lines = []
    for state in State:
        acts = [
            f"{act} > {row.to}" for (here, act), row in TABLES[Session].items() if here is state
        ]
        lines.append(f"{state}: " + "; ".join(acts))
    return "\n".join(lines)
