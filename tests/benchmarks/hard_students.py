"""Students of whom no law is true: are the forecasts to be believed, and is what is stuck named?

    python -m tests.benchmarks.hard_students [--students 12] [--first 9000]

Students practise by chance (a start drawn at random, or by growing gaps), so that the same logs
serve any model. Printed for each kind: the log loss of the forecasts beside that of a plain count,
(held + 1) / (tried + 2), and of who knows the true chance; the calibration error; by how much the
forecast is too high where the true chance is under one half, too low where it is over three
quarters, and too high from the third attempt after a collapse on; and of the starts named stuck in
the end, how many truly are.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator, default_rng

from tests.benchmarks.minds import (
    MINDS,
    Changing,
    Mind,
    Mixed,
    Plateau,
    Played,
    Pupil,
    Relapsing,
)
from tests.benchmarks.plan_season import HOUR, calibration_error
from tests.benchmarks.planner_adapter import attempt_of
from trainer.memory.evidence import Try, weigh
from trainer.memory.model import believe, foretold

A_DAY = 9  # attempts of those with many starts


@dataclass(frozen=True)
class Kind:
    """A kind of student: `n` starts, tried all `every` so many days, or nine a day where `every`
    is 0; forecasts count from a start's attempt number `since` (from 0) on; `kind` is the chance
    that a miss is called a stop."""

    name: str
    mind: Callable[[Generator, int], Mind]
    n: int = 24
    days: int = 42
    every: int = 0
    since: int = 1
    kind: float = 0.0


KINDS = [
    *(Kind(name, mind) for name, mind in MINDS.items()),
    Kind("plateau, daily", Plateau, 8, 24, 1, 3),
    Kind("plateau, second day", Plateau, 8, 24, 2, 3),
    Kind("one plateau", Plateau, 1, 24, 1, 3),
    Kind("collapse", Changing, 6, 24, 1),
    Kind("relapse", Relapsing, 6, 24, 1),
    Kind("kind judge", MINDS["own family"], kind=0.2),
]


@dataclass(frozen=True)
class Told:
    """One forecast: the chance given, the true one, that of a plain count, whether it held, and
    how many attempts the start had since it collapsed."""

    chance: float
    true: float
    count: float
    held: bool
    after: int


def played(kind: Kind, seed: int) -> tuple[Mind, list[tuple[Played, float, bool]]]:
    """A student's attempts, each with its true chance and whether it really held."""
    rng = default_rng([seed, 5])
    mind = kind.mind(default_rng([seed, 1]), kind.n)
    pupil = Pupil(mind, default_rng([seed, 2]), 0.0)
    judge = default_rng([seed, 6])
    log: list[tuple[Played, float, bool]] = []
    gaps, last = np.ones(kind.n), np.full(kind.n, -9.0)
    for day in range(kind.days):
        for place, entry in enumerate(_called(kind, seed, day, rng, gaps, last)):
            t = day + HOUR + place / 2000
            true = 0.01 + 0.98 * mind.chance(entry, t)
            one = pupil.play(entry, t)
            held = one.grade >= 2
            if not held and judge.random() < kind.kind:
                one = Played(one.entry, one.t, 2, one.latency, one.seconds)
            log.append((one, true, held))
            gaps[entry] = min(2 * gaps[entry], 16) if held else 1
            last[entry] = day
    return mind, log


def _called(
    kind: Kind, seed: int, day: int, rng: Generator, gaps: np.ndarray, last: np.ndarray
) -> list[int]:
    """All of them; or nine drawn at random; or, of every other student, the most overdue."""
    if kind.every:
        return [] if day % kind.every else [int(i) for i in rng.permutation(kind.n)]
    if seed % 2 or not day:
        return [int(i) for i in rng.permutation(kind.n)[:A_DAY]]
    overdue = (day - last) / gaps + 0.3 * rng.random(kind.n)
    return [int(i) for i in np.argsort(-overdue)[:A_DAY]]


def tries_of(log: Iterable[tuple[Played, float, bool]]) -> tuple[Try, ...]:
    return weigh([attempt_of(n, one) for n, (one, *_) in enumerate(log)], {})


def forecasts(kind: Kind, seed: int) -> Iterator[Told]:
    """One student's, first attempts left out; held against what really held."""
    _, log = played(kind, seed)
    tries = tries_of(log)
    chances = {int(one.attempt.id): chance for one, chance, _ in foretold(tries)}
    counts, after = np.zeros((kind.n, 2)), np.zeros(kind.n, dtype=int)
    for number, (one, true, held) in enumerate(log):
        yes, all_ = counts[one.entry]
        if number in chances and all_ >= kind.since:
            count = float((yes + 1) / (all_ + 2))
            yield Told(chances[number], true, count, held, int(after[one.entry]))
        counts[one.entry] += one.grade >= 2, 1
        after[one.entry] = after[one.entry] + 1 if true < 0.3 else 0


def loss(pairs: Iterable[tuple[float, bool]]) -> float:
    return -float(np.mean([math.log(p if held else 1 - p) for p, held in pairs]))


def excess(told: Iterable[Told]) -> float:
    """By how much the forecasts are too high; not a number where there are none."""
    off = [one.chance - one.true for one in told]
    return float(np.mean(off)) if off else math.nan


def collapsed(told: Iterable[Told]) -> list[Told]:
    """Those from the third attempt after a collapse on, the first dozen of them."""
    return [one for one in told if 3 <= one.after < 12 and one.true < 0.3]


def truly_stuck(mind: Mind, entry: int, days: float) -> bool:
    if isinstance(mind, Plateau):
        return True
    if isinstance(mind, Mixed):
        return bool(mind.stuck[entry] or mind.until[entry] < days)
    return isinstance(mind, Changing) and bool(mind.begins[entry] < days < mind.ends[entry])


def named(kind: Kind, seeds: Iterable[int]) -> tuple[int, int, int]:
    """How many starts are named stuck in the end, how many of these are, and how many starts there
    are."""
    found = right = all_ = 0
    for seed in seeds:
        mind, log = played(kind, seed)
        beliefs = believe(tries_of(log))
        for entry in range(kind.n):
            all_ += 1
            if beliefs.stuck(f"s{entry}"):
                found += 1
                right += truly_stuck(mind, entry, kind.days - 3)
    return found, right, all_


def line(kind: Kind, seeds: range) -> str:
    each = [list(forecasts(kind, seed)) for seed in seeds]
    told = [one for student in each for one in student]
    less = np.array([
        loss((one.count, one.held) for one in student)
        - loss((one.chance, one.held) for one in student)
        for student in each
    ])  # fmt: skip
    found, right, all_ = named(kind, seeds)
    return (
        f"{kind.name:20} loss {loss((o.chance, o.held) for o in told):.3f}"
        f"  count {loss((o.count, o.held) for o in told):.3f}"
        f" (less by {less.mean():+.3f} ±{less.std() / len(less) ** 0.5:.3f})"
        f"  true {loss((o.true, o.held) for o in told):.3f}"
        f"  ECE {calibration_error((o.chance, o.held) for o in told):.3f}"
        f"  under .5 {excess(o for o in told if o.true < 0.5):+.3f}"
        f"  over .75 {excess(o for o in told if o.true > 0.75):+.3f}"
        f"  collapsed {excess(collapsed(told)):+.3f}"
        f"  stuck {right} of {found} named, {all_} starts"
    )


def main() -> None:
    asked = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    asked.add_argument("--students", type=int, default=12, help="of each kind")
    asked.add_argument("--first", type=int, default=9000, help="the first student's seed")
    given = asked.parse_args()
    for kind in KINDS:
        print(line(kind, range(given.first, given.first + given.students)), flush=True)


if __name__ == "__main__":
    main()
