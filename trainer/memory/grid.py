"""The Bayesian grid: what one try does to all that a memory might be.

A student is one of 45 cells: ease eta (5) x gain (3) x what a failure does (3: drop, hold,
grow). A start adds its own ease delta (7). Since only theta = eta + delta enters the curve, a
start's half-lives and likelihoods live on 11 x 3 x 3 = 99 cells, and the sum over delta is a
short convolution. All arrays are float64; all steps are fixed in order, so that replay gives
the same bits.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from trainer.memory.curve import Law

Array = NDArray[np.float64]
Grade = Literal["clean", "hesitant", "looked", "lost", "failed"]

STEP = 0.5
ETAS = np.arange(-1.0, 1.01, STEP)
DELTAS = np.arange(-1.5, 1.51, STEP)
THETAS = np.arange(-2.5, 2.51, STEP)
GAINS = np.array([0.3, 1.0, 3.0])  # times the law's gain
FAILURES = ("drop", "hold", "grow")
CELLS = (THETAS.size, GAINS.size, len(FAILURES))
STUDENTS = (ETAS.size, GAINS.size, len(FAILURES))

TINY = 1e-300  # what vanishes beside anything that is seen
ODDS_MIN, ODDS_MAX = np.exp(-4.0), np.exp(4.0)  # the clip of x = logit R* to -4..4
LATENCY_SD, LATENCY_WEIGHT = 0.6, 0.5
INTERVAL = (0.05, 0.95)


def _normal(values: Array, sd: float) -> Array:
    weights = np.exp(-0.5 * (values / sd) ** 2)
    return np.asarray(weights / weights.sum())


class Grid:
    """The cells for one law, and the steps between them. Holds constants only."""

    def __init__(self, law: Law) -> None:
        self.law = law
        ones = np.ones(CELLS)
        self.ease: Array = np.exp(THETAS)[:, None, None] * ones
        self.gain: Array = law.gain * GAINS[None, :, None] * ones
        self.fresh: Array = law.half_life * self.ease
        self.delta = _normal(DELTAS, 0.7)
        self.student: Array = (
            np.log(_normal(ETAS, 0.5))[:, None, None]
            + np.log(_normal(np.log(GAINS), 0.9))[None, :, None]
            + np.log(np.array([0.5, 0.3, 0.2]))
        )
        self._ratio = law.gain * GAINS[None, :] * np.exp(THETAS / 2)[:, None]  # (11, 3)
        self._hold_cut, self._clean_cut, self._look_cut = (
            1.0,
            np.exp(law.clean),
            np.exp(-law.looked),
        )

    def chance(self, h: Array, elapsed: Array | float) -> Array:
        """R in every cell."""
        return np.asarray(self.law.retained(elapsed, h))

    def odds(self, r: Array, aid: float = 0.0) -> Array:
        """The odds against, exp(-x), x = clip(logit R*, -4, 4) + aid."""
        seen = self.law.observed(r)
        against = np.minimum(np.maximum((1 - seen) / seen, ODDS_MIN), ODDS_MAX)
        return np.asarray(against * np.exp(-aid) if aid else against)

    def likelihood(self, against: Array, grade: Grade) -> Array:
        """The chance of that grade in every cell."""
        if grade == "clean":
            return np.asarray(1 / (1 + against * self._clean_cut))
        held = 1 / (1 + against)
        if grade == "hesitant":
            return np.asarray(held - 1 / (1 + against * self._clean_cut))
        if grade == "failed":
            return np.asarray(1 - held)
        not_lost = 1 / (1 + against * self._look_cut)
        return np.asarray(not_lost - held if grade == "looked" else 1 - not_lost)

    def moved(self, h: Array, r: Array, held: bool, doubt: Array | None = None) -> Array:
        """The half-lives after a cold try; where there is a chance, `doubt`, that it went the
        other way, the geometric mean of both."""
        growth = self._ratio[:, :, None] * h**-self.law.spacing * (1 - r)
        if doubt is None:
            return self._longer(h, growth) if held else self._failed(h, growth)
        one, other = self._longer(h, growth), self._failed(h, growth)
        if not held:
            one, other = other, one
        return np.asarray(one * (other / one) ** doubt)

    def _longer(self, h: Array, growth: Array) -> Array:
        return np.asarray(h * (1 + self.law.floor + growth))

    def _failed(self, h: Array, growth: Array) -> Array:
        after = np.empty_like(h)
        drop = self.fresh[:, :, 0]
        kept = drop * np.maximum(h[:, :, 0] / drop, 1.0) ** self.law.kappa
        after[:, :, 0] = np.minimum(h[:, :, 0], kept)
        after[:, :, 1] = self.law.after_hold(h[:, :, 1])
        after[:, :, 2] = h[:, :, 2] * (1 + self.law.floor + 0.3 * growth[:, :, 2])
        return after

    def evidence(self, seen: Array) -> Array:
        """For each student cell ln of the sum over delta of prior x likelihood, from the
        log-likelihoods `seen` (..., 11, 3, 3) of one start or many; shape (..., 5, 3, 3)."""
        top = seen.max(axis=(-3, -2, -1), keepdims=True)
        likely = np.exp(seen - top)
        n = ETAS.size
        total = self.delta[0] * likely[..., 0:n, :, :]
        for i in range(1, DELTAS.size):
            total += self.delta[i] * likely[..., i : i + n, :, :]
        return np.asarray(np.log(np.maximum(total, TINY)) + top)

    def by_student(self, seen: Array, chances: Array) -> Array:
        """The chance of one start, or of many, for each kind of student: (..., 5, 3, 3). Given
        the student, starts are independent of each other."""
        likely = np.exp(seen - seen.max(axis=(-3, -2, -1), keepdims=True))
        held = likely * chances
        n = ETAS.size
        above = self.delta[0] * held[..., 0:n, :, :]
        below = self.delta[0] * likely[..., 0:n, :, :]
        for i in range(1, DELTAS.size):
            above += self.delta[i] * held[..., i : i + n, :, :]
            below += self.delta[i] * likely[..., i : i + n, :, :]
        return np.asarray(above / np.maximum(below, TINY))

    def weights(self, student: Array, evidence: Array, seen: Array) -> Array:
        """The posterior of one start's cells, or many starts', summing to 1 each.

        `student` is the student's ln posterior, all starts counted in; `evidence` and `seen`
        are those of the start, as in `evidence`.
        """
        without = student - evidence
        rest = np.exp(without - without.max(axis=(-3, -2, -1), keepdims=True))
        spread = np.zeros((*rest.shape[:-3], *CELLS))
        n = ETAS.size
        for i in range(DELTAS.size):
            spread[..., i : i + n, :, :] += self.delta[i] * rest
        spread *= np.exp(seen - seen.max(axis=(-3, -2, -1), keepdims=True))
        total = spread.sum(axis=(-3, -2, -1), keepdims=True)
        if (total < TINY).any():  # thousands of tries of one start against those of the others
            spread = self._in_logarithms(without, seen)
            total = spread.sum(axis=(-3, -2, -1), keepdims=True)
        return np.asarray(spread / total)

    def _in_logarithms(self, without: Array, seen: Array) -> Array:
        """The same spread, up to a factor, where products would vanish."""
        spread = np.full((*without.shape[:-3], *CELLS), -np.inf)
        n = ETAS.size
        for i in range(DELTAS.size):
            one = np.log(self.delta[i]) + without
            spread[..., i : i + n, :, :] = np.logaddexp(spread[..., i : i + n, :, :], one)
        spread = spread + seen
        return np.asarray(np.exp(spread - spread.max(axis=(-3, -2, -1), keepdims=True)))


@lru_cache(maxsize=8)
def grid(law: Law) -> Grid:
    return Grid(law)


def quantiles(values: Array, weights: Array) -> tuple[float, float]:
    """The 5 % and 95 % points of `values` under `weights`."""
    order = np.argsort(values, axis=None)
    mass = np.cumsum(weights.ravel()[order])
    low, high = (values.ravel()[order][np.searchsorted(mass, q * mass[-1])] for q in INTERVAL)
    return float(low), float(high)
