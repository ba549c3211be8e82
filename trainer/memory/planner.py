"""What to drill today, and when each start is called next.

Only open starts are drawn; the planner never opens one by itself. The drill gives the order.
Every plan is made from what is believed now: days that were missed leave no debt. The numbers
are in `scene` and `price`, which import numpy and are imported here only when asked.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from trainer.dates import near_by
from trainer.deck.model import Deck
from trainer.memory.model import FADING, HOLDS, STUCK_FROM, Beliefs, Spent
from trainer.record.attempt import practice_day
from trainer.record.people import Opening, Recital, Student, open_starts
from trainer.record.plan import Held, Plan, Slot
from trainer.values import Frozen

if TYPE_CHECKING:
    from trainer.memory.scene import Because, Columns, Scene

OPTIONAL_WEIGHT = 0.5  # of a piece that may also be played with music
PRIOR_TRIES = 5  # tries that the usual seconds of a try are worth
HELD_SECONDS, FAILED_SECONDS = 23.0, 35.0  # of an attempt with its music, until a log says better
LOOK_AHEAD = 60  # days that the next calls are sought in
AVERAGED = 28  # days whose minutes say how long it takes to call all
LIGHT, LIGHT_SECONDS = 0.5, 300.0  # of the usual time the day before a recital, and no less than


class NextCall(Frozen, frozen=True):
    """When a start is called next: None where no day within the next weeks calls it.

    `since` are the days between its last cold try and that call, None without either.
    """

    deck: str
    start: str
    day: date | None
    since: int | None = None


@dataclass(frozen=True)
class Target:
    """When a deck's starts have to hold: a recital's day, or four weeks on without one."""

    left: int  # days
    recital: str  # the recital's name, or empty
    weight: float = 1.0


@dataclass(frozen=True)
class Candidate:
    """An open start that may be called."""

    deck: str
    start: str
    target: Target
    opened: datetime


def plan(
    student: Student,
    beliefs: Beliefs,
    openings: Sequence[Opening],
    decks: Mapping[str, Deck],
    recitals: Sequence[Recital],
    now: datetime,
    seconds: float | None = None,
    kin: Mapping[str, frozenset[str]] | None = None,
    homework: Mapping[str, date] | None = None,
) -> Plan:
    """Today's calls, the most wanted first, within `seconds` (default: the student's minutes).

    `now` is an aware local instant; all arguments are this student's. `kin` gives the
    look-alikes of a start: two of them are not begun on one day. `homework` says until which day
    the teacher asks for starts: they come first. Each slot's seconds are what
    its try is likely to cost. At least one start is called if any is wanted; on a day off, or
    when all were tried today, none is.
    """
    from trainer.memory.scene import chosen

    today = practice_day(now)
    found = candidates(openings, decks, recitals, now)
    given = _given(student, today, found) if seconds is None else seconds
    if not found or given <= 0:
        return Plan(student.id, today, ())
    asked = homework or {}
    scene = scene_of(student, beliefs, found, now, kin or {}, asked)
    calls = chosen(scene, given)
    ids = [found[call.row].start for call in calls]
    starts, joins = (beliefs.chances(ids, now, part) for part in ("start", "join"))
    now_holds = {one: (starts.get(one, 0.0), joins.get(one, 1.0)) for one in ids}
    slots = tuple(
        Slot(
            found[row].deck,
            found[row].start,
            _homework(asked[found[row].start])
            if because == "homework"
            else _why(found[row], because, beliefs, now, now_holds[found[row].start], safe=safe),
            round(seconds, 1),
            safe,
        )
        for row, because, seconds, safe in calls
    )
    called = {call.row for call in calls}
    return Plan(student.id, today, slots, tuple(_held_back(scene, found, called, decks)))


def _held_back(
    scene: Scene, found: Sequence[Candidate], called: Collection[int], decks: Mapping[str, Deck]
) -> Iterator[Held]:
    """The starts that wait for a reason of their own, not for want of minutes."""
    from trainer.memory.scene import LAST_OPENING, STUCK_EVERY, copes

    coping = copes(scene)
    for row in (~scene.done & (scene.stuck | ~scene.start.tried)).nonzero()[0].tolist():
        if row in called:
            continue
        one, new = found[row], not scene.start.tried[row]
        twins = [other for other in (scene.kin[row] if scene.kin else ()) if other in called]
        begun = [other for other in sorted(twins) if not scene.start.tried[other]]
        if scene.stuck[row] and scene.age[row] < STUCK_EVERY:
            yield Held(one.deck, one.start, f"{STUCK} It comes once a week.")
        elif new and begun:
            number = decks[found[begun[0]].deck].start(found[begun[0]].start).number
            yield Held(
                one.deck, one.start, f"One look-alike at a time: start {number} is new today."
            )
        elif new and scene.dated[row] and scene.left[row] < LAST_OPENING:
            name = one.target.recital
            yield Held(one.deck, one.start, f"Nothing new in the week before {name}.")
        elif new and not coping:
            yield Held(one.deck, one.start, "Nothing new until more of what was begun holds.")


def next_calls(
    student: Student,
    beliefs: Beliefs,
    openings: Sequence[Opening],
    decks: Mapping[str, Deck],
    recitals: Sequence[Recital],
    now: datetime,
    seconds: float | None = None,
    homework: Mapping[str, date] | None = None,
) -> dict[str, NextCall]:
    """For each open start the day of its next call after today, by running the plan forward
    as if every call went as expected: today's too, unless today's drill was begun. Starts are
    keyed by id; arguments as in `plan`."""
    found = candidates(openings, decks, recitals, now)
    calls = {c.start: NextCall(c.deck, c.start, None) for c in found}
    if not found:
        return calls
    scene = scene_of(student, beliefs, found, now, {}, homework or {})
    waiting = set(calls)
    last = {c.start: _day(beliefs.last_cold(c.start)) for c in found}
    for day, rows in ahead(student, scene, now, seconds):
        for row in rows:
            start = found[row].start
            if start in waiting and day > practice_day(now):
                before = last[start]
                since = (day - before).days if before else None
                calls[start] = NextCall(found[row].deck, start, day, since)
                waiting.discard(start)
            last[start] = day
        if not waiting or (day - practice_day(now)).days >= LOOK_AHEAD:
            break
    return calls


def ahead(
    student: Student, scene: Scene, now: datetime, seconds: float | None = None
) -> Iterator[tuple[date, list[int]]]:
    """Day after day from today, the rows that the plan would call, without end; none today if
    its drill was begun."""
    from trainer.memory.scene import chosen, tomorrow

    day = practice_day(now)
    begun = bool(scene.done.any())
    while True:
        given = given_seconds(student, day, eve=scene.eve) if seconds is None else seconds
        given, begun = (0.0 if begun else given), False
        called = chosen(scene, given) if given > 0 else []
        yield day, [call.row for call in called]
        scene = tomorrow(scene, called)
        day += timedelta(days=1)


def _given(student: Student, day: date, found: Sequence[Candidate]) -> float:
    """The seconds of a day: the student's, less on the day before a recital of any start."""
    eve = any(one.target.recital and one.target.left == 1 for one in found)
    return given_seconds(student, day, eve=eve)


def given_seconds(student: Student, day: date, *, eve: bool) -> float:
    """The seconds of drill on a day. The `eve` of a recital is light (common practice, no
    source): half the usual time, though a drill of five minutes is not cut."""
    usual = student.minutes_on(day) * 60
    return min(usual, max(LIGHT * usual, LIGHT_SECONDS)) if eve else usual


def target(deck: str, recitals: Sequence[Recital], today: date) -> Target | None:
    """What the deck's starts are drilled for; None where they are not played from memory.

    The next recital that has the piece counts. A piece whose only recitals to come have it
    with music is left alone; one without any recital to come is kept up four weeks ahead.
    """
    from trainer.memory.scene import ROLLING

    coming = sorted((r for r in recitals if r.day >= today), key=lambda r: (r.day, r.id))
    with_music = False
    for recital in coming:
        for item in recital.programme:
            if item.deck != deck:
                continue
            if item.from_memory != "no":
                weight = 1.0 if item.from_memory == "yes" else OPTIONAL_WEIGHT
                return Target((recital.day - today).days, recital.name, weight)
            with_music = True
    return None if with_music else Target(ROLLING, "")


def candidates(
    openings: Sequence[Opening],
    decks: Mapping[str, Deck],
    recitals: Sequence[Recital],
    now: datetime,
) -> list[Candidate]:
    """The open starts that are to be known by heart, deck by deck, in score order."""
    today = practice_day(now)
    is_open = open_starts(tuple(openings))
    since = {o.start: o.at for o in sorted(openings, key=lambda o: (o.at, o.id)) if o.open}
    found = []
    for deck in decks.values():
        aim = target(deck.id, recitals, today)
        if aim:
            found += [
                Candidate(deck.id, start.id, aim, since[start.id])
                for start in deck.starts
                if start.id in is_open
            ]
    return found


def scene_of(
    student: Student,
    beliefs: Beliefs,
    found: Sequence[Candidate],
    now: datetime,
    kin: Mapping[str, frozenset[str]],
    homework: Mapping[str, date],
) -> Scene:
    """The candidates as columns of numbers, in their order."""
    import numpy as np

    from trainer.memory.scene import Scene

    ids = [c.start for c in found]
    today = practice_day(now)
    last = [beliefs.last_cold(start) for start in ids]
    row_of = {start: row for row, start in enumerate(ids)}
    seconds = np.array([_seconds(beliefs.spent, start) for start in ids]).reshape(-1, 2)
    stuck = beliefs.stuckness(ids)
    return Scene(
        start=_columns(beliefs, ids, now),
        left=np.array([float(c.target.left) for c in found]),
        dated=np.array([bool(c.target.recital) for c in found]),
        importance=np.array([c.target.weight for c in found]),
        age=np.array([_days(at or c.opened, now) for at, c in zip(last, found, strict=True)]),
        done=np.array([at is not None and practice_day(at) == today for at in last]),
        stuck=np.array([stuck.get(start, 0.0) >= STUCK_FROM for start in ids], dtype=bool),
        held_seconds=seconds[:, 0],
        failed_seconds=seconds[:, 1],
        usual=usual_seconds(student, today),
        asked=np.array([max(-1, (homework.get(start, date.min) - today).days) for start in ids]),
        kin=tuple(
            frozenset(row_of[other] for other in kin.get(start, ()) if other in row_of)
            for start in ids
        )
        if kin
        else (),
    )


def usual_seconds(student: Student, day: date) -> float:
    """The seconds of practice of a usual day, those of the next four weeks on average: days off
    make the turns of all starts longer."""
    coming = (student.minutes_on(day + timedelta(days=ahead)) for ahead in range(AVERAGED))
    return 60 * sum(coming) / AVERAGED


def _columns(beliefs: Beliefs, ids: Sequence[str], now: datetime) -> Columns:
    """The candidates; those that were never tried as after a look."""
    import numpy as np

    from trainer.memory.cells import CELLS, COUNT
    from trainer.memory.model import Moment
    from trainer.memory.scene import Columns

    n = len(ids)
    known = {row: trace for row, one in enumerate(ids) if (trace := beliefs.trace(one))}
    rows = list(known)
    student = beliefs.student
    ln_h = np.broadcast_to(CELLS.looked, (n, COUNT)).copy()
    weights = np.broadcast_to(student.mix, (n, COUNT)).copy()
    shares, since = np.zeros(n), np.zeros(n)
    if rows:
        traces = {ids[row]: trace for row, trace in known.items()}
        moment = Moment(beliefs, traces, now)
        place = {start: at for at, start in enumerate(traces)}
        at = [place[ids[row]] for row in rows]  # two decks may share a start: one copies the other
        ln_h[rows], weights[rows] = moment.ln_h[at], moment.weights[at]
        shares[rows], since[rows] = moment.shares[at], moment.days[at]
    tried = np.zeros(n, dtype=bool)
    tried[rows] = True
    return Columns(ln_h, weights, shares, since, tried, student.own)


def _days(then: datetime, now: datetime) -> float:
    return max((now - then).total_seconds() / 86400, 0.0)


def _day(at: datetime | None) -> date | None:
    return practice_day(at) if at else None


def _seconds(spent: Mapping[str, Spent], start: str) -> tuple[float, float]:
    """The seconds of a try that holds and of one that fails: the usual ones, then what this
    student took, then what this start took, each as far as there are tries."""
    held, failed = HELD_SECONDS, FAILED_SECONDS
    for took in (spent.get("", Spent()), spent.get(start, Spent())):
        held = (PRIOR_TRIES * held + took.held_seconds) / (PRIOR_TRIES + took.held)
        failed = (PRIOR_TRIES * failed + took.failed_seconds) / (PRIOR_TRIES + took.failed)
    return held, failed


STUCK = (
    "More attempts do not help it: take it apart, slowly, hands separately, or show your teacher."
)


def _homework(until: date) -> str:
    return f"Your teacher asks for it until {near_by(until)}."


def _why(
    candidate: Candidate,
    because: Because,
    beliefs: Beliefs,
    now: datetime,
    holds: Sequence[float],
    *,
    safe: bool,
) -> str:
    """One sentence, in places and days, without a figure of chance: why this start is called."""
    trace = beliefs.trace(candidate.start)
    if because == "warm-up":
        return f"A warm-up for {candidate.target.recital} today."
    if trace is None or not trace.tries or trace.last_cold is None:
        return "It has not been tried cold yet."
    if because == "stuck":
        return STUCK
    if because == "long ago":
        return f"It was last tried cold {_ago(trace.last_cold, now)}."
    if trace.failing:
        times = "last time" if trace.failing == 1 else f"the last {trace.failing} times"
        return f"It did not hold {times}."
    return _from_chance(candidate, beliefs, holds, safe=safe)


def _from_chance(
    candidate: Candidate, beliefs: Beliefs, holds: Sequence[float], *, safe: bool
) -> str:
    """The reason of one that held the last time."""
    start, join = holds
    trace = beliefs.trace(candidate.start)
    if trace and trace.breaking:
        return "The join into the next phrase did not hold last time."
    name = candidate.target.recital
    aim = f" Practising it today helps most towards {name}." if name else ""
    if safe:
        return "It holds; an attempt now keeps it for longer."
    if trace and trace.tries == 1:
        return f"It has held once and is not secure yet.{aim}"
    if join < min(start, HOLDS):
        return "The join into the next phrase is not secure yet."
    if start * join >= HOLDS:
        return f"It still holds, but not for long without practice.{aim}"
    return f"It is {'fading' if start * join >= FADING else 'weak'} now.{aim}"


def _ago(then: datetime, now: datetime) -> str:
    days = (practice_day(now) - practice_day(then)).days
    return f"{days} days ago" if days != 1 else "yesterday"
