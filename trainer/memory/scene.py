"""All that is open as columns of numbers, and which of it is called on one day.

What is an attempt now worth? Each cell of a start says what becomes of it if it is tried, held or
failed, and if it is left alone. What is wished for is U = ln(p + 0.2) at two moments: two turns
ahead, and, half as much, on the recital day. The gain is U if tried less U if left alone, the mean
over the cells, divided by the seconds that the attempt takes: the highest are called. The horizon
follows the budget: a turn is how many days the minutes need for all starts, so with few minutes
what lasts is worth more. No law is sure, so a part of the calls goes to the starts that were not
called for longest, whatever is believed of them.

A scene is one moment before a drill. `chosen` draws from it, `tomorrow` moves it on by a day as if
the chosen had gone as expected: so a plan can be run forward.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from trainer.memory.cells import CELLS, Array, Cells
from trainer.memory.model import HOLDS, LEAST, UNSEEN
from trainer.memory.update import facts, logistic, logit

Because = Literal["gain", "untried", "long ago", "warm-up", "stuck", "homework"]
Rows = NDArray[np.bool_]

SOFT = 0.2  # added to p in what is wished for: a sure start need not be surer
FAR = 0.5  # how much the recital day counts beside the next turns
TURNS = 2.0  # turns ahead that an attempt is judged at
AFTER = 28.0  # days: on the last days before a recital what is left four weeks later counts
ROLLING = 28  # days ahead to plan for where no recital is set
COVER = 0.3  # of the seconds may go to starts that were not called for long:
ROUNDS, LONG_AGO = 1.5, 3.0  # for so many turns, and so many days at least
AT_LEAST_WEEKLY = 7  # days before the recital in which each start should be tried once more
UNTRIED_WAIT = 14.0  # days that a start may wait to be begun, where the player copes
COPES = 0.4  # mean chance of what was begun, under which nothing new is begun: see `copes`
LAST_OPENING = 7  # days before the recital in which nothing new is begun if it can wait
STUCK_EVERY = 7.0  # days between the calls of a start that is stuck
WARM_UP = 120.0  # seconds on the day itself


class Columns(NamedTuple):
    """All starts: the cells' ln half-lives and weights (n, cells), the logit of the count, days
    since the last refreshing, and whether it was ever tried; `own` are the student's three
    numbers."""

    ln_h: Array
    weights: Array
    shares: Array
    since: Array
    tried: Rows
    own: Array

    def chance(self) -> Array:
        """The forecast for each."""
        raw = (self.weights * CELLS.chance(self.ln_h, self.since[:, np.newaxis])).sum(axis=-1)
        x = facts(logit(raw), self.shares)
        found = np.clip(logistic((x * self.own).sum(axis=-1)), LEAST, 1 - LEAST)
        return np.where(self.tried, found, UNSEEN)


@dataclass(frozen=True)
class Scene:
    """One row a start. `left` are the days to the day it must hold on, `dated` whether that is a
    recital, `importance` how much it counts (0-1), `age` the days since the last cold try or,
    untried, since it was opened, `done` whether it was tried cold today, `stuck` whether practice
    by starts does not lift it. `held_seconds` and `failed_seconds` are what a try takes, `usual`
    the seconds of practice of a usual day. `asked` are the days that the teacher asks for it still,
    -1 where it is no homework. `kin` are the rows of look-alikes."""

    start: Columns
    left: Array
    dated: Rows
    importance: Array
    age: Array
    done: Rows
    stuck: Rows
    held_seconds: Array
    failed_seconds: Array
    usual: float
    asked: Array
    kin: Sequence[frozenset[int]] = field(default=())

    @cached_property
    def holds(self) -> Array:
        """The chance that each start holds now."""
        return self.start.chance()

    @property
    def eve(self) -> bool:
        """Whether a recital is tomorrow."""
        return bool(np.any(self.dated & (self.left == 1)))


class Call(NamedTuple):
    row: int
    because: Because
    seconds: float  # that it is likely to take
    safe: bool  # whether it is likely to hold at its next turn though it is not called today


def turn(seconds: Array, usual: float) -> float:
    """The days in which the minutes of a usual day come round to all, at those seconds a try."""
    return max(1.0, float(seconds.sum()) / max(usual, 60.0)) if seconds.size else 1.0


def horizons(days: float, left: Array) -> tuple[Array, Array]:
    """How many days ahead an attempt is judged: at the turns to come and on the recital day; at
    the end on the day itself and four weeks later."""
    near = np.minimum(TURNS * days, left)
    return near, np.where(left > near, left, left + AFTER)


def gains(
    cells: Cells, ln_h: Array, since: Array, tried: Rows, near: Array, far: Array
) -> tuple[Array, Array]:
    """What trying a start now is worth, cell by cell, if the cell is right; and the chance that it
    holds. All are of one shape, or spread to it."""

    def wish(ln_h: Array, waited: Array | float = 0.0) -> Array:
        soon, then = cells.chance(ln_h, waited + near), cells.chance(ln_h, waited + far)
        soon += SOFT
        then += SOFT
        return np.asarray(np.log(soon) + FAR * np.log(then))

    recall = cells.recall(ln_h, since)
    chance = cells.observed(recall)
    held, failed = cells.steps(ln_h, recall)
    gain = wish(ln_h + failed)
    gain += chance * (wish(ln_h + held) - gain)
    gain -= wish(ln_h, since)
    if not tried.all():
        begun = wish(ln_h) - (1 + FAR) * np.log(UNSEEN + SOFT)
        gain = np.where(tried, gain, begun)
    return gain, chance


def mean_gains(of: Columns, days: float, left: Array) -> Array:
    """What trying each start now is worth: the mean over its cells."""
    near, far = (one[:, np.newaxis] for one in horizons(days, left))
    since, tried = of.since[:, np.newaxis], of.tried[:, np.newaxis]
    gain, _ = gains(CELLS, of.ln_h, since, tried, near, far)
    return np.asarray((of.weights * gain).sum(axis=-1))


def worth(scene: Scene, seconds: Array, days: float) -> Array:
    """The gain of each row by the second."""
    return np.asarray(mean_gains(scene.start, days, scene.left) / seconds * scene.importance)


def chosen(scene: Scene, seconds: float) -> list[Call]:
    """The rows to call within the seconds, the most wanted first; at least one if any may be.

    What the teacher asks for comes first, the longest uncalled before the others. Then what was
    not called for long, in a part of the seconds; then by gain. On a recital's day its starts only
    get a short warm-up. Without a recital what is safe is not called.
    """
    chance = scene.holds
    cost = scene.held_seconds * chance + scene.failed_seconds * (1 - chance)
    days = turn(cost, scene.usual)
    safe = _safe(scene, days)
    basket = _Basket(cost, seconds, scene, safe)
    warm = scene.dated & (scene.left == 0)
    asked = ~scene.done & (scene.asked >= 0) & ~warm
    for row in np.flatnonzero(asked)[np.argsort(-scene.age[asked], kind="stable")]:
        basket.put(int(row), "homework")
    free = ~scene.done & ~(scene.stuck & (scene.age < STUCK_EVERY))
    _warm_up(basket, chance, scene.start.tried & free & warm, min(seconds, WARM_UP))
    free &= ~warm
    coping = copes(scene)
    late = free & ~scene.start.tried & ((not coping) | (scene.dated & (scene.left < LAST_OPENING)))
    free &= ~late
    quota = COVER * seconds
    waiting = free & _waited_long(scene, days)
    for row in np.flatnonzero(waiting)[np.argsort(-scene.age[waiting], kind="stable")]:
        if quota <= 0:
            break
        quota -= basket.put(int(row), "long ago")
    wanted = worth(scene, cost, days)
    free &= scene.dated | ~scene.start.tried | ~safe
    for rows in (free, late):
        for row in np.flatnonzero(rows)[np.argsort(-wanted[rows], kind="stable")]:
            if basket.full:
                return basket.calls
            basket.put(int(row), "gain")
    return basket.calls


def _safe(scene: Scene, days: float) -> Rows:
    """Whether each is likely to hold at its next turn without a call today."""
    later = scene.start._replace(since=scene.start.since + days).chance()
    return np.asarray(scene.start.tried & (np.round(100 * later) >= round(100 * HOLDS)))


class _Basket:
    """The calls so far, and the seconds left."""

    def __init__(self, cost: Array, seconds: float, scene: Scene, safe: Rows) -> None:
        self._cost, self._left, self._scene, self._safe = cost, seconds, scene, safe
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
        if because != "homework" and not self._scene.start.tried[row]:
            because = "untried"
        elif because != "homework" and self._scene.stuck[row]:
            because = "stuck"
        self.calls.append(Call(row, because, cost, bool(self._safe[row])))
        self.rows.add(row)
        self._left -= cost
        return cost

    def _unwise(self, row: int) -> bool:
        """Two look-alikes are not begun on one day."""
        if not self._scene.kin or self._scene.start.tried[row]:
            return False
        kin = self._scene.kin[row]
        return any(
            other in kin and not self._scene.start.tried[other] for other in self.rows
        )  # fmt: skip


def _warm_up(basket: _Basket, chance: Array, rows: Rows, seconds: float) -> None:
    for row in np.flatnonzero(rows)[np.argsort(chance[rows], kind="stable")]:
        if seconds <= 0:
            break
        seconds -= basket.put(int(row), "warm-up")


def copes(scene: Scene) -> bool:
    """Whether enough of what was begun holds, what is stuck aside, to begin more: few starts that
    are practised often come further than many that are practised seldom. Simulated students with
    little time gained by it in two kinds of mind (up to .07 of the mean) and lost less in others
    (at most .02)."""
    begun = scene.start.tried & ~scene.stuck
    return not begun.any() or float(scene.holds[begun].mean()) >= COPES


def _waited_long(scene: Scene, days: float) -> Rows:
    """Starts that were not called for one and a half turns; and untried ones that have waited
    long. What may not be begun yet is none of the `free` that this is for."""
    limit = np.full(scene.age.size, max(LONG_AGO, ROUNDS * days))
    closing = scene.dated & (scene.left <= AT_LEAST_WEEKLY)
    limit = np.where(closing, np.minimum(limit, AT_LEAST_WEEKLY), limit)
    return np.asarray(scene.age > np.where(scene.start.tried, limit, UNTRIED_WAIT))


def tomorrow(scene: Scene, calls: Sequence[Call]) -> Scene:
    """The scene a day later, if the calls went as expected."""
    called = np.zeros(scene.age.size, dtype=bool)
    called[[call.row for call in calls]] = True
    over = scene.dated & (scene.left == 0)
    return replace(
        scene,
        start=_moved(scene.start, called),
        left=np.where(scene.dated & ~over, scene.left - 1, ROLLING),
        dated=scene.dated & ~over,
        age=np.where(called, 0.0, scene.age) + 1,
        asked=np.maximum(scene.asked - 1, -1),
        done=np.zeros_like(scene.done),
    )


def _moved(part: Columns, called: Rows) -> Columns:
    """The same a day later, each cell of what was called moved as that cell expects."""
    tried = called & part.tried
    ln_h, since = part.ln_h.copy(), np.where(called, 0.0, part.since)
    recall = CELLS.recall(ln_h[tried], part.since[tried, np.newaxis])
    held, failed = CELLS.steps(ln_h[tried], recall)
    ln_h[tried] += failed + CELLS.observed(recall) * (held - failed)
    return part._replace(ln_h=ln_h, since=since + 1, tried=part.tried | called)
