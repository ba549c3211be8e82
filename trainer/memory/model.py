"""From tries to beliefs: what is likely to hold, start by start and join by join.

The join has a state of its own, observed only where the start held; its chance is the chance
that it holds once the start did. The beliefs are a fold over the tries, so that one more try
gives bit for bit what a replay gives. numpy is only imported when a try is taken up.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Literal

from msgspec import field

from trainer.memory.curve import DEFAULT, Law
from trainer.memory.evidence import Part, Try
from trainer.values import Frozen

if TYPE_CHECKING:
    from trainer.memory.grid import Array

Band = Literal["holds", "fading", "weak", "untried"]

HOLDS, FADING = 0.85, 0.60
FIGURES_FROM = 3  # cold tries; under that only counts are shown
PARTS: tuple[Part, ...] = ("start", "join")
DAY = timedelta(days=1)
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
    """What is counted of one start or join. `row` is its place among the cells; `last` is when it
    was last refreshed, `last_cold` its last cold try, `failing` how many cold tries have failed
    running.
    """

    row: int
    last: datetime
    tries: int = 0
    held: int = 0
    last_cold: datetime | None = None
    failing: int = 0

    def elapsed(self, at: datetime) -> float:
        """Days since the last refreshing."""
        return days_between(self.last, at)


class Side(Frozen, frozen=True):
    """All starts' traces, or all joins', and the student's ln posterior (5, 3, 3) from them."""

    traces: dict[str, Trace]
    student: Array

    def kinds(self) -> Array:
        """How likely each kind of student is, (5, 3, 3)."""
        return likely(self.student)


class Cells(Frozen, frozen=True):
    """What is reckoned of all traces, a row for each in the order of their first tries: by cell
    (n, 11, 3, 3) `ln_h`, ln of the half-life in days, and `seen`, the log-likelihood; and the
    `evidence` for the student (n, 5, 3, 3). They are never written to again."""

    ln_h: Array
    seen: Array
    evidence: Array


class Hopes(Frozen, frozen=True):
    """Starts (or joins) that were tried cold, as they may hold at one moment: `each` has the
    chance of each of them for each kind of student (n, 5, 3, 3), `student` how likely these are
    (5, 3, 3). Given the kind of student, they are independent of each other."""

    starts: tuple[str, ...] = ()
    each: Array | None = None
    student: Array | None = None

    def chances(self) -> dict[str, float]:
        """The chance of each, 0-1."""
        if self.each is None or self.student is None:
            return {}
        return dict(zip(self.starts, _mean(self.each, self.student), strict=True))

    def all_hold(self, starts: Collection[str]) -> float:
        """The chance that all of those that are among `starts` hold; 1 where none is.

        What is not known of the student makes them hold or fail together, so this is more
        than the product of their chances.
        """
        import numpy as np

        rows = [row for row, start in enumerate(self.starts) if start in starts]
        if self.each is None or self.student is None or not rows:
            return 1.0
        together = np.exp(np.log(self.each[rows]).sum(axis=0))
        return float((self.student * together).sum())


def _mean(each: Array, student: Array) -> list[float]:
    """The means over all kinds of student."""
    return [float(one) for one in (each * student).sum(axis=(-3, -2, -1))]


class Pace(Frozen, frozen=True):
    """What is known of the student's pace: `mean` and `variance` of ln seconds before the first
    note at even odds. The seconds of a practice `day` are held against the mean of its `morning`
    and the `student` (ln posterior) of then, that is before its first try that was timed."""

    mean: float
    variance: float = LATENCY_VARIANCE
    day: date | None = None
    morning: float = 0.0
    student: Array | None = None


class Spent(Frozen, frozen=True):
    """How many tries held and failed, and the seconds that they took together."""

    held: int = 0
    held_seconds: float = 0.0
    failed: int = 0
    failed_seconds: float = 0.0


class Beliefs(Frozen, frozen=True):
    """What is believed of one student's starts and joins, after all tries so far.

    `confusions` counts how often one start (first) was called and another (second)
    begun. `lenders` names, for a start that was split off, the start that lends to it.
    `spent` are the seconds that tries took, by start, and under "" those of all.
    """

    law: Law = DEFAULT
    start: Side | None = None
    join: Side | None = None
    cells: Cells | None = None
    pace: Pace = Pace(DEFAULT.latency)
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
        from trainer.memory.grid import grid, quantiles

        trace, side, cells = self.trace(start_id, part), self.side(part), self.cells
        if trace is None or side is None or cells is None or not trace.tries:
            return Retention()
        row = trace.row
        weights = grid(self.law).weights(side.student, cells.evidence[row], cells.seen[row])
        chances = self._observed([trace], at)
        low, high = quantiles(chances[0], weights)
        [chance] = _mean(self._by_kind([trace], chances), side.kinds())
        return Retention(chance, min(low, chance), max(high, chance), trace.tries, trace.held)

    def chances(
        self, starts: Sequence[str], at: datetime, part: Part = "start"
    ) -> dict[str, float]:
        """The chances of `retention` alone, for all at once: of those that were tried cold."""
        return self.hopes(starts, at, part).chances()

    def hopes(self, starts: Sequence[str], at: datetime, part: Part = "start") -> Hopes:
        """What may hold at `at` of those that were tried cold."""
        known = {one: t for one, t in self._known(starts, part).items() if t.tries}
        side = self.side(part)
        if not side or not known:
            return Hopes()
        return Hopes(tuple(known), self._chances(list(known.values()), at), side.kinds())

    def expected(
        self, starts: Sequence[str], at: datetime, part: Part = "start", unseen: float = UNSEEN
    ) -> list[float]:
        """The chances to plan with at `at`: `unseen` where nothing was ever tried."""
        known, side = self._known(starts, part), self.side(part)
        if not side or not known:
            return [unseen] * len(starts)
        each = self._chances(list(known.values()), at)
        found = dict(zip(known, _mean(each, side.kinds()), strict=True))
        return [found.get(s, unseen) for s in starts]

    def _known(self, starts: Sequence[str], part: Part) -> dict[str, Trace]:
        """The traces of those that were ever tried, each once."""
        side = self.side(part)
        return {s: side.traces[s] for s in starts if s in side.traces} if side else {}

    def _observed(self, traces: Sequence[Trace], at: datetime) -> Array:
        """The chances of some traces by cell, (n, 11, 3, 3), at `at`."""
        import numpy as np

        from trainer.memory.grid import grid

        assert self.cells is not None, "a trace has cells"
        ln_h = self.cells.ln_h[[trace.row for trace in traces]]
        elapsed = np.array([trace.elapsed(at) for trace in traces])
        r = grid(self.law).chance(ln_h, elapsed[:, None, None, None])
        return np.asarray(self.law.observed(r))

    def _chances(self, traces: Sequence[Trace], at: datetime) -> Array:
        """The chances of some traces for each kind of student, (n, 5, 3, 3), at `at`."""
        import numpy as np

        from trainer.memory.grid import spans

        some = [traces[span] for span in spans(len(traces))]
        return np.concatenate([self._by_kind(one, self._observed(one, at)) for one in some])

    def _by_kind(self, traces: Sequence[Trace], values: Array) -> Array:
        """The means of such values for each kind of student, (n, 5, 3, 3)."""
        from trainer.memory.grid import grid

        assert self.cells is not None, "a trace has cells"
        return grid(self.law).by_student(self.cells.seen[[t.row for t in traces]], values)

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
        import math

        side, cells, known = self.side(part), self.cells, self._known(starts, part)
        if not side or not cells or not known:
            return [unseen] * len(starts)
        traces = list(known.values())
        each = self._by_kind(traces, cells.ln_h[[trace.row for trace in traces]])
        found = dict(zip(known, map(math.exp, _mean(each, side.kinds())), strict=True))
        return [found.get(s, unseen) for s in starts]

    def last_cold(self, start_id: str) -> datetime | None:
        trace = self.trace(start_id)
        return trace.last_cold if trace else None

    def taken(self, tries: Iterable[Try]) -> Beliefs:
        """These beliefs with more tries, each later than all before; as a replay of all."""
        from trainer.memory.replay import Replay

        more = tuple(tries)
        if not more:
            return self
        replay = Replay(self)
        replay.take(more)
        return replay.beliefs()


def believe(tries: Iterable[Try], law: Law = DEFAULT) -> Beliefs:
    """What one student's tries, oldest first (see `evidence.weigh`), let us believe."""
    return nobody(law).taken(tries)


def nobody(law: Law) -> Beliefs:
    """What is believed where nothing was tried."""
    return Beliefs(law=law, pace=Pace(law.latency))


def foretold(tries: Iterable[Try], law: Law = DEFAULT) -> Iterator[tuple[Try, Part, float, bool]]:
    """Each cold try with the chance given before it and whether it held: start and join apart,
    first tries left out. Nothing later than a try enters its chance."""
    from trainer.memory.replay import Replay

    replay = Replay(nobody(law))
    for one in tries:
        for part in PARTS:
            held = one.held(part)
            if one.cold and held is not None:
                chance = replay.foretell(one, part)
                if chance is not None:
                    yield one, part, chance, held
        replay.take([one])


def likely(ln: Array) -> Array:
    """Chances that sum to 1, from their logarithms up to a constant."""
    import numpy as np

    found = np.exp(ln - ln.max())
    return np.asarray(found / found.sum())


def days_between(last: datetime, at: datetime) -> float:
    """A clock that went back counts as no time at all."""
    return max((at - last) / DAY, 0.0)
