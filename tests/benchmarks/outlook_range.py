"""How often the outlook's range holds what came: seasons of simulated students, by the planner.

    python -m tests.benchmarks.outlook_range [--students 6] [--first 4400] [--mind NAME]

prints for each mind, at days 10, 17, 24, 31 and 38 of 42, how often the number of starts that hold
on the day lies in the range, and by how much the mean is too high.
"""

from __future__ import annotations

import argparse
from datetime import timedelta

import numpy as np
from msgspec.structs import replace
from numpy.random import default_rng

from tests.benchmarks.minds import MINDS, Pupil
from tests.benchmarks.plan_season import CASES, HOUR, SHORTEST, State
from tests.benchmarks.planner_adapter import MIDNIGHT, Planner
from trainer.memory.outlook import Outlook, outlook
from trainer.record.people import ProgrammeItem, Recital

CASE = CASES[0]
LOOKED_AT = (10, 17, 24, 31, 38)
DRAWN = 40  # times that it is drawn which starts hold on the day


def _told(planner: Planner, state: State, day: int) -> Outlook:
    planner._log = state.log
    planner._catch_up()
    concert = (MIDNIGHT + timedelta(days=CASE.days)).date()
    found = outlook(
        replace(planner._student, minutes=CASE.minutes),
        planner._beliefs,
        planner._open,
        planner._decks,
        (Recital("r", "student", "recital", concert, (ProgrammeItem("deck"),)),),
        MIDNIGHT + timedelta(days=day + HOUR),
    )
    assert found is not None
    return found


def season(mind: str, seed: int) -> list[tuple[float, float]]:
    """For each day looked at: the share of draws in the range, and the mean less the truth."""
    pupil = Pupil(MINDS[mind](default_rng([seed, 1]), CASE.n), default_rng([seed, 2]))
    planner, state, told = Planner(CASE.n, seed), State(), list[Outlook]()
    for day in range(CASE.days):
        now, left = day + HOUR, CASE.minutes * 60
        if day in LOOKED_AT:
            told.append(_told(planner, state, day))
        while left >= SHORTEST and (order := planner.plan(state, now, CASE.days + HOUR, left)):
            for entry in order:
                if left >= SHORTEST:
                    one = pupil.play(entry, now)
                    state.log.append(one)
                    left, now = left - one.seconds, now + one.seconds / 86400
    true = np.array([0.01 + 0.98 * pupil.mind.chance(i, CASE.days + HOUR) for i in range(CASE.n)])
    numbers = (default_rng([seed, 9]).random((DRAWN, CASE.n)) < true).sum(axis=1)
    return [
        (
            float(np.mean((numbers >= one.low) & (numbers <= one.high))),
            float(one.holding - true.sum()),
        )
        for one in told
    ]


def main() -> None:
    asked = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    asked.add_argument("--students", type=int, default=6)
    asked.add_argument("--first", type=int, default=4400, help="the first student's seed")
    asked.add_argument("--mind", action="append", choices=list(MINDS))
    given = asked.parse_args()
    for mind in given.mind or MINDS:
        seeds = range(given.first, given.first + given.students)
        mean = np.mean([season(mind, seed) for seed in seeds], axis=0)
        days = (
            f"day {day} {inside:.2f} {off:+.1f}"
            for day, (inside, off) in zip(LOOKED_AT, mean.tolist(), strict=True)
        )
        print(f"{mind:14} {'   '.join(days)}", flush=True)


if __name__ == "__main__":
    main()
