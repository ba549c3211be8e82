"""The app's own model and planner behind the few calls that a simulation needs."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from random import Random
from typing import Protocol

from msgspec.structs import replace

from trainer.deck.model import Deck, Start
from trainer.memory.evidence import weigh
from trainer.memory.model import Beliefs, believe
from trainer.memory.planner import plan
from trainer.practice.order import Spot, shuffled
from trainer.record.attempt import Attempt, Outcome
from trainer.record.people import Opening, ProgrammeItem, Recital, Student

MIDNIGHT = datetime(2026, 1, 5, 3, 0, tzinfo=UTC)  # t = 0; a practice day begins at 03:00
OUTCOMES = (Outcome.NOTHING, Outcome.LOOKED, Outcome.STOPPED, Outcome.THROUGH)


class Played(Protocol):
    @property
    def entry(self) -> int: ...
    @property
    def t(self) -> float: ...
    @property
    def grade(self) -> int: ...
    @property
    def latency(self) -> float: ...
    @property
    def seconds(self) -> float: ...


class Log(Protocol):
    @property
    def log(self) -> Sequence[Played]: ...


def _at(t: float) -> datetime:
    return MIDNIGHT + timedelta(days=t)


def attempt_of(index: int, one: Played) -> Attempt:
    at = _at(one.t)
    return Attempt(
        id=f"{index:09}",
        student="student",
        deck="deck",
        revision="",
        start=f"s{one.entry}",
        machine="m",
        at=at,
        day=(MIDNIGHT + timedelta(days=math.floor(one.t))).date(),
        outcome=OUTCOMES[one.grade],
        judge="self" if math.isnan(one.latency) else "heard",
        seconds=one.seconds,
        latency=None if math.isnan(one.latency) else one.latency,
    )


class Planner:
    """`n` starts of one piece, all open from the first day. `told` makes of what was played the
    attempt that stands in the log."""

    def __init__(
        self, n: int, seed: int, told: Callable[[int, Played], Attempt] = attempt_of
    ) -> None:
        self._told = told
        self._rng = Random(seed)
        starts = tuple(Start(f"s{i}", i + 1, Fraction(8 * i)) for i in range(n))
        route = tuple(start.id for start in starts)
        deck = Deck("deck", "Piece", "score", starts, route)
        self._decks = {"deck": deck}
        self._spots = {s: Spot(s, frozenset(deck.following(s))) for s in route}
        self._student = Student("student", "S")
        self._open = tuple(Opening(s, "student", "deck", s, True, "m", _at(-1)) for s in route)
        self._attempts: list[Attempt] = []
        self._beliefs: Beliefs = believe(())
        self._log: Sequence[Played] = ()
        self._budgets: dict[int, float] = {}  # the seconds of each day, as they were given

    def _catch_up(self) -> None:
        new = self._log[len(self._attempts) :]
        if not new:
            return
        done = len(self._attempts)
        self._attempts += [self._told(done + i, one) for i, one in enumerate(new)]
        self._beliefs = self._beliefs.taken(weigh(self._attempts, self._decks)[done:])

    def plan(self, state: Log, now: float, recital: float, budget: float) -> list[int]:
        """The entries to call next, in their order. A student's minutes are those of the days so
        far on average, days without practice counted in."""
        self._log = state.log
        self._catch_up()
        self._budgets.setdefault(math.floor(now), budget)
        days = math.floor(now) - min(self._budgets) + 1
        usual = replace(self._student, minutes=sum(self._budgets.values()) / 60 / days)
        day = (MIDNIGHT + timedelta(days=math.floor(recital))).date()
        concert = Recital("r", "student", "recital", day, (ProgrammeItem("deck"),))
        today = plan(usual, self._beliefs, self._open, self._decks, (concert,), _at(now), budget)
        before = self._spots.get(self._attempts[-1].start) if self._attempts else None
        order = shuffled([self._spots[slot.start] for slot in today.slots], before, self._rng)
        return [int(spot.id[1:]) for spot in order]

    def predict(self, entry: int, t: float) -> float:
        """The chance that a cold try of `entry` holds at `t`."""
        self._catch_up()
        return self._beliefs.expected([f"s{entry}"], _at(t))[0]
