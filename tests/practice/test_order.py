"""The order of calls: random, and nothing cued by what came just before."""

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.practice.order import Spot, cost, in_again, shuffled, total


def chain(length: int) -> list[Spot]:
    """Starts that each lead into the next one, as the phrases of a piece do."""
    return [
        Spot(str(n), frozenset({str(n + 1)} if n < length else ())) for n in range(1, length + 1)
    ]


@given(st.integers(4, 40), st.integers(), st.data())
def test_no_call_is_cued_by_the_one_before(length: int, seed: int, data: st.DataObject) -> None:
    spots = chain(length)
    previous = data.draw(st.sampled_from([None, *spots]))
    order = shuffled(spots, previous, Random(seed))
    assert sorted(order, key=lambda s: s.id) == sorted(spots, key=lambda s: s.id)
    assert total(order, previous) == 0


@given(st.integers(0, 3), st.integers(), st.data())
def test_few_starts_degrade_instead_of_looping(length: int, seed: int, data: st.DataObject) -> None:
    spots = chain(length)
    previous = data.draw(st.sampled_from([None, *spots]))
    order = shuffled(spots, previous, Random(seed))
    assert len(order) == length


def test_two_starts_do_not_repeat_the_last_one() -> None:
    first, second = chain(2)
    assert shuffled([first, second], second, Random(0))[0] == first


def test_the_order_is_random() -> None:
    seen = {shuffled(chain(8), None, Random(seed)) for seed in range(40)}
    assert len(seen) > 30


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        (None, Spot("a"), 0),
        (Spot("a"), Spot("a"), 100),
        (Spot("a", after=frozenset("b")), Spot("b"), 10),
        (Spot("b"), Spot("a", after=frozenset("b")), 0),
        (Spot("a", kin=frozenset("b")), Spot("b"), 3),
    ],
)
def test_what_a_call_cues(before: Spot | None, after: Spot, expected: int) -> None:
    assert cost(before, after) == expected


def test_look_alikes_are_kept_apart() -> None:
    spots = [
        Spot(str(n), kin=frozenset("12") - {str(n)} if n < 3 else frozenset()) for n in range(1, 7)
    ]
    for seed in range(30):
        ids = [spot.id for spot in shuffled(spots, None, Random(seed))]
        assert abs(ids.index("1") - ids.index("2")) > 1


@given(st.integers(2, 20), st.integers(), st.data())
def test_a_missed_start_comes_again_later_and_uncued(
    length: int, seed: int, data: st.DataObject
) -> None:
    queue = list(shuffled(chain(length), None, Random(seed)))
    at = data.draw(st.integers(0, length - 1))
    index = in_again(queue, queue[at], at)
    if index is not None:
        assert index >= at + 3
        assert cost(queue[index - 1], queue[at]) == 0
        if index < len(queue):
            assert cost(queue[at], queue[index]) == 0
