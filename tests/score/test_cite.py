"""Places in words."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.score.bars import piece
from trainer.score.cite import AMERICAN, beat_token, entry, leads_into, ordinal, place, span
from trainer.score.model import Meter

F = Fraction
MINUET = piece([1, 3, 3, 3, 2], Meter(3, 4), first=0, signs={0: {"upbeat": True, "lead": F(2)}})
JIG = piece([F(1, 2), 3, 3], Meter(6, 8), first=0, signs={0: {"upbeat": True, "lead": F(5, 2)}})
SPLIT = piece(
    [4, 3, 1, 4],
    Meter(4, 4),
    signs={2: {"continues": True, "lead": F(3), "label": "2"}, 3: {"label": "3"}},
)
GAVOTTE = piece([2, 4, 4, 4], Meter(4, 4), first=0, signs={0: {"upbeat": True, "lead": F(2)}})


def test_a_bar_and_a_beat() -> None:
    assert place(MINUET, F(1)) == "b. 1"
    assert place(MINUET, F(3)) == "b. 1, beat 3"
    assert place(MINUET, F(7, 2)) == "b. 1, beat 3½"
    assert place(MINUET, F(1), time=2) == "b. 1, 2nd time"
    assert place(MINUET, F(3), time=3) == "b. 1, beat 3, 3rd time"
    assert place(MINUET, F(1), time=1) == "b. 1"


def test_the_pickup_is_named_by_the_bar_it_leads_to() -> None:
    assert place(MINUET, F(0)) == "upbeat to b. 1"
    assert place(GAVOTTE, F(1)) == "upbeat to b. 1, beat 4"
    assert place(MINUET, F(0), words=AMERICAN) == "pickup to m. 1"


def test_the_beat_is_the_felt_one() -> None:
    assert place(JIG, F(1, 2)) == "b. 1"
    assert place(JIG, F(2)) == "b. 1, beat 2"
    assert place(JIG, F(1)) == "b. 1, beat 1+1/3"
    assert place(JIG, F(5, 4)) == "b. 1, beat 1½"


def test_an_entry_just_before_a_bar_line_is_an_upbeat() -> None:
    assert entry(MINUET, F(6)) == "upbeat to b. 3"
    assert entry(MINUET, F(6), time=2) == "upbeat to b. 3, 2nd time"
    assert entry(MINUET, F(5)) == "b. 2, beat 2"
    assert entry(MINUET, F(4)) == "b. 2"
    assert entry(MINUET, F(0)) == "upbeat to b. 1"
    assert entry(JIG, F(3)) == "upbeat to b. 2"
    assert entry(JIG, F(1, 2)) == "b. 1"


def test_the_length_of_the_pickup_is_a_measure_for_upbeats() -> None:
    assert entry(GAVOTTE, F(4)) == "upbeat to b. 2"
    assert entry(GAVOTTE, F(3)) == "b. 1, beat 2"


def test_nothing_follows_the_last_bar() -> None:
    assert entry(MINUET, F(11)) == "b. 4, beat 2"


def test_a_split_bar_counts_once() -> None:
    assert place(SPLIT, F(6)) == "b. 2, beat 3"
    assert place(SPLIT, F(7)) == "b. 2, beat 4"
    assert entry(SPLIT, F(6)) == "b. 2, beat 3"
    assert entry(SPLIT, F(7)) == "upbeat to b. 3"
    assert entry(SPLIT, F(15, 2)) == "upbeat to b. 3"
    assert span(SPLIT, F(4), F(8)) == "b. 2"


def test_a_span_of_bars() -> None:
    assert span(MINUET, F(0), F(7)) == "bb. 1-2"
    assert span(MINUET, F(1), F(4)) == "b. 1"
    assert span(MINUET, F(0), F(1)) == "b. 1"
    assert span(MINUET, F(1), F(9, 2)) == "bb. 1-2"
    assert span(MINUET, F(4), F(4)) == "b. 2"
    assert span(MINUET, F(4), MINUET.end, words=AMERICAN) == "mm. 2-4"


@pytest.mark.parametrize(
    ("number", "text"), [(1, "1st"), (2, "2nd"), (3, "3rd"), (4, "4th"), (11, "11th"), (22, "22nd")]
)
def test_ordinals(number: int, text: str) -> None:
    assert ordinal(number) == text


def test_beats_as_tokens() -> None:
    tokens = [beat_token(F(n, 12)) for n in (12, 15, 16, 18, 21)]
    assert tokens == ["1", "1¼", "1+1/3", "1½", "1¾"]


def test_a_phrase_belongs_to_the_bar_it_leads_into() -> None:
    assert [leads_into(MINUET, F(n)).label for n in (0, 1, 5, 6, 11)] == ["1", "1", "2", "3", "4"]
    assert leads_into(SPLIT, F(7)).label == "3"
