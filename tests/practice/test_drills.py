"""The drill kinds: each orders its calls as it says."""

from itertools import pairwise
from random import Random

import pytest

from trainer.errors import TrainerError
from trainer.memory.evidence import APART
from trainer.practice.drills import KINDS, drill_kind
from trainer.practice.order import Spot

SPOTS = [Spot(str(n), frozenset({str(n + 1)})) for n in range(1, 8)]
TWINS = [
    Spot("1", kin=frozenset({"4", "6"})),
    Spot("2"),
    Spot("4", kin=frozenset({"1", "6"})),
    Spot("6", kin=frozenset({"1", "4"})),
]


@pytest.mark.parametrize("name", list(KINDS))
def test_every_kind_says_what_to_do_and_orders_nothing(name: str) -> None:
    kind = drill_kind(name)
    assert kind.name == name
    assert kind.says.endswith(".")
    assert kind.arrange([], None, Random(1)) == ()


@pytest.mark.parametrize("name", [n for n, kind in KINDS.items() if kind.draws != "families"])
def test_every_start_is_called_once(name: str) -> None:
    order = drill_kind(name).arrange(SPOTS, None, Random(1))
    assert sorted(spot.id for spot in order) == [spot.id for spot in SPOTS]


def test_last_to_first() -> None:
    order = drill_kind("last to first").arrange(SPOTS, None, Random(1))
    assert [spot.id for spot in order] == list("7654321")


def test_look_alikes_follow_each_other_and_none_itself() -> None:
    for seed in range(20):
        ids = [s.id for s in drill_kind("look-alikes").arrange(TWINS, None, Random(seed))]
        assert set(ids) == {"1", "4", "6"}
        assert len(ids) >= 5
        assert all(a != b for a, b in pairwise(ids))


def test_an_unknown_kind_is_refused_with_those_there_are() -> None:
    with pytest.raises(TrainerError, match="cold"):
        drill_kind("other")


def test_what_is_not_played_as_it_goes_says_so_and_is_weighed_so() -> None:
    """A kind tells the player whether its attempts may count as cold; the memory weighs them by
    the same names."""
    assert {kind.name for kind in KINDS.values() if kind.apart} == APART
