"""The Bayesian grid: what one try does to all that a memory might be.

A student is one of 45 cells: ease eta (5) x gain (3) x what a failure does (3: drop, hold,
grow). A start adds its own ease delta (7). Since only theta = eta + delta enters the curve, a
start's half-lives and likelihoods live on 11 x 3 x 3 = 99 cells, and the sum over delta is a
short convolution. All arrays are float64; all steps are fixed in order, so that replay gives
the same bits.
"""

from __future__ import annotations

from collections.abc import Iterator
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
TOGETHER = 96  # rows whose numbers stay in a processor's near memory


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
        self.ln_fresh: Array = np.log(self.fresh)
        self._ln_ratio: Array = np.log(self.gain) + 0.5 * THETAS[:, None, None]
        self._ln_hold = np.log(law.after_hold(1.0))
        # The odds, as factors, between which a grade lies.
        self.cuts: dict[Grade, tuple[float, float]] = {
            "clean": (np.exp(law.clean), np.inf),
            "hesitant": (1.0, np.exp(law.clean)),
            "looked": (np.exp(-law.looked), 1.0),
            "lost": (0.0, np.exp(-law.looked)),
            "failed": (0.0, 1.0),
        }

    def chance(self, ln_h: Array, elapsed: Array | float) -> Array:
        """R in every cell: `Law.retained` from the ln half-lives."""
        r = np.exp(-ln_h)
        r *= elapsed * (2 ** (1 / self.law.psi) - 1)
        r += 1
        np.log(r, out=r)
        r *= -self.law.psi
        return np.exp(r, out=r)

    def odds(self, r: Array, aid: Array | float = 0.0) -> Array:
        """The odds against, exp(-x), x = clip(logit R*, -4, 4) + aid."""
        against = 1 / np.asarray(self.law.observed(r))
        against -= 1
        np.maximum(against, ODDS_MIN, out=against)
        np.minimum(against, ODDS_MAX, out=against)
        if np.any(aid):
            against *= np.exp(-np.asarray(aid))
        return np.asarray(against)

    @staticmethod
    def likelihood(against: Array, low: Array | float, high: Array | float) -> Array:
        """The chance in every cell of a grade that lies between those `cuts`."""
        found, other = against * low, against * high
        found += 1
        other += 1
        np.divide(1, found, out=found)
        np.divide(1, other, out=other)
        found -= other
        return np.asarray(found)

    def moved(self, ln_h: Array, r: Array, failed: Array | float) -> Array:
        """By how much a cold try changes the ln half-lives: 0 to 1 is the chance that it failed,
        in between the geometric mean of both is meant. As `Law.after_success` where it held;
        where it failed as `after_drop`, `after_hold` or `after_growth`."""
        growth = -self.law.spacing * ln_h
        growth += self._ln_ratio
        np.exp(growth, out=growth)
        growth *= 1 - r
        held = growth + (1 + self.law.floor)
        np.log(held, out=held)
        lost = np.empty_like(held)
        above = ln_h[..., 0] - self.ln_fresh[..., 0]
        np.maximum(above, 0.0, out=above)
        np.multiply(above, min(self.law.kappa - 1, 0.0), out=lost[..., 0])
        lost[..., 1] = self._ln_hold
        lost[..., 2] = np.log(0.3 * growth[..., 2] + (1 + self.law.floor))
        lost -= held
        lost *= failed
        lost += held
        return lost

    def evidence(self, seen: Array) -> Array:
        """For each student cell ln of the sum over delta of prior x likelihood, from the
        log-likelihoods `seen` (..., 11, 3, 3) of one start or many; shape (..., 5, 3, 3)."""
        if seen.ndim > len(CELLS) and len(seen) > TOGETHER:
            return np.concatenate([self.evidence(seen[some]) for some in spans(len(seen))])
        top = seen.max(axis=(-3, -2, -1), keepdims=True)
        likely = np.exp(seen - top)
        n = ETAS.size
        total = self.delta[0] * likely[..., 0:n, :, :]
        for i in range(1, DELTAS.size):
            total += self.delta[i] * likely[..., i : i + n, :, :]
        return np.asarray(np.log(np.maximum(total, TINY)) + top)

    def student_after(self, evidence: Array) -> Array:
        """The student's ln posterior (5, 3, 3) after the evidence of all starts (n, 5, 3, 3),
        which are independent of each other given the student."""
        return np.asarray(self.student + evidence.sum(axis=0))

    def by_student(self, seen: Array, values: Array) -> Array:
        """The means of values by cell, such as chances, of one start or of many, for each kind
        of student: (..., 5, 3, 3)."""
        likely = np.exp(seen - seen.max(axis=(-3, -2, -1), keepdims=True))
        held = likely * values
        n = ETAS.size
        above = self.delta[0] * held[..., 0:n, :, :]
        below = self.delta[0] * likely[..., 0:n, :, :]
        for i in range(1, DELTAS.size):
            above += self.delta[i] * held[..., i : i + n, :, :]
            below += self.delta[i] * likely[..., i : i + n, :, :]
        if (below < TINY).any():  # thousands of tries: far from the likeliest all products vanish
            return self._by_student_in_logarithms(seen, values)
        return np.asarray(above / below)

    def _by_student_in_logarithms(self, seen: Array, values: Array) -> Array:
        n = ETAS.size
        spans = [np.s_[..., i : i + n, :, :] for i in range(DELTAS.size)]
        ln = np.stack([np.log(d) + seen[span] for d, span in zip(self.delta, spans, strict=True)])
        likely = np.exp(ln - ln.max(axis=0))
        of = np.stack([values[span] for span in spans])
        return np.asarray((likely * of).sum(axis=0) / likely.sum(axis=0))

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


def spans(count: int, first: int = 0) -> Iterator[slice]:
    """The rows from the first up to a count, so many at a time as are best reckoned together."""
    for begin in range(first, count, TOGETHER):
        yield slice(begin, min(begin + TOGETHER, count))


@lru_cache(maxsize=8)
def grid(law: Law) -> Grid:
    return Grid(law)


def quantiles(values: Array, weights: Array) -> tuple[float, float]:
    """The 5 % and 95 % points of `values` under `weights`."""
    order = np.argsort(values, axis=None)
    mass = np.cumsum(weights.ravel()[order])
    low, high = (values.ravel()[order][np.searchsorted(mass, q * mass[-1])] for q in INTERVAL)
    return float(low), float(high)
