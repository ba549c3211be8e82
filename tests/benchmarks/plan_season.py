"""A season of practice with simulated students: how much holds on the day, by planner.

    python -m tests.benchmarks.plan_season [--students 20] [--case "4 minutes"] [--planner NAME]

prints for each case and mind the mean chance on the recital day and the chance that all starts
hold, with the standard error over students; and how right the forecasts were. Each planner
meets the same students.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.random import Generator, default_rng

from tests.benchmarks.minds import MINDS, Played, Pupil
from tests.benchmarks.planner_adapter import Planner

SHORTEST = 20.0  # seconds left that no try is begun in
HOUR = 0.7  # of the day, when practice begins


@dataclass
class State:
    log: list[Played] = field(default_factory=list)


class Choosing(Protocol):
    def plan(self, state: State, now: float, recital: float, budget: float) -> list[int]: ...


class Expanding:
    """Gaps of 1, 2, 4, 8, ... days after each success, 1 after a failure; the most overdue
    first. New starts from the top when nothing is due. `filled`: minutes left over go to the
    starts that are next due."""

    def __init__(self, n: int, rng: Generator, *, filled: bool) -> None:
        del rng
        self._n, self._filled = n, filled

    def plan(self, state: State, now: float, recital: float, budget: float) -> list[int]:
        del recital
        gap = np.zeros(self._n)
        last = np.full(self._n, -1.0)
        for one in state.log:
            day = np.floor(one.t)
            if day == last[one.entry]:
                continue
            first = last[one.entry] < 0
            gap[one.entry] = 1 if first or one.grade < 2 else gap[one.entry] * 2
            last[one.entry] = day
        today = np.floor(now)
        due = np.where(last < 0, today, last + gap)
        order = [
            int(i)
            for i in np.lexsort((np.arange(self._n), due))
            if last[i] != today and (self._filled or due[i] <= today)
        ]
        return order[: max(int(budget // 27), 1)]


class Uniform:
    def __init__(self, n: int, rng: Generator) -> None:
        self._n, self._rng = n, rng

    def plan(self, state: State, now: float, recital: float, budget: float) -> list[int]:
        del recital
        done = {one.entry for one in state.log if np.floor(one.t) == np.floor(now)}
        left = [i for i in range(self._n) if i not in done]
        self._rng.shuffle(left)
        return left[: max(int(budget // 27), 1)]


class FromTheTop:
    """Score order from the first start, every day."""

    def __init__(self, n: int, rng: Generator) -> None:
        del rng
        self._n = n

    def plan(self, state: State, now: float, recital: float, budget: float) -> list[int]:
        del recital, budget
        done = {one.entry for one in state.log if np.floor(one.t) == np.floor(now)}
        return [i for i in range(self._n) if i not in done]


PLANNERS: dict[str, Callable[[int, int], Choosing]] = {
    "this planner": lambda n, seed: Planner(n, seed),
    "expanding, filled": lambda n, seed: Expanding(n, default_rng(seed), filled=True),
    "expanding, plain": lambda n, seed: Expanding(n, default_rng(seed), filled=False),
    "random": lambda n, seed: Uniform(n, default_rng(seed)),
    "from the top": lambda n, seed: FromTheTop(n, default_rng(seed)),
}


@dataclass(frozen=True)
class Case:
    name: str
    minutes: float = 4.0
    n: int = 24
    days: int = 42
    free: Callable[[int], bool] = lambda _: False
    kind: float = 0.0


CASES = [
    Case("4 minutes"),
    Case("2.5 minutes", minutes=2.5),
    Case("8 minutes", minutes=8.0),
    Case("12 starts", n=12, minutes=2.0),
    Case("60 starts", n=60, minutes=8.0),
    Case("days off", free=lambda day: day % 7 == 6 or 20 <= day < 27),
    Case("too kind a judge", kind=0.3),
]


@dataclass
class Result:
    mean: float
    all_hold: float
    forecasts: list[tuple[float, bool]]


def season(case: Case, mind: str, planner: str, seed: int) -> Result:
    """One student's practice up to the day, and the chances on it."""
    pupil = Pupil(MINDS[mind](default_rng([seed, 1]), case.n), default_rng([seed, 2]), case.kind)
    chooser = PLANNERS[planner](case.n, seed)
    state, forecasts, seen = State(), [], set[int]()
    for day in range(case.days):
        if case.free(day):
            continue
        now, left, played = day + HOUR, case.minutes * 60, set[int]()
        while left >= SHORTEST:
            order = chooser.plan(state, now, float(case.days) + HOUR, left)
            if not order:
                break
            for entry in order:
                if left < SHORTEST:
                    break
                if isinstance(chooser, Planner):
                    forecast = chooser.predict(entry, now)
                one = pupil.play(entry, now)
                if isinstance(chooser, Planner) and entry in seen and entry not in played:
                    forecasts.append((forecast, one.grade >= 2))
                seen.add(entry)
                played.add(entry)
                state.log.append(one)
                left -= one.seconds
                now += one.seconds / 86400
    chances = np.array([pupil.mind.chance(i, case.days + HOUR) for i in range(case.n)])
    return Result(float(chances.mean()), float(chances.prod()), forecasts)


def calibration_error(forecasts: Iterable[tuple[float, bool]]) -> float:
    """ECE over ten equal bins: mean |forecast - share held|, weighted by the bin's size."""
    pairs = np.array([(p, float(held)) for p, held in forecasts])
    bins = np.minimum((pairs[:, 0] * 10).astype(int), 9)
    error = 0.0
    for b in range(10):
        inside = pairs[bins == b]
        if len(inside):
            error += len(inside) / len(pairs) * abs(inside[:, 0].mean() - inside[:, 1].mean())
    return error


def line(case: Case, mind: str, planner: str, seeds: Iterable[int]) -> str:
    begun = time.perf_counter()
    results = [season(case, mind, planner, seed) for seed in seeds]
    means = np.array([r.mean for r in results])
    alls = np.array([r.all_hold for r in results])
    root = np.sqrt(len(results))
    text = (
        f"{case.name:17} {mind:14} {planner:18} "
        f"{means.mean():.3f} ±{means.std() / root:.3f}  {alls.mean():.3f} ±{alls.std() / root:.3f}"
    )
    forecasts = [pair for r in results for pair in r.forecasts]
    if forecasts:
        text += f"  ECE {calibration_error(forecasts):.3f} ({len(forecasts)})"
    return text + f"  {(time.perf_counter() - begun) / len(results):.2f} s each"


def main() -> None:
    asked = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    asked.add_argument("--students", type=int, default=20)
    asked.add_argument("--first", type=int, default=1000, help="the first student's seed")
    asked.add_argument("--case", action="append", choices=[case.name for case in CASES])
    asked.add_argument("--mind", action="append", choices=list(MINDS))
    asked.add_argument("--planner", action="append", choices=list(PLANNERS))
    given = asked.parse_args()
    print("case              mind           planner            mean on the day   all hold")
    for case in CASES:
        if given.case and case.name not in given.case:
            continue
        for mind in given.mind or MINDS:
            for planner in given.planner or PLANNERS:
                seeds = range(given.first, given.first + given.students)
                print(line(case, mind, planner, seeds), flush=True)


if __name__ == "__main__":
    main()
