"""What is believed of simulated students of whom no law is true, and how they fare."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

import numpy as np
import pytest

from tests.benchmarks.hard_students import (
    KINDS,
    Told,
    collapsed,
    excess,
    forecasts,
    loss,
    named,
)
from tests.benchmarks.plan_season import CASES, calibration_error, season
from tests.memory.build import at, attempt
from trainer.memory.evidence import weigh
from trainer.memory.model import Beliefs, believe
from trainer.record.attempt import Attempt, Outcome

KIND = {kind.name: kind for kind in KINDS}


def told(name: str, seeds: Iterable[int]) -> list[Told]:
    return [one for seed in seeds for one in forecasts(KIND[name], seed)]


def losses(some: list[Told]) -> tuple[float, float]:
    """The log loss of the forecasts, and that of plain counts."""
    return (
        loss((one.chance, one.held) for one in some),
        loss((one.count, one.held) for one in some),
    )


@pytest.mark.parametrize(
    ("name", "too_high"), [("plateau, daily", 0.12), ("plateau, second day", 0.14)]
)
def test_a_start_that_never_improves_is_not_flattered(name: str, too_high: float) -> None:
    some = told(name, range(40, 50))
    assert excess(one for one in some if one.true < 0.5) < too_high
    assert excess(one for one in some if one.true > 0.75) > -0.11
    ours, counts = losses(some)
    assert ours < counts + 0.015  # the count is all there is to know; it begins from the truth


def test_a_collapse_is_believed_after_three_attempts() -> None:
    some = told("collapse", range(40, 50))
    assert excess(collapsed(some)) < 0.1
    ours, counts = losses(some)
    assert ours < counts


@pytest.mark.parametrize("name", ["mixed", "relearning", "activation", "multiscale", "relapse"])
def test_forecasts_beat_a_plain_count_where_something_is_learned(name: str) -> None:
    some = told(name, range(40, 44))
    ours, counts = losses(some)
    assert ours < counts
    assert calibration_error((one.chance, one.held) for one in some) < 0.08


def test_of_those_named_stuck_three_in_four_are() -> None:
    found, right, _ = named(KIND["mixed"], range(40, 48))
    assert found >= 8
    assert right >= 0.75 * found


def test_few_are_named_stuck_where_all_learn() -> None:
    for name in ("relearning", "own family", "fast and slow"):
        found, _, all_ = named(KIND[name], range(40, 44))
        assert found <= 0.1 * all_


def test_the_plan_does_better_than_chance() -> None:
    """The mean chance on the recital day of two students, each met by both."""
    ours, random = (
        np.mean([season(CASES[0], "multiscale", planner, seed).mean for seed in (60, 61)])
        for planner in ("this planner", "random")
    )
    assert ours > random


FAILING = [attempt(day, outcome=Outcome.NOTHING) for day in range(12)]
OTHERS = [
    attempt(day + n / 50, f"s{n}", Outcome.THROUGH if day else Outcome.LOOKED)
    for day in range(12)
    for n in (3, 5, 7, 9)
]


def stuck(log: list[Attempt], **fields: object) -> Beliefs:
    return believe(weigh(log, {}), **fields)  # type: ignore[arg-type]


def test_a_start_that_fails_and_fails_is_stuck_and_the_others_are_not() -> None:
    beliefs = stuck(FAILING + OTHERS)
    assert beliefs.stuck("s1")
    assert not any(beliefs.stuck(f"s{n}") for n in (3, 5, 7, 9))
    assert not stuck(FAILING[:5] + OTHERS).stuck("s1")  # too few to say so


def test_it_is_stuck_no_more_once_it_holds() -> None:
    log = FAILING + OTHERS + [attempt(12 + day) for day in range(5)]
    assert not stuck(log).stuck("s1")


def test_work_on_a_start_lifts_its_state_and_most_of_its_past() -> None:
    worked = {"s1": at(11.5)}
    before, after = stuck(FAILING + OTHERS), stuck(FAILING + OTHERS, worked_on=worked)
    assert not after.stuck("s1")
    held = [attempt(12)]
    chances = [
        stuck(FAILING + OTHERS + held, worked_on=on).retention("s1", at(13)).chance or 0.0
        for on in ({}, worked)
    ]
    assert chances[1] > chances[0] + 0.05
    # An instant before the first attempt, or one still to come, changes nothing yet.
    for on in ({"s1": at(-1)}, {"s1": at(40)}):
        assert stuck(FAILING + OTHERS, worked_on=on).retention("s1", at(13)) == before.retention(
            "s1", at(13)
        )


def test_work_on_a_start_enters_a_replay_as_it_enters_one_by_one() -> None:
    worked = {"s1": at(6.5)}
    tries = weigh(FAILING + OTHERS, {})
    grown = believe((), worked)
    for one in tries:
        grown = grown.taken([one])
    later = at(0) + timedelta(days=20)
    assert grown.retention("s1", later) == believe(tries, worked).retention("s1", later)
