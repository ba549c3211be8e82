"""What it gains to weigh who judged a try: kind players, with and without an instrument.

    python -m tests.benchmarks.heard_season [--students 12] [--way "kind, alone"]

Simulated students of every mind practise by the planner for six weeks; what stands in the log is
what they said or what was heard. Each log is then foretold twice, taken as it is said and as it is
weighed (`trainer.memory.judges`), each against what really held: the calibration error, the mean of
forecast less outcome, the log loss, and by how much the loss is less when weighed, with its
standard error over the students.
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass
from unittest.mock import patch

import numpy as np
from msgspec.structs import replace
from numpy.random import default_rng

from tests.benchmarks.minds import MINDS, Pupil
from tests.benchmarks.plan_season import HOUR, SHORTEST, State, calibration_error
from tests.benchmarks.planner_adapter import Planner, Played, attempt_of
from trainer.memory.evidence import weigh
from trainer.memory.model import foretold
from trainer.record.attempt import Attempt, Outcome, Witness

N, DAYS, MINUTES = 24, 42, 4.0
MISHEARD = 0.03  # of the tries that are heard


@dataclass(frozen=True)
class Way:
    """How tries are judged. `kind` is the chance that a miss is called a stop where nobody
    listens, `heard` the share of days at an instrument that listens, `overruled` the chance
    that a miss which was heard is called a stop all the same."""

    name: str
    kind: float = 0.0
    heard: float = 0.0
    overruled: float = 0.0


WAYS = (
    Way("honest, alone"),
    Way("a little kind, alone", 0.1),
    Way("kind, alone", 0.3),
    Way("kind, half heard", 0.3, 0.5),
    Way("kind, all heard", 0.3, 1.0),
    Way("kind, overrules", 0.3, 1.0, 0.3),
)


class Said:
    """The log's attempts of one student, and what really held."""

    def __init__(self, way: Way, seed: int) -> None:
        self._way, self._rng = way, default_rng([seed, 7])
        self._listens = default_rng([seed, 8]).random(DAYS) < way.heard
        self.held: dict[str, bool] = {}

    def attempt(self, index: int, one: Played) -> Attempt:
        held = one.grade >= 2
        true = replace(attempt_of(index, one), judge="self", latency=None)
        self.held[true.id] = held
        kind, off, sure, late = self._rng.random(4)
        if not self._listens[math.floor(one.t)]:
            return self._called(true, held, kind < self._way.kind)
        latency = one.latency if held else None
        said, sure = true.outcome, 0.8 + 0.2 * sure
        if off < MISHEARD:
            said, sure = Outcome.NOTHING if held else Outcome.STOPPED, sure - 0.3
            latency = latency or 3 + 5 * late
        heard = replace(
            true, outcome=said, judge="heard", latency=latency, heard=Witness(said, sure=sure)
        )
        if said.start_held:
            return heard
        if held:  # misheard to the player's harm: the player says so
            return replace(heard, outcome=true.outcome, judge="self")
        return self._called(heard, held, kind < self._way.overruled)

    def _called(self, one: Attempt, held: bool, kindly: bool) -> Attempt:
        return replace(one, outcome=Outcome.STOPPED, judge="self") if kindly and not held else one


def practised(way: Way, mind: str, seed: int) -> tuple[list[Attempt], dict[str, bool]]:
    """A season's attempts as they stand in the log, and by id what really held."""
    pupil = Pupil(MINDS[mind](default_rng([seed, 1]), N), default_rng([seed, 2]))
    said, state = Said(way, seed), State()
    attempts: list[Attempt] = []

    def told(index: int, one: Played) -> Attempt:
        attempts.append(said.attempt(index, one))
        return attempts[-1]

    planner = Planner(N, seed, told)
    for day in range(DAYS):
        now, left = day + HOUR, MINUTES * 60
        while left >= SHORTEST:
            order = planner.plan(state, now, DAYS + HOUR, left)
            if not order:
                break
            for entry in order:
                if left < SHORTEST:
                    break
                one = pupil.play(entry, now)
                state.log.append(one)
                left -= one.seconds
                now += one.seconds / 86400
    return attempts, said.held


def forecasts(attempts: list[Attempt], held: dict[str, bool]) -> list[tuple[float, bool]]:
    """Each cold try's chance beforehand, and whether the start really held."""
    found = foretold(weigh(attempts, {}))
    return [(chance, held[one.attempt.id]) for one, chance, _ in found]


def loss(pairs: list[tuple[float, bool]]) -> float:
    return -float(np.mean([math.log(p if held else 1 - p) for p, held in pairs]))


def bias(pairs: list[tuple[float, bool]]) -> float:
    return float(np.mean([p - held for p, held in pairs]))


def line(way: Way, seeds: range) -> str:
    plain: list[list[tuple[float, bool]]] = []
    weighed: list[list[tuple[float, bool]]] = []
    for mind in MINDS:
        for seed in seeds:
            attempts, held = practised(way, mind, seed)
            weighed.append(forecasts(attempts, held))
            as_said = patch("trainer.memory.judges.otherwise", lambda *_: None)
            with as_said, patch("trainer.memory.update._SAID", {}):
                plain.append(forecasts(attempts, held))
    gains = np.array([loss(a) - loss(b) for a, b in zip(plain, weighed, strict=True)])
    texts = [f"{way.name:22}"]
    for name, seasons in (("as said", plain), ("weighed", weighed)):
        pairs = [pair for one in seasons for pair in one]
        texts.append(f"{name} ECE {calibration_error(pairs):.3f} bias {bias(pairs):+.3f}")
        texts.append(f"loss {loss(pairs):.4f}")
    error = gains.std() / np.sqrt(len(gains))
    return "  ".join([*texts, f"less {gains.mean():+.4f} ±{error:.4f}"])


def main() -> None:
    asked = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    asked.add_argument("--students", type=int, default=12, help="of each mind")
    asked.add_argument("--first", type=int, default=7000, help="the first student's seed")
    asked.add_argument("--way", action="append", choices=[way.name for way in WAYS])
    given = asked.parse_args()
    for way in WAYS:
        if not given.way or way.name in given.way:
            print(line(way, range(given.first, given.first + given.students)), flush=True)


if __name__ == "__main__":
    main()
