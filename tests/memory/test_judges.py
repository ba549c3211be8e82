"""How far a word is taken, alone and beside what an instrument heard."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.memory.build import at, attempt
from tests.memory.test_model import CHAIN
from trainer.memory.cells import CELLS, Cells
from trainer.memory.evidence import Part, weigh
from trainer.memory.judges import CLEAN, GRADES, NEAR, likelihood, otherwise
from trainer.memory.model import believe
from trainer.record.attempt import Attempt, Judge, Outcome, Witness

BASE = [attempt(0), attempt(1), attempt(3)]

WITNESSES = st.builds(
    Witness,
    st.sampled_from(Outcome),
    wrong=st.integers(0, 30),
    missed=st.integers(0, 30),
    extra=st.integers(0, 30),
    notes=st.integers(0, 60),
    sure=st.floats(0, 1),
)
JUDGED = st.builds(
    attempt,
    st.just(10),
    outcome=st.sampled_from(Outcome),
    judge=st.sampled_from(["self", "teacher", "heard"]),
    latency=st.none() | st.floats(0, 40),
    heard=st.none() | WITNESSES,
)


def after(outcome: Outcome, part: Part = "both", **fields: Any) -> float:
    """The chance ten days after one more try."""
    log = [*BASE, attempt(10, outcome=outcome, **fields)]
    return believe(weigh(log, {})).chances(["s1"], at(20), part)["s1"]


@given(JUDGED, st.sampled_from(["both", "start", "join"]))
def test_the_other_way_is_another_grade_and_its_weight_a_number(one: Attempt, seen: Part) -> None:
    if seen == "join" and one.outcome.join_held is None:
        return
    instead = otherwise(one, seen)
    if instead is not None:
        grade, times = instead
        assert likelihood(one, seen) != GRADES[grade]
        assert 0 < times < 10


def test_a_heard_try_is_doubted_less_than_the_teachers_and_that_less_than_ones_own() -> None:
    judges: tuple[Judge, ...] = ("heard", "teacher", "self")
    doubts = [otherwise(attempt(0, judge=judge), "both") for judge in judges]
    assert all(a and b and a[1] < b[1] for a, b in pairwise(doubts))
    chances = [after(Outcome.STOPPED, judge=judge) for judge in judges]
    assert all(a > b for a, b in pairwise(chances))


@given(st.floats(0, 1), st.floats(0, 1))
def test_the_surer_the_instrument_the_more_it_says(one: float, other: float) -> None:
    low, high = sorted((one, other))

    def times(outcome: Outcome, sure: float) -> float:
        found = otherwise(attempt(0, heard=Witness(outcome, sure=sure)), "both")
        return found[1] if found else 0.0

    assert times(Outcome.THROUGH, low) >= times(Outcome.THROUGH, high) > 0  # it agrees
    assert 0 < times(Outcome.NOTHING, low) <= times(Outcome.NOTHING, high)  # it does not


def test_what_is_overruled_lies_between_the_word_and_the_ear() -> None:
    def overruled(sure: float) -> float:
        return after(Outcome.STOPPED, heard=Witness(Outcome.NOTHING, sure=sure))

    told = after(Outcome.STOPPED, judge="heard", heard=Witness(Outcome.STOPPED))
    missed = after(Outcome.NOTHING, judge="heard", heard=Witness(Outcome.NOTHING))
    assert missed < overruled(1.0) < overruled(0.8) < told


def test_a_try_called_worse_than_it_was_heard_lies_between_too() -> None:
    harsh = after(Outcome.NOTHING, heard=Witness(Outcome.THROUGH))
    assert after(Outcome.NOTHING) < harsh < after(Outcome.THROUGH)


def test_that_the_page_was_looked_at_no_instrument_knows_better() -> None:
    assert after(Outcome.LOOKED) == after(Outcome.LOOKED, heard=Witness(Outcome.THROUGH))


def test_many_notes_that_are_not_the_written_ones_make_a_through_weaker() -> None:
    def through(wrong: int) -> float:
        heard = Witness(Outcome.THROUGH, wrong=wrong, notes=30)
        return after(Outcome.THROUGH, judge="heard", heard=heard)

    assert through(0) == through(6) > through(7)


def test_an_instrument_that_heard_no_start_says_nothing_of_the_join() -> None:
    heard = attempt(0, heard=Witness(Outcome.NOTHING))
    assert otherwise(heard, "join") == otherwise(attempt(0), "join")


def test_the_golden_chain_holds_in_a_cell() -> None:
    """Ease 1, gain 5, a first half-life of 0.7 days, and failures that drop."""
    one = np.zeros(1)
    middle = Cells(one + np.log(0.7), one + np.log(6), one + np.log(5), one + 1, one + 1, one + 1)
    ln_h = middle.looked
    for gap, held, chance, left in CHAIN:
        r = middle.recall(ln_h, gap)
        assert r[0] == pytest.approx(chance, abs=1e-6)
        good, bad = middle.steps(ln_h, r)
        ln_h = ln_h + (good if held else bad)
        assert np.exp(ln_h[0]) == pytest.approx(left, abs=1e-6)


def test_a_stuck_cell_is_moved_by_nothing_and_a_moving_one_never_down_by_success() -> None:
    ln_h = np.linspace(-3, 6, 35)
    held, failed = CELLS.steps(ln_h, CELLS.recall(ln_h, 3.0))
    stuck = CELLS.moves == 0
    assert (held[stuck] == 0).all()
    assert (failed[stuck] == 0).all()
    assert (held[~stuck] > 0).all()
    assert (held >= failed).all()


@given(st.floats(-5, 5))
def test_the_grades_of_one_chance_sum_to_one(x: float) -> None:
    def s(y: float) -> float:
        return 1 / (1 + math.exp(-y))

    each = {
        grade: one.held * s(x)
        + one.clean * s(x - CLEAN)
        + one.failed * (1 - s(x))
        + one.lost * (1 - s(x + NEAR))
        for grade, one in GRADES.items()
        if grade != "begun"  # it may be any of the others
    }
    assert all(chance > 0 for chance in each.values())
    assert each["clean"] + each["hesitant"] == pytest.approx(s(x))
    assert each["looked"] + each["lost"] == pytest.approx(1 - s(x)) == each["failed"]


def test_that_it_broke_off_says_less_of_the_start_than_that_it_went_through() -> None:
    kinds = Outcome.NOTHING, Outcome.BROKE_OFF, Outcome.THROUGH
    low, middle, high = (after(outcome, "start") for outcome in kinds)
    assert low < middle < high
    # It did not cross the join; of start and join together it says what another miss does.
    missed, broken, through = (after(outcome) for outcome in kinds)
    assert broken < through - 0.2
    assert abs(broken - missed) < 0.1


def test_what_a_drill_shows_of_one_part_says_less_than_what_shows_both() -> None:
    alone = believe(weigh(BASE, {})).expected(["s1"], at(20))[0]
    for drill in ("away", "joins"):
        assert alone < after(Outcome.THROUGH, drill=drill) < after(Outcome.THROUGH)
    assert after(Outcome.BROKE_OFF) < after(Outcome.BROKE_OFF, drill="joins") < alone
    unseen = after(Outcome.NOTHING, drill="joins")  # no join was reached
    assert unseen == pytest.approx(alone, abs=0.01)
