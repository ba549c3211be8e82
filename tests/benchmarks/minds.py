"""Simulated students, in six kinds of mind, to try the planner on.

Only the first is of the family that the planner itself believes in. Constants that a paper
gives are marked so; the others are ours, chosen so that about half of 24 starts would be
shaky after six weeks of four minutes a day. Each student draws own constants.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.random import Generator

from tests.benchmarks.law import Law

NOT_YET = 0.02  # the chance of a start that was never looked at


class Mind(Protocol):
    """A memory of n starts. `t` in days."""

    def chance(self, entry: int, t: float) -> float:
        """The chance that a cold try of `entry` holds at `t`."""

    def learn(self, entry: int, t: float, held: bool) -> None:
        """One try, and the page after it."""


class Family:
    """The two-component memory of `tests.benchmarks.law`, with constants of its own."""

    def __init__(self, rng: Generator, n: int) -> None:
        self.law = Law(psi=float(rng.normal(0.8, 0.08)), gain=float(np.exp(rng.normal(1.6, 0.6))))
        self.facility = np.exp(rng.normal(0, 0.4) + rng.normal(0, 0.6, n))
        self.failing = rng.choice(3, p=[0.5, 0.3, 0.2])
        self.h = np.zeros(n)
        self.last = np.full(n, np.nan)

    def chance(self, entry: int, t: float) -> float:
        if np.isnan(self.last[entry]):
            return NOT_YET
        return float(self.law.retained(max(t - self.last[entry], 0), self.h[entry]))

    def learn(self, entry: int, t: float, held: bool) -> None:
        h, facility = float(self.h[entry]), float(self.facility[entry])
        if np.isnan(self.last[entry]):
            h = self.law.half_life * facility
        elif held:
            h = self.law.after_success(h, self.chance(entry, t), facility, self.law.gain)
        elif self.failing == 0:
            h = self.law.after_drop(h, facility)
        elif self.failing == 1:
            h = self.law.after_hold(h)
        else:
            h = self.law.after_growth(h, self.chance(entry, t), facility, self.law.gain)
        self.h[entry], self.last[entry] = h, t


class Multiscale:
    """Leaky stores on many time scales, each learning what it and the faster ones lack.

    The form of Mozer, Pashler, Cepeda, Lindsey & Vul 2009 (NIPS 22, the multiscale context
    model): store i decays with its own time constant mu * nu^i and has the weight xi^i; the
    strength s_i is the weighted mean of the stores up to i; a try adds epsilon * (1 - s_i) to
    store i, and a start is recalled with the chance s of all stores, at most 1. A hundred
    stores, as in the paper (from memory). Epsilon is 1 after the page; after a success it is
    `BOOST`. Constants ours: about half of 24 starts shaky after six weeks of four minutes.
    """

    STORES = 100
    MU, NU = 0.02, 1.11  # days, and ratio
    FADES = (0.22, 0.08, 0.04)  # ln xi / ln nu: mean, SD over students, SD over starts
    BOOST = 1.0

    def __init__(self, rng: Generator, n: int) -> None:
        mean, students, starts = self.FADES
        fades = np.clip(rng.normal(mean, students) + rng.normal(0, starts, n), 0.05, 1.0)
        index = np.arange(self.STORES)
        self.tau = self.MU * self.NU**index
        self.weight = np.exp(-np.outer(fades, np.log(self.NU) * index))
        self.weight /= self.weight.sum(axis=1, keepdims=True)
        self.upto = np.cumsum(self.weight, axis=1)
        self.boost = self.BOOST * float(np.exp(rng.normal(0, 0.2)))
        self.stores = np.zeros((n, self.STORES))
        self.last = np.full(n, np.nan)

    def _strengths(self, entry: int, t: float) -> tuple[np.ndarray, np.ndarray]:
        gone = 0.0 if np.isnan(self.last[entry]) else max(t - self.last[entry], 0.0)
        stores = self.stores[entry] * np.exp(-gone / self.tau)
        return stores, np.cumsum(self.weight[entry] * stores) / self.upto[entry]

    def chance(self, entry: int, t: float) -> float:
        if np.isnan(self.last[entry]):
            return NOT_YET
        return min(1.0, float(self._strengths(entry, t)[1][-1]))

    def learn(self, entry: int, t: float, held: bool) -> None:
        stores, strengths = self._strengths(entry, t)
        rate = self.boost if held and not np.isnan(self.last[entry]) else 1.0
        self.stores[entry] = stores + rate * np.maximum(1 - strengths, 0)
        self.last[entry] = t


class Boosted(Multiscale):
    """The same where a success adds twice what the page does."""

    FADES = (0.32, 0.10, 0.04)
    BOOST = 2.0


class Saturating:
    """Leaky stores on a dozen time scales that fill up to 1, with a threshold: `Multiscale` in
    another form, in which practice of what still holds is worth much. Constants ours."""

    SCALES = 12

    def __init__(self, rng: Generator, n: int) -> None:
        fast = np.exp(rng.normal(np.log(0.08), 0.3))
        self.tau = fast * 2.4 ** np.arange(self.SCALES)
        weight = np.exp(rng.normal(-0.12, 0.03)) ** np.arange(self.SCALES)
        self.weight = weight / weight.sum()
        self.rate = np.clip(np.exp(rng.normal(np.log(0.45), 0.3, n)), 0.05, 0.95)
        self.looked = rng.uniform(0.2, 0.7)
        self.needed = rng.normal(0.40, 0.10) + rng.normal(0, 0.03, n)
        self.stores = np.zeros((n, self.SCALES))
        self.last = np.full(n, np.nan)

    def _strengths(self, entry: int, t: float) -> tuple[np.ndarray, np.ndarray]:
        gone = 0.0 if np.isnan(self.last[entry]) else max(t - self.last[entry], 0.0)
        stores = self.stores[entry] * np.exp(-gone / self.tau)
        strengths = np.cumsum(self.weight * stores) / np.cumsum(self.weight)
        return stores, strengths

    def chance(self, entry: int, t: float) -> float:
        if np.isnan(self.last[entry]):
            return NOT_YET
        strength = self._strengths(entry, t)[1][-1]
        return float(1 / (1 + np.exp(-(strength - self.needed[entry]) / 0.07)))

    def learn(self, entry: int, t: float, held: bool) -> None:
        stores, strengths = self._strengths(entry, t)
        rate = self.rate[entry] * (1.0 if held else self.looked)
        self.stores[entry] = stores + rate * np.maximum(1 - strengths, 0)
        self.last[entry] = t


class Activation:
    """Pavlik & Anderson 2005, Cogn Sci 29:559-586: each try leaves a trace that decays the
    faster the more active the item was. a and c are the paper's; s and the thresholds ours;
    time between days runs slower than on the clock, as in the paper."""

    A, C = 0.177, 0.217
    SLOW = 0.025

    def __init__(self, rng: Generator, n: int) -> None:
        self.threshold = rng.normal(-0.75, 0.12) + rng.normal(0, 0.12, n)
        self.noise = float(np.exp(rng.normal(np.log(0.22), 0.15)))
        self.times: list[list[float]] = [[] for _ in range(n)]
        self.decays: list[list[float]] = [[] for _ in range(n)]

    def activation(self, entry: int, t: float) -> float:
        """m = ln of the sum of t_k^-d_k, t_k in (slowed) seconds, at least one."""
        ages = np.maximum((t - np.array(self.times[entry])) * 86400 * self.SLOW, 1.0)
        return float(np.log(np.sum(ages ** -np.array(self.decays[entry]))))

    def chance(self, entry: int, t: float) -> float:
        if not self.times[entry]:
            return NOT_YET
        m = self.activation(entry, t)
        return float(1 / (1 + np.exp((self.threshold[entry] - m) / self.noise)))

    def learn(self, entry: int, t: float, held: bool) -> None:
        del held  # the page after the try makes both a trace
        decay = self.A
        if self.times[entry]:
            decay += self.C * float(np.exp(self.activation(entry, t)))
        self.times[entry].append(t)
        self.decays[entry].append(decay)


class FastAndSlow:
    """Two exponential stores, after the two-state form of Smith, Ghazizadeh & Shadmehr 2006
    (PLoS Biol 4:e179): one learns and forgets fast, one slowly, and sleep carries a part of
    the fast one over. Kept out of all tuning. Constants ours."""

    def __init__(self, rng: Generator, n: int) -> None:
        self.fast, self.slow = np.zeros(n), np.zeros(n)
        self.last = np.full(n, np.nan)
        self.carry = np.clip(rng.normal(0.30, 0.05) + rng.normal(0, 0.07, n), 0.08, 0.6)
        self.tau = np.exp(rng.normal(np.log(25), 0.3, n))

    def _now(self, entry: int, t: float) -> tuple[float, float]:
        if np.isnan(self.last[entry]):
            return 0.0, 0.0
        gone = max(t - self.last[entry], 0.0)
        fast, slow = self.fast[entry], self.slow[entry]
        slept = min(gone, 1.0)
        slow = slow + self.carry[entry] * slept * max(fast - slow, 0)
        return float(fast * np.exp(-gone / 1.2)), float(slow * np.exp(-gone / self.tau[entry]))

    def chance(self, entry: int, t: float) -> float:
        if np.isnan(self.last[entry]):
            return NOT_YET
        fast, slow = self._now(entry, t)
        return float(1 / (1 + np.exp(-(0.45 * fast + slow - 0.45) / 0.11)))

    def learn(self, entry: int, t: float, held: bool) -> None:
        fast, slow = self._now(entry, t)
        self.fast[entry] = fast + 0.8 * (1 - fast)
        self.slow[entry] = slow + (0.06 if held else 0.03) * (1 - slow)
        self.last[entry] = t


class Relearning:
    """Forgetting by a power of time whose slope each attempt makes flatter, whenever it is made:
    p = (1 + b t)^-d, d = d0 n^-k after n attempts, a failure counting half. Spacing gives nothing,
    so it is unlike what the planner believes. Constants ours."""

    def __init__(self, rng: Generator, n: int) -> None:
        self.slope = np.exp(rng.normal(np.log(0.9), 0.2) + rng.normal(0, 0.3, n))
        self.flatter = rng.uniform(0.25, 0.5)
        self.pace = float(np.exp(rng.normal(np.log(3.0), 0.3)))
        self.tries = np.zeros(n)
        self.last = np.full(n, np.nan)

    def chance(self, entry: int, t: float) -> float:
        if np.isnan(self.last[entry]):
            return NOT_YET
        slope = self.slope[entry] * self.tries[entry] ** -self.flatter
        return float((1 + self.pace * max(t - self.last[entry], 0.0)) ** -slope)

    def learn(self, entry: int, t: float, held: bool) -> None:
        self.tries[entry] += 1.0 if held else 0.5
        self.last[entry] = t


class Plateau:
    """Starts that hold with a fixed chance and never improve."""

    def __init__(self, rng: Generator, n: int) -> None:
        self.fixed = rng.uniform(0.1, 0.95, n)

    def chance(self, entry: int, t: float) -> float:
        del t
        return float(self.fixed[entry])

    def learn(self, entry: int, t: float, held: bool) -> None:
        """Nothing is learned."""


class Changing:
    """Starts that hold nine times in ten until a day on which six in ten of them collapse to one
    in five: for good, or for `days` only."""

    def __init__(self, rng: Generator, n: int, days: float = np.inf) -> None:
        self.begins = np.where(rng.random(n) < 0.6, rng.uniform(6, 16, n), np.inf)
        self.ends = self.begins + days

    def chance(self, entry: int, t: float) -> float:
        return 0.2 if self.begins[entry] < t < self.ends[entry] else 0.93

    def learn(self, entry: int, t: float, held: bool) -> None:
        """Nothing that is practised changes it."""


class Relapsing(Changing):
    """The same for a week."""

    def __init__(self, rng: Generator, n: int) -> None:
        super().__init__(rng, n, 7.0)


class Mixed:
    """The planner's own family with three starts in ten that never improve and one in ten that
    collapses to one in five."""

    def __init__(self, rng: Generator, n: int) -> None:
        self.family = Family(rng, n)
        kind = rng.random(n)
        self.stuck = kind < 0.3
        self.fixed = rng.uniform(0.1, 0.8, n)
        self.until = np.where(kind > 0.9, rng.uniform(12, 30, n), np.inf)

    def chance(self, entry: int, t: float) -> float:
        p = self.family.chance(entry, t)
        if np.isnan(self.family.last[entry]):
            return p
        if self.stuck[entry]:
            return float(self.fixed[entry])
        return min(p, 0.2) if t > self.until[entry] else p

    def learn(self, entry: int, t: float, held: bool) -> None:
        self.family.learn(entry, t, held)


MINDS: dict[str, Callable[[Generator, int], Mind]] = {
    "own family": Family,
    "multiscale": Multiscale,
    "boosted": Boosted,
    "saturating": Saturating,
    "activation": Activation,
    "fast and slow": FastAndSlow,
    "relearning": Relearning,
    "mixed": Mixed,
}


@dataclass(frozen=True)
class Played:
    """One try as a log has it. `grade`: 0 nothing, 1 looked, 2 stopped, 3 through."""

    entry: int
    t: float
    grade: int
    latency: float
    seconds: float


class Pupil:
    """A mind with hands: tries starts, takes seconds for it, and judges itself.

    `kind` is the chance that a start which did not hold is called a hesitant one.
    """

    def __init__(self, mind: Mind, rng: Generator, kind: float = 0.0) -> None:
        self.mind, self._rng, self._kind = mind, rng, kind
        self._pace = float(np.exp(rng.normal(np.log(2), 0.3)))

    def play(self, entry: int, t: float) -> Played:
        p = self.mind.chance(entry, t)
        seen = min(max(0.01 + 0.98 * p, 0.018), 0.982)
        x = float(np.log(seen / (1 - seen)))
        u = float(self._rng.random())
        held = u < seen
        self.mind.learn(entry, t, held)
        if held:
            grade = 3 if u < 1 / (1 + np.exp(1 - x)) else 2
            latency = 0.5 + self._pace * float(np.exp(-0.35 * x + self._rng.normal(0, 0.6)))
            return Played(entry, t, grade, latency, float(self._rng.normal(23, 3)))
        grade = 1 if u < 1 / (1 + np.exp(-x - 1.2)) else 0
        if self._rng.random() < self._kind:
            grade = 2
        return Played(entry, t, grade, float("nan"), float(self._rng.normal(35, 5)))
