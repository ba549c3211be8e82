from __future__ import annotations

import pytest

from tests.benchmarks.law import DEFAULT
from tests.memory.build import at, attempt
from trainer.memory.evidence import Try, weigh
from trainer.memory.model import Retention, believe
from trainer.record.attempt import Outcome


def tries_of(*steps: tuple[float, Outcome], start: str = "s1") -> tuple[Try, ...]:
    return weigh([attempt(days, start, outcome) for days, outcome in steps], {})


# (gap in days, held, R before, h after): the specification's own golden values, computed once
# from the formulas of `curve` outside this project.
CHAIN = [
    (1.0, True, 0.418690, 2.999364),
    (3.0, True, 0.499951, 8.543236),
    (7.0, True, 0.546249, 19.154503),
    (14.0, False, 0.572636, 2.228992),
    (1.0, True, 0.680347, 5.141513),
]


def test_golden_chain() -> None:
    h = DEFAULT.half_life
    for gap, held, chance, after in CHAIN:
        r = DEFAULT.retained(gap, h)
        assert r == pytest.approx(chance, abs=1e-6)
        h = DEFAULT.after_success(h, r, 1.0, 5.0) if held else DEFAULT.after_drop(h, 1.0)
        assert h == pytest.approx(after, abs=1e-6)


def test_half_of_it_is_left_at_the_half_life() -> None:
    assert DEFAULT.retained(4.2, 4.2) == pytest.approx(0.5)
    assert DEFAULT.retained(0.0, 4.2) == 1.0


def test_basis_gives_counts_before_figures() -> None:
    assert Retention().basis == "untried"
    assert Retention(0.8, 0.4, 0.95, 2, 2).basis == "2 of 2"
    assert Retention(0.874, 0.71, 0.95, 9, 8).basis == "87 % (71-95), 9 attempts"


@pytest.mark.parametrize(
    ("chance", "band"),
    [
        (None, "untried"),
        (0.85, "holds"),
        (0.844, "fading"),
        (0.846, "holds"),
        (0.6, "fading"),
        (0.59, "weak"),
    ],
)
def test_bands(chance: float | None, band: str) -> None:
    assert Retention(chance, chance, chance, 3, 3).band == band


def test_a_success_lasts_longer_than_a_failure_and_fades() -> None:
    held = believe(tries_of((0, Outcome.THROUGH), (1, Outcome.THROUGH), (3, Outcome.THROUGH)))
    failed = believe(tries_of((0, Outcome.THROUGH), (1, Outcome.THROUGH), (3, Outcome.NOTHING)))
    for days in (4.0, 10.0, 30.0):
        good, bad = held.retention("s1", at(days)), failed.retention("s1", at(days))
        assert good.chance is not None
        assert bad.chance is not None
        assert good.chance > bad.chance
        assert good.low is not None
        assert good.high is not None
        assert 0 <= good.low <= good.chance <= good.high <= 1
    assert (held.retention("s1", at(4)).held, failed.retention("s1", at(4)).held) == (3, 2)


def test_the_join_is_observed_only_where_the_start_held() -> None:
    beliefs = believe(tries_of((0, Outcome.NOTHING), (1, Outcome.BROKE_OFF), (2, Outcome.THROUGH)))
    start, join = beliefs.retention("s1", at(3)), beliefs.retention("s1", at(3), "join")
    assert (start.tries, start.held) == (3, 2)
    assert (join.tries, join.held) == (2, 1)


def test_untried_without_a_cold_try() -> None:
    cued = weigh([attempt(0, drill="run-through")], {})
    assert believe(cued).retention("s1", at(1)) == Retention()
    assert believe(()).retention("s1", at(1)) == Retention()


def test_a_clock_that_went_back_is_no_time_at_all() -> None:
    beliefs = believe(tries_of((0, Outcome.THROUGH), (1, Outcome.THROUGH)))
    chance = beliefs.retention("s1", at(-5)).chance
    assert chance == beliefs.retention("s1", at(1)).chance


LETTERS = {
    "N": Outcome.NOTHING,
    "L": Outcome.LOOKED,
    "B": Outcome.BROKE_OFF,
    "T": Outcome.THROUGH,
}


@pytest.mark.parametrize(
    ("days", "least", "most"),
    [
        ("NLBNLB", 0.0, 0.50),
        ("NNNLLB", 0.0, 0.45),
        ("TTTTTT", 0.90, 1.0),
        ("TTTTNN", 0.30, 0.65),
        ("NNNNNT", 0.0, 0.55),
        ("T", 0.65, 0.85),
        ("N", 0.30, 0.50),
        ("TNTNTNTN", 0.40, 0.60),
    ],
)
def test_the_day_after_one_attempt_a_day(days: str, least: float, most: float) -> None:
    """What a player who sees the attempts would believe."""
    tries = tries_of(*((float(day), LETTERS[letter]) for day, letter in enumerate(days)))
    chance = believe(tries).retention("s1", at(len(days))).chance
    assert chance is not None
    assert least <= chance <= most
