"""From tries to beliefs: what is likely to hold, start by start and join by join.

The join has a state of its own, observed only where the start held; its chance is the chance
that it holds once the start did.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Literal

from msgspec import field

from trainer.memory import curve
from trainer.memory.evidence import Part, Try
from trainer.values import Frozen

Band = Literal["holds", "fading", "weak", "untried"]

HOLDS, FADING = 0.85, 0.60
PARTS: tuple[Part, ...] = ("start", "join")
DAY = 86400.0


class Retention(Frozen, frozen=True):
    """The chance that a cold try at home holds at one instant, an estimate for calm tries.

    `chance`, `low` and `high` are in 0-1, None without a cold try. `tries` are the cold tries
    that observed it, `held` those of them that held.
    """

    chance: float | None = None
    low: float | None = None
    high: float | None = None
    tries: int = 0
    held: int = 0

    @property
    def band(self) -> Band:
        if self.chance is None:
            return "untried"
        return "holds" if self.chance >= HOLDS else "fading" if self.chance >= FADING else "weak"

    @property
    def basis(self) -> str:
        """The figure with what it rests on: counts only under three tries, then a percentage
        with its interval, "87 % (71-95), 9 tries"."""
        if self.chance is None or self.low is None or self.high is None:
            return "untried"
        if self.tries < 3:
            return f"{self.held} of {self.tries}"
        low, high = round(100 * self.low), round(100 * self.high)
        return f"{100 * self.chance:.0f} % ({low}-{high}), {self.tries} tries"


class Trace(Frozen, frozen=True):
    """What is kept of one start or join: half-life in days, the last try, and the counts."""

    half_life: float
    last: datetime
    tries: int = 0
    held: int = 0
    last_cold: datetime | None = None

    def elapsed(self, at: datetime) -> float:
        """Days since the last try; a clock that went back counts as no time at all."""
        return max((at - self.last).total_seconds() / DAY, 0.0)

    def chance(self, at: datetime) -> float:
        return float(curve.retained(self.elapsed(at), self.half_life))


EASE, GAIN = 1.0, 5.0


def _taken(trace: Trace | None, at: datetime, held: bool, cold: bool) -> Trace:
    """The trace after one more try. Only cold tries move the half-life."""
    if trace is None:
        # A phrase that was learned before its first try: one look, and a day of forgetting.
        looked = curve.HALF_LIFE * EASE
        r = curve.retained(1.0, looked)
        first = curve.after_success(looked, r, EASE, GAIN) if held and cold else looked
        return Trace(first, at, int(cold), int(held and cold), at if cold else None)
    if not cold:
        return Trace(trace.half_life, max(at, trace.last), trace.tries, trace.held, trace.last_cold)
    if held:
        h = curve.after_success(trace.half_life, trace.chance(at), EASE, GAIN)
    else:
        h = curve.after_drop(trace.half_life, EASE)
    return Trace(h, max(at, trace.last), trace.tries + 1, trace.held + int(held), at)


class Beliefs(Frozen, frozen=True):
    """What is believed of one student's starts and joins, after all tries so far."""

    starts: dict[str, Trace] = field(default_factory=dict)
    joins: dict[str, Trace] = field(default_factory=dict)

    def _traces(self, part: Part) -> dict[str, Trace]:
        return self.starts if part == "start" else self.joins

    def retention(self, start_id: str, at: datetime, part: Part = "start") -> Retention:
        """The chance that a cold try of this start (or, the start holding, of its join) holds
        at `at`, with its interval. Untried where no cold try observed it."""
        trace = self._traces(part).get(start_id)
        if trace is None or not trace.tries:
            return Retention()
        chance = trace.chance(at)
        low, high = _interval(chance, trace.tries)
        return Retention(chance, low, high, trace.tries, trace.held)

    def expected(self, start_id: str, at: datetime, part: Part = "start") -> float:
        """The chance to plan with: the retention, or nearly nothing where all is unknown."""
        trace = self._traces(part).get(start_id)
        return UNSEEN if trace is None else trace.chance(at)

    def supposing(self, starts: Iterable[str], at: datetime) -> Beliefs:
        """These beliefs as if a cold try of each of `starts` had held at `at`."""
        traces = dict(self.starts)
        for start in starts:
            traces[start] = _taken(traces.get(start), at, held=True, cold=True)
        return Beliefs(traces, self.joins)

    def last_cold(self, start_id: str) -> datetime | None:
        trace = self.starts.get(start_id)
        return trace.last_cold if trace else None


UNSEEN = 0.02


def _interval(chance: float, tries: int) -> tuple[float, float]:
    """A 90 % score interval around the chance as if it had been counted over `tries`."""
    z2 = 1.645**2
    middle = (chance + z2 / (2 * tries)) / (1 + z2 / tries)
    half = (z2 * (chance * (1 - chance) / tries + z2 / (4 * tries**2))) ** 0.5 / (1 + z2 / tries)
    return max(middle - half, 0.0), min(middle + half, 1.0)


def believe(tries: Iterable[Try]) -> Beliefs:
    """What one student's tries, oldest first (see `evidence.weigh`), let us believe."""
    traces: dict[Part, dict[str, Trace]] = {"start": {}, "join": {}}
    for one in tries:
        for part in PARTS:
            held = one.held(part)
            if held is None:
                continue
            before = traces[part].get(one.start)
            traces[part][one.start] = _taken(before, one.attempt.at, held, one.cold)
    return Beliefs(traces["start"], traces["join"])
