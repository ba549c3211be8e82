"""The cells: explanations of how one start may behave, and the law that moves them.

A *moving* cell follows a law of forgetting and relearning. Its half-life h is the delay in days
after which a cold attempt works half the time; the chance that memory holds e days after the last
attempt falls as a power of time, r = (1 + c e/h)^-psi. A success lengthens h, the more the less
likely it was; what a failure does differs between people: h drops towards that of one look at the
music, or even a failure with a look teaches something. How easy a start is and how much a success
gives are not known, so there is a cell for each of some values.

A *stuck* cell holds with a fixed chance, whatever is practised: a passage that was never settled,
or one that depends on something other than memory. Only months without an attempt lower it.

Power-law forgetting of individuals: Wixted & Ebbesen 1997, Mem Cogn 25:731-739. The half-life as
the thing to learn: Settles & Meeder 2016, ACL. The constants are our own, held against simulated
students (`tests/benchmarks`).
"""

from __future__ import annotations

import math
from itertools import product
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

PSI = 0.8  # how heavy the tail of forgetting is
HALF = 2 ** (1 / PSI) - 1  # so that r is one half at e = h
SPACING = 0.30  # how much a long half-life damps further growth
FLOOR = 0.05  # growth of a success without any forgetting
KAPPA = 0.35  # how much of ln h above that of one look is left after a failure, under "drop"
GROWTH = 0.3  # of a success's growth that a failure with a look gives, under "grow"
LAPSE = 0.02  # misses and hits that have nothing to do with memory
LOOKED = 0.6  # days: the half-life after one look at the music, at facility 1
LEARNED = 6.0  # days: after a first attempt that held, for the start was learned before
LONGEST = math.log(500.0)  # ln days: no half-life grows beyond
SETTLED = math.log(100.0)  # ln days: the half-life of a stuck cell, whatever is practised
CEILING = 0.98  # how often a moving cell holds while the memory is fresh

# What is thought possible, and how likely it is before anything is known.
FACILITIES = {-2.0: 0.054, -1.0: 0.242, 0.0: 0.399, 1.0: 0.242, 2.0: 0.054}  # ln facility ~ N(0, 1)
GAINS = {1.5: 0.3, 6.0: 0.4, 25.0: 0.3}  # growth of a success at the edge of forgetting
FAILURES = {"drop": 0.6, "grow": 0.4}
STUCK = (0.1, 0.3, 0.5, 0.7, 0.9)
STUCK_SHARE = 0.4  # of the prior, all stuck cells together


class Cells(NamedTuple):
    """Some cells, one a column: arrays of any one shape. `looked` and `learned` are the ln
    half-lives to begin with, `ln_gain` that of a success, with the facility; `drops` is 1 where a
    failure drops, 0 where it teaches; `ceiling` is the chance while fresh; `moves` is 1 for moving
    cells and 0 for stuck ones."""

    looked: Array
    learned: Array
    ln_gain: Array
    drops: Array
    ceiling: Array
    moves: Array

    def recall(self, ln_h: Array, days: Any) -> Array:
        """r, the chance that memory holds so many days after the last attempt."""
        odds = np.exp(-ln_h)
        odds *= HALF * days
        odds += 1
        np.log(odds, out=odds)
        odds *= -PSI
        return np.asarray(np.exp(odds, out=odds))

    def observed(self, recall: Array) -> Array:
        """The chance that an attempt holds: never quite 0 nor 1."""
        return np.asarray(LAPSE / 2 + (1 - LAPSE) * self.ceiling * recall)

    def chance(self, ln_h: Array, days: Any) -> Array:
        return self.observed(self.recall(ln_h, days))

    def steps(self, ln_h: Array, recall: Array) -> tuple[Array, Array]:
        """By how much ln h changes where an attempt held, and where it failed and the music was
        looked at."""
        growth = np.exp(self.ln_gain - SPACING * ln_h)
        growth *= 1 - recall
        room = np.maximum(LONGEST - ln_h, 0.0)
        held = np.minimum(np.log(growth + (1 + FLOOR)), room)
        drop = (KAPPA - 1) * np.maximum(ln_h - self.looked, 0.0)
        teach = np.minimum(np.log(GROWTH * growth + (1 + FLOOR)), room)
        failed = teach + self.drops * (drop - teach)
        return held * self.moves, failed * self.moves

    def some(self, places: Any) -> Cells:
        """The cells at those places."""
        return Cells(*(column[places] for column in self))


def _all() -> tuple[Cells, Array]:
    """Every cell, and the prior."""
    moving = [
        (math.log(LOOKED) + facility, math.log(LEARNED) + facility, math.log(gain) + facility / 2,
         float(failure == "drop"), CEILING, 1.0, of_facility * of_gain * of_failure)
        for (facility, of_facility), (gain, of_gain), (failure, of_failure) in product(
            FACILITIES.items(), GAINS.items(), FAILURES.items()
        )
    ]  # fmt: skip
    stuck = [(SETTLED, SETTLED, 0.0, 1.0, chance, 0.0, 0.0) for chance in STUCK]
    *columns, prior = np.array(moving + stuck).T.copy()
    prior *= (1 - STUCK_SHARE) / prior.sum()
    prior[len(moving) :] = STUCK_SHARE / len(stuck)
    return Cells(*columns), prior


CELLS, PRIOR = _all()
COUNT = len(PRIOR)
