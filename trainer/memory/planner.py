"""What to drill today, and when each start is called next.

Only open starts are drawn; the planner never opens one by itself. The drill gives the order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta

from trainer.deck.model import Deck
from trainer.memory.evidence import Try
from trainer.memory.model import Beliefs
from trainer.record.attempt import Attempt, Outcome, practice_day
from trainer.record.people import Opening, Recital, Student, open_starts
from trainer.record.plan import Plan, Slot
from trainer.values import Frozen

SECONDS_HELD, SECONDS_FAILED = 23.0, 35.0  # a try with its page, until a log says better
ROLLING = 28  # days ahead to plan for where no recital is set
LOOK_AHEAD = 60  # days that the next calls are sought in


class NextCall(Frozen, frozen=True):
    """When a start is called next: None where no day within the next weeks calls it.

    `since` are the days between its last cold try and that call, None without either.
    """

    deck: str
    start: str
    day: date | None
    since: int | None = None


class _Candidate(Frozen, frozen=True):
    deck: str
    start: str
    number: int
    target: datetime  # when it has to hold
    recital: str  # the recital's name, or empty


def _target(deck: str, recitals: Sequence[Recital], now: datetime) -> tuple[datetime, str] | None:
    """When the deck's starts have to hold, and for what; None where it is not from memory."""
    today = practice_day(now)
    coming = sorted((r for r in recitals if r.day >= today), key=lambda r: (r.day, r.id))
    by_heart = True
    for recital in coming:
        for item in recital.programme:
            if item.deck == deck and item.from_memory != "no":
                return now + timedelta(days=(recital.day - today).days), recital.name
            by_heart &= item.deck != deck
    return (now + timedelta(days=ROLLING), "") if by_heart else None


def _candidates(
    openings: Sequence[Opening],
    decks: Mapping[str, Deck],
    recitals: Sequence[Recital],
    now: datetime,
) -> list[_Candidate]:
    is_open = open_starts(tuple(openings))
    found = []
    for deck in decks.values():
        target = _target(deck.id, recitals, now)
        if target is None:
            continue
        for start in deck.starts:
            if start.id in is_open:
                found.append(_Candidate(deck.id, start.id, start.number, *target))
    return found


def _why(candidate: _Candidate, beliefs: Beliefs) -> str:
    retention = beliefs.retention(candidate.start, candidate.target)
    when = f"on the day of {candidate.recital}" if candidate.recital else "in four weeks"
    match retention.band:
        case "untried":
            return "It has not been tried cold yet."
        case "weak":
            return f"It would probably not hold {when}."
        case "fading":
            return f"It may not hold {when}."
    return f"It is likely to hold {when}; a try keeps it so."


def plan(
    student: Student,
    beliefs: Beliefs,
    openings: Sequence[Opening],
    decks: Mapping[str, Deck],
    recitals: Sequence[Recital],
    now: datetime,
    seconds: float | None = None,
) -> Plan:
    """Today's calls, the most wanted first, within `seconds` (default: the student's minutes).

    `now` is an aware local instant. All arguments are this student's. Each slot's seconds are
    what its try is likely to cost. At least one start is called if any is open.
    """
    left = student.minutes * 60 if seconds is None else seconds
    found = _candidates(openings, decks, recitals, now)
    chances = beliefs.expected([c.start for c in found], now)
    ranked = sorted(zip(found, chances, strict=True), key=lambda x: (x[1], x[0].number, x[0].start))
    slots: list[Slot] = []
    for candidate, p in ranked:
        cost = SECONDS_HELD * p + SECONDS_FAILED * (1 - p)
        if slots and cost > left:
            break
        left -= cost
        slots.append(Slot(candidate.deck, candidate.start, _why(candidate, beliefs), round(cost)))
    return Plan(student.id, practice_day(now), tuple(slots))


def next_calls(
    student: Student,
    beliefs: Beliefs,
    openings: Sequence[Opening],
    decks: Mapping[str, Deck],
    recitals: Sequence[Recital],
    now: datetime,
    seconds: float | None = None,
) -> dict[str, NextCall]:
    """For each open start the day of its next call after today, by running the plan forward
    as if every call held. Starts are keyed by id; all arguments as in `plan`."""
    calls = {
        c.start: NextCall(c.deck, c.start, None)
        for c in _candidates(openings, decks, recitals, now)
    }
    ahead = beliefs
    for days in range(1, LOOK_AHEAD + 1):
        at = now + timedelta(days=days)
        called = plan(student, ahead, openings, decks, recitals, at, seconds)
        for slot in called.slots:
            if calls.get(slot.start, NextCall("", "", at.date())).day is None:
                last = beliefs.last_cold(slot.start)
                since = (called.day - practice_day(last)).days if last else None
                calls[slot.start] = NextCall(slot.deck, slot.start, called.day, since)
        ahead = ahead.taken(_supposed(slot, at) for slot in called.slots)
        if all(call.day for call in calls.values()):
            break
    return calls


def _supposed(slot: Slot, at: datetime) -> Try:
    """A cold try that held, as if it had been made."""
    made = Attempt("", "", slot.deck, "", slot.start, "", at, practice_day(at), Outcome.THROUGH)
    return Try(made, slot.start, cold=True)
