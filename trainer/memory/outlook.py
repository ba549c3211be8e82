"""How many starts are likely to hold on the recital day: the days to come, played many times.

The student and every start are drawn from what is believed, two hundred times: a mix of cells, a
cell for each start and the numbers that correct forecasts. Then each drawn student practises day
after day with the minutes given. Calls are chosen as the planner does, except that it is taken to
know half of what is true of the drawn student, for by then it will have learned some of it; each
attempt holds or fails by chance. On the day it is drawn which starts hold. The middle 80 % of the
numbers is the range that is told. Before about five attempts a start it is too early to tell.

The mix and the cells are drawn in turns, each given the other (Gibbs sampling: Geman & Geman 1984,
IEEE Trans Pattern Anal Mach Intell 6:721-741). All is drawn by a fixed seed: the same beliefs give
the same numbers.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from trainer.deck.model import Deck
from trainer.memory.model import UNSEEN, Beliefs
from trainer.memory.planner import Candidate, candidates, given_seconds, scene_of
from trainer.record.attempt import practice_day
from trainer.record.people import Opening, Recital, Student
from trainer.score.cite import counted
from trainer.values import Frozen

if TYPE_CHECKING:
    import numpy as np
    from numpy.random import Generator
    from numpy.typing import NDArray

    from trainer.memory.cells import Array
    from trainer.memory.scene import Columns, Scene

ENOUGH = 0.9  # of the starts: the bar that teachers set a week before (common practice, no source)
EARLY = 5.0  # cold attempts a start, under which nothing is told
MORE = (1.5, 2.0, 3.0)  # times the minutes that are tried where they do not do
LONGEST = 60.0  # minutes a day that are thought of at all; a child or a hand has its limits
NEW_AT_ONCE = 3  # starts advised to be opened on one day
FARTHEST = 120  # days ahead: of what is farther off nothing is foretold
NOTHING_NEW = 7  # days before a recital in which nothing is opened
DRAWS, ROUGHLY = 200, 60  # students drawn for the numbers told, and to see whether minutes do
SETTLING = 20  # rounds of the drawing before it is believed
KNOWN = 0.5  # of a drawn student that the planner is taken to know
# How much faster a student may learn than the law says (ln: mean, SD); without it the range was too
# low in simulated minds of another form.
SPEED = (1.5, 1.2)
RANGE = (0.1, 0.9)


class Outlook(Frozen, frozen=True):
    """What the recital day is likely to find with the minutes given.

    `starts` is how many are open for it. `low` to `high` is how many of them are likely to hold on
    the day (10 % and 90 %), `holding` the mean, `stopped` the mean if nothing more were played.
    `early` says that there is too little evidence for these numbers. `minutes_wanted` a day would
    make nine in ten hold, None where they do already or where no sensible time would. `open_next`
    are the ids advised to be opened next, in the order of the piece; none in the last week.
    `by_deck` gives `holding` piece by piece.
    """

    recital: str
    day: date
    days: int  # of practice before it
    starts: int
    minutes: float
    holding: float = 0.0
    low: int = 0
    high: int = 0
    stopped: float = 0.0
    early: bool = True
    minutes_wanted: float | None = None
    open_next: tuple[str, ...] = ()
    by_deck: tuple[tuple[str, float], ...] = ()

    @property
    def feasible(self) -> bool:
        return self.holding >= ENOUGH * self.starts

    @property
    def sentence(self) -> str:
        """For people, without a promise."""
        if not self.starts:
            return "No start of the programme is open yet."
        if self.early:
            return (
                "Too early to say how many starts will hold on the recital day: first try each "
                f"cold about {EARLY:.0f} times."
            )
        span = f"{self.low} to {self.high}" if self.low < self.high else f"{self.low}"
        told = (
            f"With {counted(self.minutes, 'minute')} a day {span} of "
            f"{counted(self.starts, 'start')} are likely to hold on the recital day; "
            f"about {self.stopped:.0f} with no more practice."
        )
        if self.minutes_wanted is None:
            return told
        return f"{told} {counted(self.minutes_wanted, 'minute')} a day would do more."


def outlook(
    student: Student,
    beliefs: Beliefs,
    openings: Sequence[Opening],
    decks: Mapping[str, Deck],
    recitals: Sequence[Recital],
    now: datetime,
) -> Outlook | None:
    """The outlook for the next recital with a piece from memory; None where there is none, or
    where it is more than four months off."""
    today = practice_day(now)
    recital = _next(recitals, today)
    if recital is None or (recital.day - today).days > FARTHEST:
        return None
    left = (recital.day - today).days
    found = [
        one
        for one in candidates(openings, decks, recitals, now)
        if one.target.recital == recital.name
    ]
    minutes = [student.minutes_on(today + timedelta(days=ahead)) for ahead in range(left)]
    kept = [each for each in minutes if each > 0]
    usual = round(sum(kept) / len(kept), 1) if kept else 0.0
    advised = _closed(recital, decks, found)[:NEW_AT_ONCE] if left > NOTHING_NEW else ()
    if not found:
        return Outlook(recital.name, recital.day, len(kept), 0, usual, open_next=advised)
    run = _Run(student, beliefs, found, now, left)
    each = run.on_the_day(1.0, DRAWS)
    low, high = run.range(each)
    by_deck: dict[str, float] = {}
    for one, mean in zip(found, each.mean(axis=0).tolist(), strict=True):
        by_deck[one.deck] = by_deck.get(one.deck, 0.0) + mean
    holding, enough = sum(by_deck.values()), ENOUGH * len(found)
    wanted = None
    if holding < enough and usual > 0:
        wanted = run.least(enough, usual)
    return Outlook(
        recital.name,
        recital.day,
        len(kept),
        len(found),
        usual,
        holding,
        low,
        high,
        sum(beliefs.chances([one.start for one in found], now + timedelta(days=left)).values()),
        sum(trace.tries for one in found if (trace := beliefs.trace(one.start)))
        < EARLY * len(found),
        wanted,
        advised if holding >= enough else (),
        tuple(sorted(by_deck.items())),
    )


def _next(recitals: Sequence[Recital], today: date) -> Recital | None:
    coming = [
        recital
        for recital in recitals
        if recital.day > today and any(item.from_memory != "no" for item in recital.programme)
    ]
    return min(coming, key=lambda recital: (recital.day, recital.id), default=None)


class _Run:
    """The days to come of drawn students."""

    def __init__(
        self,
        student: Student,
        beliefs: Beliefs,
        found: Sequence[Candidate],
        now: datetime,
        left: int,
    ) -> None:
        self._scene = scene_of(student, beliefs, found, now, {}, {})
        today, begun = practice_day(now), bool(self._scene.done.any())
        self._seconds = [
            0.0 if begun and not ahead
            else given_seconds(student, today + timedelta(days=ahead), eve=left - ahead == 1)
            for ahead in range(left)
        ]  # fmt: skip
        self._beliefs = beliefs

    def range(self, each: Array) -> tuple[int, int]:
        """How many are likely to hold: the middle 80 % of the numbers drawn."""
        import numpy as np

        rng = np.random.default_rng(1)
        numbers = np.sort((rng.random(each.shape) < each).sum(axis=1))
        low, high = (numbers[round(q * (len(numbers) - 1))] for q in RANGE)
        return int(low), int(high)

    def least(self, enough: float, usual: float) -> float | None:
        """The least of some times the minutes that do, whole; None where none does."""
        for times in MORE:
            minutes = math.ceil(times * usual)
            if minutes > LONGEST:
                return None
            if self.on_the_day(minutes / usual, ROUGHLY).mean(axis=0).sum() >= enough:
                return float(minutes)
        return None

    def on_the_day(self, times: float, draws: int) -> Array:
        """The chances of all starts on the day, (draws, n), with so many times the minutes."""
        import numpy as np

        drawn = _Drawn(self._scene, self._beliefs, draws, np.random.default_rng(0))
        for day, given in enumerate(self._seconds):
            if given * times > 0:
                drawn.practise(given * times, self._scene.left - day)
            drawn.sleep()
        return drawn.chances()


class _Drawn:
    """Students drawn from what is believed, with all their starts: arrays (draws, n)."""

    def __init__(self, scene: Scene, beliefs: Beliefs, draws: int, rng: Generator) -> None:
        import numpy as np

        from trainer.memory.cells import CELLS

        self._scene, self._rng = scene, rng
        of, student = scene.start, beliefs.student
        which = _cells(of, student.mix, draws, rng)
        cells, speed = CELLS.some(which), rng.normal(*SPEED, (draws, 1))
        self._cells = cells._replace(ln_gain=cells.ln_gain + speed)
        self._ln_h = of.ln_h[np.arange(which.shape[1]), which]
        self._since: Array = np.broadcast_to(of.since, which.shape).copy()
        self._age: Array = np.broadcast_to(scene.age, which.shape).copy()
        self._tried: NDArray[np.bool_] = np.broadcast_to(of.tried, which.shape).copy()
        spread = np.linalg.inv(student.known)
        self._own = rng.multivariate_normal(student.own, spread, (draws, 1))

    def chances(self) -> Array:
        import numpy as np

        from trainer.memory.update import facts, logistic, logit

        x = logit(self._cells.chance(self._ln_h, self._since))
        found = logistic((facts(x, x) * self._own).sum(axis=-1))  # the count will follow
        return np.where(self._tried, found, UNSEEN)

    def sleep(self) -> None:
        self._since += 1
        self._age += 1

    def practise(self, seconds: float, left: Array) -> None:
        """One day's attempts of each student, with that much time and those days left."""
        import numpy as np

        chance = self.chances()
        rows = self._called(seconds, left, chance)
        chance = np.take_along_axis(chance, rows, 1)
        tried = np.take_along_axis(self._tried, rows, 1)
        ln_h, since = (np.take_along_axis(one, rows, 1) for one in (self._ln_h, self._since))
        cells = self._cells.some((np.arange(len(rows))[:, np.newaxis], rows))
        held = self._rng.random(rows.shape) < chance
        up, down = cells.steps(ln_h, cells.recall(ln_h, since))
        again, first = ln_h + np.where(held, up, down), np.where(held, cells.learned, cells.looked)
        np.put_along_axis(self._ln_h, rows, np.where(tried, again, first), 1)
        np.put_along_axis(self._since, rows, 0.0, 1)
        np.put_along_axis(self._age, rows, 0.0, 1)
        np.put_along_axis(self._tried, rows, True, 1)

    def _called(self, seconds: float, left: Array, chance: Array) -> NDArray[np.intp]:
        """The rows that are called, (draws, calls): see `scene.chosen`."""
        import numpy as np

        from trainer.memory.scene import COVER, LONG_AGO, ROUNDS, gains, horizons, turn

        scene = self._scene
        cost = scene.held_seconds * chance + scene.failed_seconds * (1 - chance)
        days = turn(cost.mean(axis=0), seconds)
        near, far = horizons(days, left)
        gain, _ = gains(self._cells, self._ln_h, self._since, self._tried, near, far)
        wanted = (KNOWN * gain + (1 - KNOWN) * gain.mean(axis=0)) / cost
        calls = min(max(1, round(seconds / cost.mean())), chance.shape[1])
        waiting = np.where(self._age > max(LONG_AGO, ROUNDS * days), self._age, 0.0)
        oldest = np.argsort(-waiting, axis=1)[:, : math.ceil(COVER * calls)]
        first = np.take_along_axis(waiting, oldest, 1)
        np.put_along_axis(wanted, oldest, np.take_along_axis(wanted, oldest, 1) + 100 * first, 1)
        return np.argsort(-wanted, axis=1)[:, :calls]


def _cells(of: Columns, mix: Array, draws: int, rng: Generator) -> NDArray[np.intp]:
    """A cell for each start of each student drawn, (draws, n). The starts of other pieces stay in
    the mix as they are believed."""
    import numpy as np

    from trainer.memory.update import POOL

    likelihood = of.weights / mix
    tried = of.tried
    others = (POOL + tried.sum()) * mix - of.weights[tried].sum(axis=0)
    others = np.maximum(others, 0.02 * mix)
    found = np.empty((draws, len(tried)), dtype=np.intp)
    now = mix
    for round_ in range(-SETTLING, draws):
        weights = (now * likelihood).cumsum(axis=1)
        drawn = rng.random((len(tried), 1)) * weights[:, -1:] > weights
        cells = drawn.sum(axis=1)
        now = rng.dirichlet(others + np.bincount(cells[tried], minlength=len(mix))) + 1e-12
        if round_ >= 0:
            found[round_] = cells
    return found


def _closed(
    recital: Recital, decks: Mapping[str, Deck], found: Sequence[Candidate]
) -> tuple[str, ...]:
    """The closed starts of the recital's pieces that come after an open one, then the rest."""
    opened = {one.start for one in found}
    wanted = [item.deck for item in recital.programme if item.from_memory != "no"]
    starts = [
        (position, start.id, deck.starts[position - 1].id in opened if position else True)
        for deck_id in wanted
        if (deck := decks.get(deck_id))
        for position, start in enumerate(deck.starts)
        if start.id not in opened
    ]
    return tuple(start for _, start, _ in sorted(starts, key=lambda one: not one[2]))
