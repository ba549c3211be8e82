"""What is believed of a student's starts and joins: the chance that each holds, now or later.

Theory of operation. The question is always the same: with what chance will a cold attempt at this
start hold at this instant? The answer is a forecast by Bayes's rule over explanations, put right by
what became of earlier forecasts.

*Cells.* A start is explained by one of 35 cells (`cells`): 30 that move, by a law of forgetting and
relearning, by facility, gain and effect of failure; and 5 that are stuck, with a fixed
chance that practice does not change. Each cell of a start has its own half-life, moved by every
attempt as that cell's law says.

*Prior, likelihood, posterior, update.* The prior of every start of a student is the student's mix:
how often each cell was found among all starts so far, begun from a fixed prior that is worth two
starts. So a student has no parameters of their own; what is learned from some starts is expected of
the others. The likelihood of a start is how well each cell foretold what was reported of it
(`judges`: the outcome, how clean it was, how far the judge is to be trusted, what an instrument
heard). The posterior is their product. At each update a little of the posterior (5 %) returns to
the mix: a start may have become another, collapsed or come to hold, and what it did long ago must
not outvote what it does now.

*Correction.* No law is true of everybody. So three numbers a student correct the forecast, on the
logit: logit p = a + b x + w (c - x), where x is the logit of the cells' forecast and c that of a
plain count, the share of the start's attempts that held, older ones fading. They begin at
(0, 1, 0.15) and follow what happens by Newton's step on a normal prior. Where the cells are right
they stay; where nothing is ever learned the count takes over.

*What is evidence.* A cold attempt is. A repeat on the same day, one led up to by the music before,
one away from the instrument are evidence with a small chance only and otherwise say nothing; a
repeat never lengthens a half-life. A hint, or the music before it, raises the chance that was
there, so that a success says less and a failure more. "Broke off" says little of the start. The
join of a start has cells, a mix and a correction of its own, seen only where the start held; its
chance is the chance that it holds once the start did. A start that was split off borrows from its
parent's likelihood.

*Days.* What an attempt does to its start depends on the student as known that morning; the mix and
the correction are settled when the next day begins (`update`). Beliefs are a fold over the
attempts: one more attempt gives bit for bit what a replay gives.

*Stuck.* A start is named stuck on strong evidence only: eight attempts or so, many of them failed,
and a belief of 0.7 that it is in one of the stuck cells that hold half the time or less. It stays
so until it holds again, or somebody says that it was worked on: then most of its posterior returns
to the mix, as if little were known of it.

numpy is only imported when something is worked out.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from trainer.memory.evidence import Part, Try
from trainer.values import Frozen

if TYPE_CHECKING:
    from trainer.memory.cells import Array
    from trainer.memory.update import Fact, Student, Timing

Band = Literal["holds", "fading", "weak", "untried"]

HOLDS, FADING = 0.85, 0.60
FIGURES_FROM = 3  # cold tries; under that only counts are shown
PARTS: tuple[Part, ...] = ("start", "join")
DAY = timedelta(days=1)
UNSEEN = 0.02  # the chance to plan with where nothing was ever tried
LONGEST = 300.0  # seconds after which a try was left lying
STUCK_FROM = 0.7  # belief at which a start is named stuck
STUCK_COUNT, STUCK_SHARE = 6.0, 0.6  # of eight attempts or so, older ones fading: more have failed
HALF_THE_TIME, FORGOTTEN = 0.5, 0.15  # chances of cells that are stuck, or forget in a day
OTHERS_HOLD = 0.6  # the student's usual share of attempts that hold
LEAST = 0.01  # a forecast is never surer than this, nor surer of the contrary
SIDES = math.sqrt(3.0)  # standard deviations at which what is not known of the student is tried


def band_of(chance: float | None) -> Band:
    """The band of a chance (0-1), as it is shown in whole percent: what stands as 85% holds. None
    where nothing was tried cold."""
    if chance is None:
        return "untried"
    shown = round(chance, 2)
    return "holds" if shown >= HOLDS else "fading" if shown >= FADING else "weak"


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
        return band_of(self.chance)

    @property
    def basis(self) -> str:
        """The figure with what it rests on: counts only under three tries, then a percentage
        with its interval, "87 % (71-95), 9 attempts"."""
        if self.chance is None or self.low is None or self.high is None:
            return "untried"
        if self.tries < FIGURES_FROM:
            return f"{self.held} of {self.tries}"
        low, high = round(100 * self.low), round(100 * self.high)
        return f"{100 * self.chance:.0f} % ({low}-{high}), {self.tries} attempts"


class Trace(Frozen, frozen=True):
    """What is counted of one start or join. `row` is its place in the table of cells; `last` is
    when it was last refreshed, `last_cold` its last cold try, `failing` how many cold tries have
    failed running. `count` and `count_held` are cold tries, older ones fading, and how many of
    them are likely to have held.
    """

    row: int
    last: datetime
    tries: int = 0
    held: int = 0
    last_cold: datetime | None = None
    failing: int = 0
    count: float = 0.0
    count_held: float = 0.0

    def elapsed(self, at: datetime) -> float:
        """Days since the last refreshing; a clock that went back counts as no time at all."""
        return max((at - self.last) / DAY, 0.0)


class Spent(Frozen, frozen=True):
    """How many tries held and failed, and the seconds that they took together."""

    held: int = 0
    held_seconds: float = 0.0
    failed: int = 0
    failed_seconds: float = 0.0


class Hopes(Frozen, frozen=True):
    """Starts (or joins) that were tried cold, as they may hold at one moment: `each` (n, 6) has
    their chances for six students that are as likely as each other; given the student, starts are
    independent."""

    starts: tuple[str, ...] = ()
    each: Array | None = None

    def chances(self) -> dict[str, float]:
        """The chance of each, 0-1."""
        if self.each is None:
            return {}
        return dict(zip(self.starts, self.each.mean(axis=1).tolist(), strict=True))

    def all_hold(self, starts: Collection[str]) -> float:
        """The chance that all of those that are among `starts` hold; 1 where none is.

        What is not known of the student makes them hold or fail together, so this is more
        than the product of their chances.
        """
        rows = [row for row, start in enumerate(self.starts) if start in starts]
        if self.each is None or not rows:
            return 1.0
        return float(self.each[rows].prod(axis=0).mean())


@dataclass(frozen=True)
class Beliefs:
    """What is believed of one student's starts and joins, after all tries so far.

    `starts` and `joins` are their traces, `parts` which of both each row of `table` is (0, 1):
    (rows, 2, cells), the cells' ln half-lives and their likelihoods; never written to again.
    `morning` is the student as known in the morning of `day`, `told` and `timed` what that day has
    told since. `confusions` counts how often one start (first) was called and another (second)
    begun. `lenders` names, for a start that was split off, the start that lends to it. `spent` are
    the seconds that tries took, by start, and under "" those of all. `worked_on` says when a start
    was last worked on apart from its calls (taken apart, at a lesson).
    """

    starts: dict[str, Trace] = field(default_factory=dict)
    joins: dict[str, Trace] = field(default_factory=dict)
    parts: tuple[int, ...] = ()
    table: Array | None = None
    morning: Student | None = None
    day: date | None = None
    told: tuple[Fact, ...] = ()
    timed: tuple[Timing, ...] = ()
    confusions: dict[tuple[str, str], int] = field(default_factory=dict)
    lenders: dict[str, str] = field(default_factory=dict)
    spent: dict[str, Spent] = field(default_factory=dict)
    worked_on: Mapping[str, datetime] = field(default_factory=dict)

    def traces(self, part: Part) -> dict[str, Trace]:
        return self.starts if part == "start" else self.joins

    def trace(self, start_id: str, part: Part = "start") -> Trace | None:
        return self.traces(part).get(start_id)

    def last_cold(self, start_id: str) -> datetime | None:
        trace = self.trace(start_id)
        return trace.last_cold if trace else None

    @cached_property
    def student(self) -> Student:
        """What is known of the student now, today's attempts counted in."""
        from trainer.memory.update import NOBODY, settled

        if self.table is None or self.morning is None:
            return NOBODY
        return settled(self.morning, self.parts, self.table[:, 1], self.told, self.timed)

    def retention(self, start_id: str, at: datetime, part: Part = "start") -> Retention:
        """The chance that a cold try of this start (or, the start holding, of its join) holds
        at `at`, with its interval. Untried where no cold try observed it."""
        trace = self.trace(start_id, part)
        if trace is None or not trace.tries:
            return Retention()
        found = Moment(self, {start_id: trace}, at, part)
        [chance] = found.chances().tolist()
        low, high = found.interval()
        return Retention(chance, min(low, chance), max(high, chance), trace.tries, trace.held)

    def chances(
        self, starts: Sequence[str], at: datetime, part: Part = "start"
    ) -> dict[str, float]:
        """The chances of `retention` alone, for all at once: of those that were tried cold."""
        known = {one: t for one, t in self._known(starts, part).items() if t.tries}
        if not known:
            return {}
        found = Moment(self, known, at, part).chances()
        return dict(zip(known, found.tolist(), strict=True))

    def hopes(self, starts: Sequence[str], at: datetime, part: Part = "start") -> Hopes:
        """What may hold at `at` of those that were tried cold."""
        known = {one: t for one, t in self._known(starts, part).items() if t.tries}
        if not known:
            return Hopes()
        return Hopes(tuple(known), Moment(self, known, at, part).together())

    def expected(
        self, starts: Sequence[str], at: datetime, part: Part = "start", unseen: float = UNSEEN
    ) -> list[float]:
        """The chances to plan with at `at`: `unseen` where nothing was ever tried."""
        known = self._known(starts, part)
        if not known:
            return [unseen] * len(starts)
        found = Moment(self, known, at, part).chances()
        by_start = dict(zip(known, found.tolist(), strict=True))
        return [by_start.get(start, unseen) for start in starts]

    def stuck(self, start_id: str, part: Part = "start") -> bool:
        """Whether practice by starts does not lift this start (or join) any more."""
        return self.stuckness([start_id], part).get(start_id, 0.0) >= STUCK_FROM

    def stuckness(self, starts: Sequence[str], part: Part = "start") -> dict[str, float]:
        """The beliefs (0-1) that starts hold half the time or less whatever is practised: of those
        with enough attempts of which many, old and new, failed; not of one that was worked on
        since."""
        known = {
            start: trace
            for start, trace in self._known(starts, part).items()
            if trace.count >= STUCK_COUNT and trace.count_held < STUCK_SHARE * trace.count
            and ((worked_on := self.worked_on.get(start)) is None or worked_on <= trace.last)
        }  # fmt: skip
        if not known:
            return {}
        found = Moment(self, known, max(trace.last for trace in known.values()), part).stuck()
        return dict(zip(known, found.tolist(), strict=True))

    def _known(self, starts: Sequence[str], part: Part) -> dict[str, Trace]:
        """The traces of those that were ever tried, each once."""
        traces = self.traces(part)
        return {start: traces[start] for start in starts if start in traces}

    def taken(self, tries: Iterable[Try]) -> Beliefs:
        """These beliefs with more tries, each later than all before; as a replay of all."""
        from trainer.memory.update import Replay

        more = tuple(tries)
        if not more:
            return self
        replay = Replay(self)
        replay.take(more)
        return replay.beliefs()


class Moment:
    """Some starts, or joins, at one instant."""

    def __init__(
        self, beliefs: Beliefs, known: Mapping[str, Trace], at: datetime, part: Part
    ) -> None:
        import numpy as np

        from trainer.memory.update import AFRESH, afresh, counted, posterior

        assert beliefs.table is not None, "a trace has cells"
        traces = list(known.values())
        number, student = PARTS.index(part), beliefs.student
        rows = beliefs.table[[trace.row for trace in traces]]
        self.days = np.array([trace.elapsed(at) for trace in traces])
        self.ln_h = rows[:, 0]
        self._own, self._known = student.own[number], student.known[number]
        told = student.told[number].tolist()
        self.counts = [(trace.count, trace.count_held) for trace in traces]
        for row, (start, trace) in enumerate(known.items()):
            worked = beliefs.worked_on.get(start)
            if worked is not None and trace.last < worked <= at:
                rows[row, 1] = afresh(rows[row, 1], student.mix[number])
                count, held = self.counts[row]
                self.counts[row] = count * (1 - AFRESH), held * (1 - AFRESH)
        self.weights = posterior(student.mix[number], rows[:, 1])
        self._usual = told[1] / told[0]
        self.shares = np.array([counted(*each, told) for each in self.counts])

    @cached_property
    def cells(self) -> Array:
        """The chances that the cells give, (n, cells)."""
        import numpy as np

        from trainer.memory.cells import CELLS

        return CELLS.chance(self.ln_h, self.days[:, np.newaxis])

    @cached_property
    def _raw(self) -> Array:
        import numpy as np

        from trainer.memory.update import logit

        return np.asarray(logit((self.weights * self.cells).sum(axis=-1)))

    def stuck(self) -> Array:
        """The beliefs that each is in a cell that practice does not lift: a stuck one that holds
        half the time or less; or, where the student's others mostly hold, one that still forgets
        within the day."""
        import numpy as np

        from trainer.memory.cells import CELLS

        found = (CELLS.moves == 0) & (CELLS.ceiling <= HALF_THE_TIME)
        if self._usual >= OTHERS_HOLD:
            found = found | ((CELLS.moves > 0) & (CELLS.chance(self.ln_h, 1.0) <= FORGOTTEN))
        return np.asarray((self.weights * found).sum(axis=-1))

    def chances(self) -> Array:
        """The forecasts."""
        import numpy as np

        from trainer.memory.update import facts, logistic

        x = facts(self._raw, self.shares)
        return np.asarray(np.clip(logistic((x * self._own).sum(axis=-1)), LEAST, 1 - LEAST))

    def interval(self) -> tuple[float, float]:
        """The 5 % and 95 % points of the first one's."""
        import numpy as np

        from trainer.memory.update import facts, logistic, logit

        order = np.argsort(self.cells[0])
        mass = np.cumsum(self.weights[0, order])
        places = [
            order[min(np.searchsorted(mass, q * mass[-1]), len(order) - 1)] for q in (0.05, 0.95)
        ]
        x = facts(logit(self.cells[0, places]), self.shares[0])
        found = np.clip(logistic((x * self._own).sum(axis=-1)), LEAST, 1 - LEAST)
        return float(found[0]), float(found[1])

    def together(self) -> Array:
        """The forecasts for six students around the likeliest one, (n, 6), their means the
        forecasts: the points of a third-degree rule for three normal numbers (Stroud 1971,
        Approximate Calculation of Multiple Integrals)."""
        import numpy as np

        from trainer.memory.update import facts, logistic

        root = np.linalg.cholesky(np.linalg.inv(self._known)) * SIDES
        students = self._own + np.concatenate([root.T, -root.T])
        x = facts(self._raw, self.shares)
        each = np.clip(logistic((x[:, np.newaxis] * students).sum(axis=-1)), LEAST, 1 - LEAST)
        each *= (self.chances() / each.mean(axis=1))[:, np.newaxis]
        return np.asarray(np.minimum(each, 1.0))


NOTHING = Beliefs()


def believe(tries: Iterable[Try], worked_on: Mapping[str, datetime] | None = None) -> Beliefs:
    """What one student's tries, oldest first (see `evidence.weigh`), let us believe. `worked_on`
    says of some starts when they were last worked on apart from their calls."""
    return replace(NOTHING, worked_on=worked_on or {}).taken(tries)


def foretold(tries: Iterable[Try]) -> Iterator[tuple[Try, Part, float, bool]]:
    """Each cold try with the chance given before it and whether it held: start and join apart,
    first tries left out. Nothing later than a try enters its chance."""
    from trainer.memory.update import Replay

    made: list[tuple[int, int, float]] = []
    all_ = tuple(tries)
    Replay(NOTHING, made).take(all_)
    for place, number, chance in made:
        part = PARTS[number]
        held = all_[place].held(part)
        assert held is not None, "what was foretold was observed"
        yield all_[place], part, min(max(chance, LEAST), 1 - LEAST), held
