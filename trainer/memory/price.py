"""What a try is worth in seconds: the price index of a start.

Each start is asked, by itself: at which price a second of practice would I just not be
practised today? The answer comes from backward dynamic programming over the days left, the
half-life and the days since the last try, at several prices (a Lagrangian relaxation of "who
gets the minutes": Whittle 1988, J Appl Probab 25A:287-298 is the general idea). The starts
with the highest price get the minutes.

What is wished for is ln(p + .3) on the day and a quarter of it four weeks later: the last
tenth of a sure start is worth less than lifting a weak one, and a hopeless one does not take
all.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from trainer.memory.curve import Law
from trainer.memory.grid import FAILURES, GAINS, THETAS, Array

SECONDS_HELD, SECONDS_FAILED = 23.0, 35.0  # a try with its page, until a log says better
SOFT = 0.3  # added to p in what is wished for
LATER, LATER_WEIGHT = 28, 0.25  # days after the day, and how much they count
UNTRIED = 0.02  # the chance of a start that was never tried
DAYS_LEFT, DAYS_SINCE = 56, 60  # how far the table goes; beyond it stands still
HALF_LIVES: Array = np.geomspace(0.1, 400.0, 32)  # days
PRICES: Array = np.geomspace(0.0005, 0.05, 9)  # a second

_LN = np.log(HALF_LIVES)


class Table(NamedTuple):
    """`tried` (days left from 0, half-life, days since 0-60) and `untried` (days left): the
    price at which a try today is just worth its seconds; negative where it does harm."""

    tried: NDArray[np.float32]
    untried: Array


def wish(p: Array) -> Array:
    """How much a chance `p` on the day is wished for."""
    return np.asarray(np.log(p + SOFT))


def _place(h: Array) -> tuple[NDArray[np.intp], Array]:
    """Where half-lives lie between those of the table: index below, and share of the way."""
    x = np.clip((np.log(h) - _LN[0]) / (_LN[1] - _LN[0]), 0, _LN.size - 1.001)
    below = x.astype(np.intp)
    return below, x - below


def _between(values: Array, place: tuple[NDArray[np.intp], Array]) -> Array:
    """`values` (prices, half-lives) at those places."""
    below, share = place
    return np.asarray(values[:, below] * (1 - share) + values[:, below + 1] * share)


def _index(advantage: Array, cost: Array) -> Array:
    """The price where the advantage (prices first, falling) is nought."""
    above = (advantage > 0).sum(axis=0)
    k = np.clip(above, 1, PRICES.size - 1)[None]
    low, high = np.take_along_axis(advantage, k - 1, 0)[0], np.take_along_axis(advantage, k, 0)[0]
    share = low / np.maximum(low - high, 1e-12)
    ln = np.log(PRICES)
    found = np.exp(np.minimum(ln[k[0] - 1] + share * (ln[k[0]] - ln[k[0] - 1]), ln[-1] + 3))
    return np.asarray(
        np.where(above == 0, np.minimum(PRICES[0] + advantage[0] / cost, PRICES[0]), found)
    )


def after_failure(h: Array, r: Array, law: Law, ease: float, gain: float, kind: str) -> Array:
    if kind == "drop":
        fresh = law.half_life * ease
        drop: Array = np.minimum(h, fresh * np.maximum(h / fresh, 1.0) ** law.kappa)
        return np.asarray(np.broadcast_to(drop, r.shape))
    if kind == "hold":
        return np.asarray(np.broadcast_to(law.after_hold(h), r.shape))
    return np.asarray(law.after_growth(h, r, ease, gain))


def reach(left: int) -> int:
    """How far a table has to go for so many days left: two weeks, four or eight."""
    return next((days for days in (14, 28) if left <= days), DAYS_LEFT)


@lru_cache(maxsize=48)
def table(law: Law, theta: int, gain: int, failure: int, days: int = DAYS_LEFT) -> Table:
    """The table for one kind of student: indices into THETAS, GAINS and FAILURES; up to so many
    days left (see `reach`).

    At most 0.45 MB and about a tenth of a second each; kept for the process.
    """
    ease, gains = float(np.exp(THETAS[theta])), law.gain * float(GAINS[gain])
    since = np.arange(DAYS_SINCE + 1.0)
    h = HALF_LIVES[:, None]
    r = law.retained(since[None, :], h)
    held = _place(law.after_success(h, r, ease, gains))
    failed = _place(after_failure(h, r, law, ease, gains, FAILURES[failure]))
    looked = _place(np.array([law.half_life * ease]))
    cost = SECONDS_HELD * r + SECONDS_FAILED * (1 - r)
    price = PRICES[:, None, None]
    worth = wish(r) + LATER_WEIGHT * wish(law.retained(since[None, :] + LATER, h))
    value = np.broadcast_to(worth, (PRICES.size, *r.shape))
    unseen = np.full((PRICES.size, 1), float(wish(np.array(UNTRIED))) * (1 + LATER_WEIGHT))
    tried = np.zeros((days + 1, *r.shape), dtype=np.float32)
    untried = np.zeros(days + 1)
    tomorrow = np.minimum(np.arange(DAYS_SINCE + 1) + 1, DAYS_SINCE)
    for left in range(1, days + 1):
        fresh = value[:, :, 1]
        practise = r * _between(fresh, held) + (1 - r) * _between(fresh, failed) - price * cost
        skip = value[:, :, tomorrow]
        begin = _between(fresh, looked) - PRICES[:, None] * SECONDS_FAILED
        tried[left] = _index(practise - skip, cost)
        untried[left] = _index(begin - unseen, np.array([SECONDS_FAILED]))[0]
        value, unseen = np.maximum(practise, skip), np.maximum(begin, unseen)
    return Table(tried, untried)


def prices(
    found: Table, left: NDArray[np.intp], h: Array, since: Array, tried: NDArray[np.bool_]
) -> Array:
    """The prices of many starts: days left, half-lives, days since the last try, and whether
    each was ever `tried`."""
    left = np.clip(left, 0, len(found.untried) - 1)
    below, share = _place(h)
    e = np.clip(since, 0, DAYS_SINCE - 1e-9)
    day = e.astype(np.intp)
    part = e - day
    t = found.tried
    earlier = t[left, below, day] * (1 - share) + t[left, below + 1, day] * share
    later = t[left, below, day + 1] * (1 - share) + t[left, below + 1, day + 1] * share
    return np.where(tried, earlier * (1 - part) + later * part, found.untried[left])
