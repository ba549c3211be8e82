"""The route over repeats, endings and jumps. The readings are common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.score.bars import piece
from trainer.score.model import Meter
from trainer.score.route import MOST, bar_route

END: dict[str, Any] = {"repeat_times": 2}
BEGIN: dict[str, Any] = {"repeat_start": True}


def route(
    count: int,
    signs: Mapping[int, Mapping[str, Any]] | None = None,
    jumps: Mapping[int, Sequence[str]] | None = None,
) -> str:
    """The labels of the bars as played, from 1."""
    score = piece([4] * count, Meter(4, 4), signs=signs, jumps=jumps)
    return " ".join(score.bars[visit.bar].label for visit in bar_route(score))


def test_without_signs_the_bars_in_order() -> None:
    assert route(3) == "1 2 3"


def test_repeats() -> None:
    assert route(3, {1: END}) == "1 2 1 2 3"
    assert route(3, {1: {**BEGIN, **END}}) == "1 2 2 3"
    assert route(4, {0: END, 2: END}) == "1 1 2 3 2 3 4"
    assert route(2, {1: {"repeat_times": 3}}) == "1 2 1 2 1 2"
    assert route(3, {0: BEGIN, 1: BEGIN, 2: END}) == "1 2 3 2 3"


@pytest.mark.parametrize("sign", [END, {}])
def test_first_and_second_ending_with_or_without_the_sign(sign: Mapping[str, Any]) -> None:
    signs = {1: {"endings": (1,), **sign}, 2: {"endings": (2,)}}
    assert route(4, signs) == "1 2 1 3 4"


def test_endings_of_several_bars() -> None:
    first, second = {"endings": (1,)}, {"endings": (2,)}
    signs = {0: BEGIN, 2: first, 3: {**first, **END}, 4: second, 5: second}
    assert route(7, signs) == "1 2 3 4 1 2 5 6 7"


def test_three_endings_and_a_shared_one() -> None:
    three = {1: {"endings": (1,), **END}, 2: {"endings": (2,), **END}, 3: {"endings": (3,)}}
    assert route(5, three) == "1 2 1 3 1 4 5"
    shared = {1: {"endings": (1, 2), **END}, 2: {"endings": (3,)}}
    assert route(4, shared) == "1 2 1 2 1 3 4"


def test_a_first_ending_without_a_second_and_the_other_way_round() -> None:
    assert route(3, {1: {"endings": (1,), **END}}) == "1 2 1 3"
    assert route(3, {1: END, 2: {"endings": (2,)}}) == "1 2 1 2 3"
    assert route(3, {2: {"endings": (2,)}}) == "1 2 3"


def test_endings_that_follow_endings() -> None:
    signs = {
        1: {"endings": (1,), **END},
        2: {"endings": (2,)},
        3: {"endings": (1,), **END},
        4: {"endings": (2,)},
    }
    assert route(5, signs) == "1 2 1 3 4 5"
    signs = {
        1: {"endings": (1,), **END},
        2: {"endings": (2,)},
        4: {"endings": (1,), **END},
        5: {"endings": (2,)},
    }
    assert route(6, signs) == "1 2 1 3 4 5 4 6"


def test_a_repeat_inside_the_passage_before_endings() -> None:
    signs = {0: END, 2: {"endings": (1,), **END}, 3: {"endings": (2,)}}
    assert route(4, signs) == "1 1 2 3 2 4"


def test_repeats_inside_repeats() -> None:
    signs = {0: BEGIN, 1: {**BEGIN, **END}, 2: END}
    assert route(4, signs) == "1 2 2 3 1 2 2 3 4"
    endings = {0: BEGIN, 1: {**BEGIN, "endings": (1,), **END}, 2: {"endings": (2,)}, 3: END}
    assert route(5, endings) == "1 2 3 4 1 2 3 4 5"


Passage = list[Any]
"""Parts in order: a number of plain bars, or (times, its passage, its endings, with a sign)."""


def passages(depth: int = 2) -> st.SearchStrategy[Passage]:
    plain = st.integers(1, 3)
    if not depth:
        return st.lists(plain, min_size=1, max_size=2)
    lengths = st.lists(st.integers(1, 4), min_size=2, max_size=4)
    none: st.SearchStrategy[list[int]] = st.just([])
    repeated = st.tuples(st.just(2), passages(depth - 1), none)
    ended = st.tuples(st.just(0), passages(depth - 1), lengths)
    return st.lists(st.one_of(plain, repeated, ended), min_size=1, max_size=3)


def write(passage: Passage, signs: dict[int, dict[str, Any]], bars: int) -> tuple[int, list[int]]:
    """Write a passage's signs from bar `bars` on; the bars after it, and its bars as played."""
    order: list[int] = []
    for part in passage:
        if isinstance(part, int):
            order += range(bars, bars + part)
            bars += part
            continue
        times, inner, endings = part
        begin = bars
        bars, body = write([1, *inner], signs, bars)  # no two opening signs at one bar
        signs.setdefault(begin, {})["repeat_start"] = True
        if not endings:
            bars, tail = write([1], signs, bars)  # no two closing signs at one bar
            body += tail
            signs.setdefault(bars - 1, {})["repeat_times"] = times
            order += body * times
        for number, length in enumerate(endings, 1):
            order += [*body, *range(bars, bars + length)]
            for bar in range(bars, bars + length):
                signs.setdefault(bar, {})["endings"] = (number,)
            bars += length
            if number < len(endings):
                signs[bars - 1]["repeat_times"] = 2
        if endings:  # or the next passage's endings would belong to these
            order.append(bars)
            bars += 1
    return bars, order


@given(passages())
def test_a_passage_is_played_as_it_was_made_up(passage: Passage) -> None:
    """Repeats within repeats, endings of any number and length, against the order that they were
    written from."""
    signs: dict[int, dict[str, Any]] = {}
    count, order = write(passage, signs, 0)
    found = bar_route(piece([4] * count, Meter(4, 4), signs=signs))
    if len(order) <= MOST * count:
        assert [visit.bar for visit in found] == order


def test_da_capo_al_fine() -> None:
    assert route(4, None, {1: ["fine"], 3: ["da capo"]}) == "1 2 3 4 1 2"
    repeated = {1: END, 3: END}
    assert route(4, repeated, {1: ["fine"], 3: ["da capo"]}) == "1 2 1 2 3 4 3 4 1 2"


def test_da_capo_takes_the_last_ending() -> None:
    signs = {1: {"endings": (1,), **END}, 2: {"endings": (2,)}}
    assert route(4, signs, {2: ["fine"], 3: ["da capo"]}) == "1 2 1 3 4 1 3"


def test_da_capo_without_fine_goes_on_after_the_jump() -> None:
    assert route(2, None, {1: ["da capo"]}) == "1 2 1 2"
    assert route(3, None, {1: ["da capo"]}) == "1 2 1 2 3"


def test_dal_segno_al_coda() -> None:
    jumps = {1: ["segno"], 2: ["to coda"], 3: ["dal segno"], 4: ["coda"]}
    assert route(6, None, jumps) == "1 2 3 4 2 3 5 6"


def test_dal_segno_al_fine() -> None:
    assert route(4, None, {1: ["segno"], 2: ["fine"], 3: ["dal segno"]}) == "1 2 3 4 2 3"


def test_signs_that_lead_nowhere_are_passed_over() -> None:
    assert route(3, None, {2: ["dal segno"]}) == "1 2 3"
    assert route(3, None, {0: ["dal segno"], 2: ["segno"]}) == "1 2 3"
    assert route(3, None, {0: ["fine"], 1: ["segno"], 2: ["dal segno"]}) == "1 2 3 2 3"
    assert route(3, None, {0: ["coda"], 1: ["to coda"]}) == "1 2 3"


def test_absurd_repeats_end_in_a_plain_reading() -> None:
    assert route(2, {1: {"repeat_times": 10**9}}) == "1 2"


def test_the_pass_is_counted_for_each_bar() -> None:
    signs = {1: {"endings": (1,), **END}, 2: {"endings": (2,)}}
    visits = bar_route(piece([4] * 3, Meter(4, 4), signs=signs))
    assert [(visit.bar, visit.time) for visit in visits] == [(0, 1), (1, 1), (0, 2), (2, 1)]


SIGNS = st.fixed_dictionaries(
    {},
    optional={
        "repeat_start": st.booleans(),
        "repeat_times": st.integers(0, 30),
        "endings": st.lists(st.integers(1, 4), min_size=1, max_size=3).map(
            lambda numbers: tuple(sorted(set(numbers)))
        ),
    },
)
WORDS = st.sampled_from(["segno", "coda", "fine", "da capo", "dal segno", "to coda"])


@given(
    st.dictionaries(st.integers(0, 7), SIGNS),
    st.dictionaries(st.integers(0, 7), st.lists(WORDS, max_size=2)),
)
def test_any_signs_come_to_an_end(
    signs: dict[int, dict[str, Any]], jumps: dict[int, list[str]]
) -> None:
    visits = bar_route(piece([4] * 8, Meter(4, 4), signs=signs, jumps=jumps))
    assert visits[0].time == 1
    assert len(visits) <= (MOST + 2) * 8
    seen = dict.fromkeys(range(8), 0)
    for visit in visits:
        assert visit.time == seen[visit.bar] + 1
        seen[visit.bar] = visit.time
