"""From tries to beliefs: what is likely to hold, start by start and join by join.

The join has a state of its own, observed only where the start held; its chance is the chance
that it holds once the start did. The beliefs are a fold over the tries, so that one more try
gives bit for bit what a replay gives. numpy is only imported when a try is taken up.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal

from msgspec import field
from msgspec.structs import replace

from trainer.memory.curve import DEFAULT, Law
from trainer.memory.evidence import CUES_THE_PIECE, Part, Try
from trainer.memory.judges import holds, judged, otherwise
from trainer.record.attempt import Attempt
from trainer.values import Frozen

if TYPE_CHECKING:
    from trainer.memory.grid import Array, Grid

Band = Literal["holds", "fading", "weak", "untried"]

HOLDS, FADING = 0.85, 0.60
FIGURES_FROM = 3  # cold tries; under that only counts are shown
PARTS: tuple[Part, ...] = ("start", "join")
DAY = 86400.0
UNSEEN = 0.02  # the chance to plan with where nothing was ever tried
INTERRUPTED = 30.0  # seconds before the first note that say nothing of memory
LONGEST = 300.0  # seconds after which a try was left lying
NOT_THERE = 0.15  # seconds that an instant start is taken for
HINTED, CUED = 1.2, 1.5  # logits by which a hint, or the music before it, helps a start
WEIGHT_REPEAT, WEIGHT_CUED, WEIGHT_APART, WEIGHT_FIRST, WEIGHT_LENT = 0.1, 0.2, 0.5, 0.5, 0.3
LATENCY_VARIANCE = 0.25  # of the prior on the student's ln latency


class Retention(Frozen, frozen=True):
    """The chance that a cold try at home holds at one instant, an estimate for calm tries.

    `chance`, `low` and `high` (5 % and 95 %) are in 0-1, None without a cold try. `tries` are
    the cold tries that observed it, `held` those of them that held.
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
        if self.tries < FIGURES_FROM:
            return f"{self.held} of {self.tries}"
        low, high = round(100 * self.low), round(100 * self.high)
        return f"{100 * self.chance:.0f} % ({low}-{high}), {self.tries} tries"


class Trace(Frozen, frozen=True):
    """What is kept of one start or join; the arrays (11, 3, 3) are never written to again.

    `half_life` in days and `seen`, the log-likelihood, by cell; `evidence` for the student
    (5, 3, 3). `last` is when it was last refreshed, `last_cold` its last cold try, `failing`
    how many cold tries have failed running.
    """

    half_life: Array
    seen: Array
    evidence: Array
    last: datetime
    tries: int = 0
    held: int = 0
    last_cold: datetime | None = None
    failing: int = 0

    def elapsed(self, at: datetime) -> float:
        """Days since the last refreshing; a clock that went back counts as no time at all."""
        return max((at - self.last).total_seconds() / DAY, 0.0)


class Side(Frozen, frozen=True):
    """All starts' traces, or all joins', and the student's ln posterior (5, 3, 3) from them."""

    traces: dict[str, Trace]
    student: Array


class Spent(Frozen, frozen=True):
    """How many tries held and failed, and the seconds that they took together."""

    held: int = 0
    held_seconds: float = 0.0
    failed: int = 0
    failed_seconds: float = 0.0

    def more(self, held: bool, seconds: float) -> Spent:
        if held:
            return replace(self, held=self.held + 1, held_seconds=self.held_seconds + seconds)
        return replace(self, failed=self.failed + 1, failed_seconds=self.failed_seconds + seconds)


class Beliefs(Frozen, frozen=True):
    """What is believed of one student's starts and joins, after all tries so far.

    `latency` is the student's mean and variance of ln seconds before the first note at even
    odds. `confusions` counts how often one start (first) was called and another (second)
    begun. `lenders` names, for a start that was split off, the start that lends to it.
    `spent` are the seconds that tries took, by start, and under "" those of all.
    """

    law: Law = DEFAULT
    start: Side | None = None
    join: Side | None = None
    latency: tuple[float, float] = (DEFAULT.latency, LATENCY_VARIANCE)
    confusions: dict[tuple[str, str], int] = field(default_factory=dict)
    lenders: dict[str, str] = field(default_factory=dict)
    spent: dict[str, Spent] = field(default_factory=dict)

    def side(self, part: Part) -> Side | None:
        return self.start if part == "start" else self.join

    def trace(self, start_id: str, part: Part = "start") -> Trace | None:
        side = self.side(part)
        return side.traces.get(start_id) if side else None

    def retention(self, start_id: str, at: datetime, part: Part = "start") -> Retention:
        """The chance that a cold try of this start (or, the start holding, of its join) holds
        at `at`, with its interval. Untried where no cold try observed it."""
        from trainer.memory.grid import quantiles

        trace = self.trace(start_id, part)
        if trace is None or not trace.tries:
            return Retention()
        chances = _observed(self.law, trace, at)
        weights = self.weights(trace, part)
        low, high = quantiles(chances, weights)
        chance = float((chances * weights).sum())
        return Retention(chance, min(low, chance), max(high, chance), trace.tries, trace.held)

    def chances(
        self, starts: Sequence[str], at: datetime, part: Part = "start"
    ) -> dict[str, float]:
        """The chances of `retention` alone, for all at once: of those that were tried cold."""
        traces = {start: self.trace(start, part) for start in starts}
        known = [start for start, trace in traces.items() if trace and trace.tries]
        return dict(zip(known, self.expected(known, at, part), strict=True))

    def weights(self, trace: Trace, part: Part = "start") -> Array:
        """How likely each cell is for one trace, (11, 3, 3)."""
        from trainer.memory.grid import grid

        side = self.side(part)
        assert side is not None, "a trace has a side"
        return grid(self.law).weights(side.student, trace.evidence, trace.seen)

    def expected(
        self, starts: Sequence[str], at: datetime, part: Part = "start", unseen: float = UNSEEN
    ) -> list[float]:
        """The chances to plan with at `at`: `unseen` where nothing was ever tried."""
        import numpy as np

        from trainer.memory.grid import grid

        side = self.side(part)
        known = [s for s in dict.fromkeys(starts) if side and s in side.traces]
        if not side or not known:
            return [unseen] * len(starts)
        traces = [side.traces[s] for s in known]
        h = np.stack([t.half_life for t in traces])
        elapsed = np.array([t.elapsed(at) for t in traces])[:, None, None, None]
        weights = grid(self.law).weights(
            side.student, np.stack([t.evidence for t in traces]), np.stack([t.seen for t in traces])
        )
        chances = self.law.observed(self.law.retained(elapsed, h))
        found = dict(zip(known, (chances * weights).sum(axis=(1, 2, 3)).tolist(), strict=True))
        return [found.get(s, unseen) for s in starts]

    def likeliest(self) -> tuple[int, int, int]:
        """The likeliest kind of student: indices of ease, gain and failure in the grid's cells
        (`THETAS`, `GAINS`, `FAILURES`)."""
        import numpy as np

        from trainer.memory.grid import ETAS, THETAS, grid

        student = self.start.student if self.start else grid(self.law).student
        eta, gain, failure = np.unravel_index(int(np.argmax(student)), student.shape)
        return int(eta) + (THETAS.size - ETAS.size) // 2, int(gain), int(failure)

    def half_lives(self, starts: Sequence[str], part: Part, unseen: float) -> list[float]:
        """The expected half-lives in days (geometric means): `unseen` where none was tried."""
        import numpy as np

        from trainer.memory.grid import grid

        side = self.side(part)
        known = [s for s in dict.fromkeys(starts) if side and s in side.traces]
        if not side or not known:
            return [unseen] * len(starts)
        traces = [side.traces[s] for s in known]
        weights = grid(self.law).weights(
            side.student, np.stack([t.evidence for t in traces]), np.stack([t.seen for t in traces])
        )
        ln = (weights * np.log(np.stack([t.half_life for t in traces]))).sum(axis=(1, 2, 3))
        found = dict(zip(known, np.exp(ln).tolist(), strict=True))
        return [found.get(s, unseen) for s in starts]

    def all_hold(self, starts: Sequence[str], at: datetime, part: Part = "start") -> float:
        """The chance that all of `starts` that were ever tried hold at `at`; 1 where none was.

        What is not known of the student makes them hold or fail together, so this is more
        than the product of their chances.
        """
        import numpy as np

        from trainer.memory.grid import grid

        side = self.side(part)
        traces = [side.traces[s] for s in dict.fromkeys(starts) if s in side.traces] if side else []
        if not side or not traces:
            return 1.0
        cells = grid(self.law)
        chances = np.stack([_observed(self.law, t, at) for t in traces])
        each = cells.by_student(np.stack([t.seen for t in traces]), chances)
        student = np.exp(side.student - side.student.max())
        together = np.exp(np.log(each).sum(axis=0))
        return float((student * together).sum() / student.sum())

    def last_cold(self, start_id: str) -> datetime | None:
        trace = self.trace(start_id)
        return trace.last_cold if trace else None

    def taken(self, tries: Iterable[Try]) -> Beliefs:
        """These beliefs with more tries, each later than all before; as a replay of all."""
        fold = _Fold(self)
        for one in tries:
            fold.take(one)
        return fold.beliefs()


def believe(tries: Iterable[Try], law: Law = DEFAULT) -> Beliefs:
    """What one student's tries, oldest first (see `evidence.weigh`), let us believe."""
    return Beliefs(law=law, latency=(law.latency, LATENCY_VARIANCE)).taken(tries)


def foretold(tries: Iterable[Try], law: Law = DEFAULT) -> Iterator[tuple[Try, Part, float, bool]]:
    """Each cold try with the chance given before it and whether it held: start and join apart,
    first tries left out. Nothing later than a try enters its chance."""
    fold = _Fold(Beliefs(law=law, latency=(law.latency, LATENCY_VARIANCE)))
    for one in tries:
        for part in PARTS:
            held = one.held(part)
            if one.cold and held is not None:
                chance = fold.foretell(one, part)
                if chance is not None:
                    yield one, part, chance, held
        fold.take(one)


def _observed(law: Law, trace: Trace, at: datetime) -> Any:
    return law.observed(law.retained(trace.elapsed(at), trace.half_life))


def _weight(one: Try) -> float:
    """How much a try's outcome weighs against a cold one's."""
    weight = WEIGHT_CUED if one.cued else WEIGHT_REPEAT if one.repeat else 1.0
    return weight * (WEIGHT_APART if one.apart else 1.0)


def _aid(one: Try) -> float:
    return HINTED * bool(one.attempt.hints) + CUED * one.cued


def _log_seconds(attempt: Attempt) -> float | None:
    """ln of the seconds that memory took, where an instrument was heard to begin right."""
    import math

    latency = attempt.latency
    if latency is None or not attempt.outcome.start_held or not 0 <= latency <= INTERRUPTED:
        return None
    return math.log(max(latency - 0.5, NOT_THERE))


class _Fold:
    """Takes tries up one by one, in dictionaries of its own."""

    def __init__(self, before: Beliefs) -> None:
        import numpy

        from trainer.memory import grid as module

        self._np = numpy
        self._sd, self._half = module.LATENCY_SD, module.LATENCY_WEIGHT
        self._law = before.law
        self._grid: Grid = module.grid(before.law)
        self._traces: dict[Part, dict[str, Trace]] = {}
        self._student: dict[Part, Array] = {}
        for part in PARTS:
            side = before.side(part)
            self._traces[part] = dict(side.traces) if side else {}
            self._student[part] = side.student if side else self._grid.student
        self._latency = before.latency
        self._confusions = dict(before.confusions)
        self._lenders = dict(before.lenders)
        self._spent = dict(before.spent)

    def beliefs(self) -> Beliefs:
        start, join = (Side(self._traces[part], self._student[part]) for part in PARTS)
        return Beliefs(
            self._law, start, join, self._latency, self._confusions, self._lenders, self._spent
        )

    def foretell(self, one: Try, part: Part) -> float | None:
        """The chance that this try holds, before it is taken up; None where it is the first."""
        before = self._traces[part].get(one.start)
        if before is None:
            return None
        weights = self._grid.weights(self._student[part], before.evidence, before.seen)
        r = self._grid.chance(before.half_life, before.elapsed(one.attempt.at))
        return float((weights / (1 + self._grid.odds(r, _aid(one)))).sum())

    def take(self, one: Try) -> None:
        for child in one.lent:
            self._lenders[child] = one.start
        if one.confused and one.confused != one.start:
            pair = (one.start, one.confused)
            self._confusions[pair] = self._confusions.get(pair, 0) + 1
        self._time(one)
        for part in PARTS:
            held = one.held(part)
            if held is not None:
                self._take(one, part, held)

    def _time(self, one: Try) -> None:
        seconds, held = one.attempt.seconds, one.held()
        if one.attempt.drill in CUES_THE_PIECE:
            return  # the seconds of a whole piece, or of an interruption
        if seconds is None or held is None or not 0 < seconds <= LONGEST:
            return
        for key in ("", one.start):
            self._spent[key] = self._spent.get(key, Spent()).more(held, seconds)

    def _take(self, one: Try, part: Part, held: bool) -> None:
        traces = self._traces[part]
        before = traces.get(one.start)
        if before is None:
            before = self._born(one, part, held)
            after = self._counted(before, one, held) if one.cold else before
        else:
            after = self._tried(before, one, part, held)
        traces[one.start] = after
        if after.evidence is not before.evidence:
            self._student[part] = self._student[part] + (after.evidence - before.evidence)

    def _born(self, one: Try, part: Part, held: bool) -> Trace:
        """The trace at the first try, which counts as the first look at it.

        A start that holds the first time was learned before: a look, and a day of forgetting.
        """
        grid, at = self._grid, one.attempt.at
        h, seen = grid.fresh, self._np.zeros_like(grid.fresh)
        lender = self._traces[part].get(self._lenders.get(one.start, ""))
        if lender:
            seen = seen + WEIGHT_LENT * lender.seen
        if held and one.fresh:
            r = grid.chance(h, 1.0)
            likely, doubt = self._likelihood(grid.odds(r, _aid(one)), one.attempt, part)
            seen = seen + WEIGHT_FIRST * _weight(one) * self._np.log(likely)
            h = grid.moved(h, r, held, doubt)
        evidence = grid.evidence(seen)
        self._student[part] = self._student[part] + evidence
        return Trace(h, seen, evidence, at)

    def _tried(self, before: Trace, one: Try, part: Part, held: bool) -> Trace:
        """The trace after a later try."""
        grid, np, at = self._grid, self._np, one.attempt.at
        r = grid.chance(before.half_life, before.elapsed(at))
        against = grid.odds(r, _aid(one))
        weight = _weight(one)
        likely, doubt = self._likelihood(against, one.attempt, part)
        seen = before.seen + weight * np.log(likely)
        if part == "start" and one.cold:
            seen = self._timed(before, one.attempt, against, seen)
        h = before.half_life
        if one.fresh:
            moved = grid.moved(h, r, held, doubt)
            h = np.asarray(np.sqrt(h * moved)) if one.apart else moved
        last = max(at, before.last)
        if one.cued or one.apart:  # refreshed in part only
            last = before.last + (last - before.last) / 2
        after = Trace(
            h,
            seen,
            grid.evidence(seen),
            last,
            before.tries,
            before.held,
            before.last_cold,
            before.failing,
        )
        return self._counted(after, one, held) if one.cold else after

    def _likelihood(
        self, against: Array, attempt: Attempt, part: Part
    ) -> tuple[Array, Array | None]:
        """In every cell, how likely the reports of a try are, and the chance that it held where
        it was said to fail, or the other way round; None where there is none."""
        grade, instead = judged(attempt, part), otherwise(attempt, part)
        likely = self._grid.likelihood(against, grade)
        if instead is None:
            return likely, None
        other, times = instead
        off = times * self._grid.likelihood(against, other)
        both = likely + off
        return both, None if holds(grade) == holds(other) else off / both

    def _counted(self, trace: Trace, one: Try, held: bool) -> Trace:
        return Trace(
            trace.half_life,
            trace.seen,
            trace.evidence,
            trace.last,
            trace.tries + 1,
            trace.held + int(held),
            one.attempt.at,
            0 if held else trace.failing + 1,
        )

    def _timed(self, before: Trace, attempt: Attempt, against: Array, seen: Array) -> Array:
        """`seen` with the seconds before the first note; the student's mean follows them."""
        y = _log_seconds(attempt)
        if y is None:
            return seen
        x = -self._np.log(against)
        mean, variance = self._latency
        noise = self._sd**2
        weights = self._grid.weights(self._student["start"], before.evidence, before.seen)
        expected = mean - self._law.slope * float((weights * x).sum())
        gain = variance / (variance + noise)
        self._latency = (mean + gain * (y - expected), variance * (1 - gain))
        off = y - (mean - self._law.slope * x)
        return self._np.asarray(seen - self._half * off * off / (2 * noise))
