"""All that is open as columns of numbers, and which of it is called on one day.

A scene is one moment before a drill. `chosen` draws from it, `tomorrow` moves it on by a day
as if the chosen had gone as expected: so a plan can be run forward.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from trainer.memory import price
from trainer.memory.curve import Law
from trainer.memory.grid import FAILURES, GAINS, THETAS, Array

Because = Literal["price", "untried", "long ago", "warm-up", "check"]

ROLLING = 28  # days ahead to plan for where no recital is set
COVER = 0.2  # of the seconds may go to starts that were not called for long
LONG_AGO = 3.0  # days that are never long
AT_LEAST_WEEKLY = 7  # days before the recital in which each start should be tried once more
UNTRIED_WAIT = 14.0  # days that an open start may wait for its first try,
COPES = 0.65  # if the tried ones hold with this mean chance
LAST_OPENING = 7  # days before the recital in which nothing new is begun if it can wait
WARM_UP = 120.0  # seconds on the day itself
WORTH = 0.0005  # a second: under it, without a recital, nothing is called
CHECK_FROM = 8  # calls in a drill that can carry a spot check


class Mind(NamedTuple):
    """The likeliest kind of student, as indices into the grid."""

    law: Law
    theta: int
    gain: int
    failure: int

    @property
    def ease(self) -> float:
        return float(np.exp(THETAS[self.theta]))

    def looked(self) -> float:
        return self.law.half_life * self.ease

    def expected(self, h: Array, r: Array) -> Array:
        """The half-lives to go on with after a cold try that holds with chance `r`."""
        gain = self.law.gain * float(GAINS[self.gain])
        held = self.law.after_success(h, r, self.ease, gain)
        failed = price.after_failure(h, r, self.law, self.ease, gain, FAILURES[self.failure])
        return np.asarray(np.exp(r * np.log(held) + (1 - r) * np.log(failed)))


@dataclass(frozen=True)
class Part:
    """The columns of all starts, or of all their joins: half-life and days since the last
    refreshing, whether it was ever tried, and the chance now."""

    h: Array
    since: Array
    tried: NDArray[np.bool_]
    chance: Array


@dataclass(frozen=True)
class Scene:
    """One row a start. `left` are the days to the day it must hold on, `dated` whether that is
    a recital, `weight` how much it counts (0-1), `age` the days since the last cold try or,
    untried, since it was opened, `done` whether it was tried cold today, `drawn` whether
    today is its probe day. `held_seconds` and `failed_seconds` are what a try takes. `kin` are
    the rows of look-alikes."""

    mind: Mind
    start: Part
    join: Part
    left: NDArray[np.intp]
    dated: NDArray[np.bool_]
    weight: Array
    age: Array
    done: NDArray[np.bool_]
    drawn: NDArray[np.bool_]
    held_seconds: Array
    failed_seconds: Array
    kin: Sequence[frozenset[int]] = field(default=())

    @property
    def cost(self) -> Array:
        """The seconds that a try of each is likely to take."""
        p = self.start.chance
        return self.held_seconds * p + self.failed_seconds * (1 - p)

    @property
    def eve(self) -> bool:
        """Whether a recital is tomorrow."""
        return bool(np.any(self.dated & (self.left == 1)))


class Call(NamedTuple):
    row: int
    because: Because


def worth(scene: Scene) -> Array:
    """The price of each row: what a second of it is worth today. A join that holds less well
    than its start adds to it, in so far as the start holds."""
    mind = scene.mind
    days = price.reach(int(scene.left.max(initial=0)))
    table = price.table(mind.law, mind.theta, mind.gain, mind.failure, days)
    start, join = scene.start, scene.join
    found = price.prices(table, scene.left, start.h, start.since, start.tried)
    behind = start.tried & join.tried & (join.chance < start.chance)
    if behind.any():
        joined = price.prices(table, scene.left, join.h, join.since, join.tried)
        found = found + np.where(behind, start.chance * np.maximum(joined, 0.0), 0.0)
    usual = price.SECONDS_HELD * start.chance + price.SECONDS_FAILED * (1 - start.chance)
    return np.asarray(found * usual / scene.cost * scene.weight)


def chosen(scene: Scene, seconds: float) -> list[Call]:
    """The rows to call within the seconds, the most wanted first; at least one if any may be.

    First what was not called for long, in a part of the seconds; then by price; a spot check
    in place of the last where a drill is long enough. On a recital's day its starts only get
    a short warm-up.
    """
    cost, prices = scene.cost, worth(scene)
    free = ~scene.done
    basket = _Basket(cost, seconds, scene)
    warm = scene.dated & (scene.left == 0)
    _warm_up(basket, scene, free & warm, min(seconds, WARM_UP))
    free &= ~warm
    late = ~scene.start.tried & scene.dated & (scene.left < LAST_OPENING)
    waiting = _waited_long(scene, seconds, float(cost.mean()) if cost.size else 1.0)
    quota = COVER * seconds
    for row in np.argsort(-scene.age, kind="stable"):
        if quota <= 0:
            break
        if free[row] and waiting[row] and not late[row]:
            untried = not scene.start.tried[row]
            quota -= basket.put(int(row), "untried" if untried else "long ago")
    wanted = np.where(late, np.minimum(prices, 0.0) - 1.0, prices)
    for row in np.argsort(-wanted, kind="stable"):
        if basket.full:
            break
        fresh = not scene.start.tried[row]  # a phrase just opened is asked for, recital or not
        if free[row] and (scene.dated[row] or fresh or prices[row] > WORTH):
            basket.put(int(row), "price" if scene.start.tried[row] else "untried")
    _check(basket, scene, free)
    return basket.calls


class _Basket:
    """The calls so far, and the seconds left."""

    def __init__(self, cost: Array, seconds: float, scene: Scene) -> None:
        self._cost, self._left, self._scene = cost, seconds, scene
        self.calls: list[Call] = []
        self.rows: set[int] = set()
        self.full = False

    def put(self, row: int, because: Because) -> float:
        """The seconds that the call takes; 0 where it has no room or is called already."""
        if row in self.rows or self._unwise(row):
            return 0.0
        cost = float(self._cost[row])
        if self.calls and cost > self._left:
            self.full = True
            return 0.0
        self.calls.append(Call(row, because))
        self.rows.add(row)
        self._left -= cost
        return cost

    def swap_last(self, row: int, because: Because) -> None:
        self.rows.remove(self.calls.pop().row)
        self.calls.append(Call(row, because))
        self.rows.add(row)

    def _unwise(self, row: int) -> bool:
        """Two look-alikes are not begun on one day."""
        if not self._scene.kin or self._scene.start.tried[row]:
            return False
        return any(
            other in self._scene.kin[row] and not self._scene.start.tried[other]
            for other in self.rows
        )


def _warm_up(basket: _Basket, scene: Scene, rows: NDArray[np.bool_], seconds: float) -> None:
    for row in np.argsort(scene.start.chance, kind="stable"):
        if seconds <= 0:
            break
        if rows[row] and scene.start.tried[row]:
            seconds -= basket.put(int(row), "warm-up")


def _waited_long(scene: Scene, seconds: float, cost: float) -> NDArray[np.bool_]:
    """Starts that were not called for one and a half rounds of all that are tried; and untried
    ones that have waited long, where the player copes with what is tried."""
    tried = scene.start.tried
    rounds = 1.5 * tried.sum() * cost / max(seconds, cost)
    limit = np.full(scene.age.size, max(LONG_AGO, rounds))
    closing = scene.dated & (scene.left <= AT_LEAST_WEEKLY)
    limit = np.where(closing, np.minimum(limit, AT_LEAST_WEEKLY), limit)
    copes = not tried.any() or scene.start.chance[tried].mean() >= COPES
    return np.asarray(np.where(tried, scene.age > limit, (scene.age > UNTRIED_WAIT) & copes))


def _check(basket: _Basket, scene: Scene, free: NDArray[np.bool_]) -> None:
    """A start whose probe day it is takes the last call's place, whatever is believed of it."""
    if len(basket.calls) < CHECK_FROM or basket.calls[-1].because != "price":
        return
    for row in np.flatnonzero(scene.drawn & free & scene.start.tried):
        if int(row) not in basket.rows:
            basket.swap_last(int(row), "check")
            return


def tomorrow(scene: Scene, calls: Sequence[Call]) -> Scene:
    """The scene a day later, if the calls went as expected. No probe is drawn ahead."""
    called = np.zeros(scene.age.size, dtype=bool)
    called[[call.row for call in calls]] = True
    over = scene.dated & (scene.left == 0)
    return replace(
        scene,
        start=_moved(scene.start, called, scene.mind),
        join=_moved(scene.join, called & (scene.start.chance >= 0.5), scene.mind),
        left=np.where(scene.dated & ~over, scene.left - 1, ROLLING),
        dated=scene.dated & ~over,
        age=np.where(called, 0.0, scene.age) + 1,
        done=np.zeros_like(scene.done),
        drawn=np.zeros_like(scene.drawn),
    )


def _moved(part: Part, called: NDArray[np.bool_], mind: Mind) -> Part:
    moved = np.where(part.tried, mind.expected(part.h, part.chance), mind.looked())
    h = np.where(called, moved, part.h)
    since = np.where(called, 0.0, part.since) + 1
    tried = part.tried | called
    return Part(h, since, tried, chances(mind.law, h, since, tried))


def chances(law: Law, h: Array, since: Array, tried: NDArray[np.bool_]) -> Array:
    """The chance of each row at those states."""
    return np.where(tried, law.observed(law.retained(since, h)), price.UNTRIED)
