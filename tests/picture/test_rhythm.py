"""Written values and tuplets, against exact arithmetic."""

from __future__ import annotations

from fractions import Fraction as F
from itertools import pairwise
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import TrainerError
from trainer.picture.rhythm import VALUES, dyadic, gaps, runs, values

DYADIC = st.integers(1, 40 * 64).map(lambda n: F(n, 64))
ODD = st.sampled_from([1, 3, 5, 7, 9, 11, 15])
POSITIONS = st.builds(lambda n, odd, power: F(n, odd * 2**power), st.integers(0, 200), ODD,
                      st.integers(0, 3))  # fmt: skip


class Span(NamedTuple):
    onset: F
    length: F


@given(DYADIC)
def test_values_make_up_the_length_and_shrink(length: F) -> None:
    found = values(length)
    assert sum(value.length for value in found) == length
    assert all(one.length >= other.length for one, other in pairwise(found))


@pytest.mark.parametrize("value", VALUES, ids=lambda v: f"{v.name}{'.' * v.dots}")
def test_what_one_value_can_write_is_not_tied(value: object) -> None:
    assert values(value.length) == [value]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("length", "written"),
    [
        (F(1), ["4"]),
        (F(3, 2), ["4."]),
        (F(7, 4), ["4.."]),
        (F(5, 4), ["4", "16"]),
        (F(5), ["1", "4"]),
        (F(8), ["breve"]),
        (F(9, 2), ["1", "8"]),
    ],
)
def test_some_lengths(length: F, written: list[str]) -> None:
    assert [value.name + "." * value.dots for value in values(length)] == written


@pytest.mark.parametrize("length", [F(1, 3), F(1, 1024), F(5, 2048)])
def test_a_length_that_cannot_be_written_is_refused(length: F) -> None:
    with pytest.raises(TrainerError, match="too short"):
        values(length)


def line(*lengths: F) -> list[Span]:
    at = F(0)
    made = []
    for length in lengths:
        made.append(Span(at, length))
        at += length
    return made


@pytest.mark.parametrize(
    ("lengths", "ratios"),
    [
        ([F(1), F(1, 2)], [(1, 1), (1, 1)]),
        ([F(1, 3)] * 3 + [F(1)], [(3, 2), (1, 1)]),
        ([F(2, 3), F(1, 3)], [(3, 2)]),
        ([F(2, 3)] * 3, [(3, 2)]),
        ([F(1, 6)] * 6, [(3, 2), (3, 2)]),
        ([F(1, 5)] * 5, [(5, 4)]),
        ([F(1, 7)] * 7, [(7, 4)]),
        ([F(1, 9)] * 9, [(9, 8)]),
        ([F(3, 8)] * 4, [(1, 1)] * 4),
    ],
)
def test_tuplets_are_found(lengths: list[F], ratios: list[tuple[int, int]]) -> None:
    assert [tuple(ratio) for ratio, _ in runs(line(*lengths), F(0))] == ratios


@given(st.lists(st.builds(F, st.integers(1, 9), ODD), min_size=1, max_size=12))
def test_in_a_tuplet_every_length_can_be_written(lengths: list[F]) -> None:
    spans = line(*lengths)
    found = list(runs(spans, F(0)))
    assert [span for _, group in found for span in group] == spans
    for ratio, group in found:
        for span in group:
            assert dyadic(ratio.written(span.length))


@given(POSITIONS, POSITIONS, POSITIONS.filter(dyadic))
def test_gaps_fill_their_span_and_end_tuplets_early(one: F, other: F, origin: F) -> None:
    start, end = origin + min(one, other), origin + max(one, other)
    found = gaps(start, end, origin)
    assert sum(length for _, length in found) == end - start
    places = [start, *(onset + length for onset, length in found)]
    assert [onset for onset, _ in found] == places[:-1]
    inner = places[1:-1]
    assert all(dyadic(place - origin) for place in inner)


def test_a_gap_after_part_of_a_triplet_only_fills_it() -> None:
    assert gaps(F(1, 3), F(4), F(0)) == [(F(1, 3), F(2, 3)), (F(1), F(3))]
    assert gaps(F(0), F(7, 3), F(0)) == [(F(0), F(2)), (F(2), F(1, 3))]
    assert gaps(F(0), F(0), F(0)) == []
