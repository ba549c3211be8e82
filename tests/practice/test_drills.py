"""The drill kinds: each orders its calls as it says."""

from datetime import UTC, datetime
from itertools import pairwise
from random import Random

import pytest

from trainer.errors import TrainerError
from trainer.memory.evidence import weigh
from trainer.practice.drills import KINDS, PLAYED, DrillKind, drill_kind
from trainer.practice.order import Spot, shuffled
from trainer.record.attempt import Attempt, Outcome, practice_day

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


def test_a_kind_says_what_its_attempts_are_evidence_of() -> None:
    """Who forgets it has no kind, rather than one that counts as fully cold."""
    with pytest.raises(TypeError, match="evidence"):
        DrillKind("new", "New", "Begin here.", shuffled)  # type: ignore[call-arg]


def test_the_memory_weighs_attempts_by_what_their_kind_says() -> None:
    for name, evidence in [(k.name, k.evidence) for k in KINDS.values()] + list(PLAYED.items()):
        (one,) = weigh([through(name)], {})
        assert one.cold == (evidence in ("start and join", "join")), name
        assert (one.held("start") is None) == (evidence == "join"), name
        assert one.held("join") is None or evidence != "apart", name


def test_a_kind_that_only_a_newer_program_knows_counts_for_the_least() -> None:
    (one,) = weigh([through("of next year")], {})
    assert one.apart
    assert not one.cold


def through(drill: str) -> Attempt:
    at = datetime(2026, 3, 1, 9, tzinfo=UTC)
    return Attempt(
        "a1", "s", "d", "r", "1", "m", at, practice_day(at), Outcome.THROUGH, drill=drill
    )
