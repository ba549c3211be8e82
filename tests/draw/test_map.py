"""The map of a piece."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.draw.scores import F, parts
from tests.draw.test_drawings import drawn
from trainer.deck.model import Deck, Piece, Start
from trainer.draw.map import piece_map, spoken_map
from trainer.draw.text import cells
from trainer.draw.words import BANDS
from trainer.errors import TrainerError
from trainer.memory.model import FADING, HOLDS, Band, Retention
from trainer.score.model import Bar, Meter, Score

THREE = Meter(3, 4)


def piece(onsets: list[int], bars: int = 20, *, pickup: bool = True) -> Piece:
    """A piece in 3/4 with a pickup of one beat and starts at these quarters."""
    begin = 1 if pickup else 0
    first = [Bar(0, "0", F(0), F(1), THREE, lead=F(2), upbeat=True)] if pickup else []
    full = [Bar(begin + i, str(i + 1), F(begin + 3 * i), F(3), THREE) for i in range(bars)]
    starts = tuple(Start(f"s{i + 1}", i + 1, F(onset)) for i, onset in enumerate(onsets))
    music = Score("A dance", parts(1), (*first, *full), ())
    return Piece(Deck("d", "A dance", "x", starts, tuple(one.id for one in starts)), music)


BANDS_OF: dict[str, Band] = {"s1": "holds", "s2": "fading", "s3": "weak", "s4": "holds"}
CHANCES: dict[str, float | str | None] = {"s1": 0.93, "s2": 0.7, "s3": 0.3, "s4": "2 of 2"}
DANCE = [0, 12, 24, 33, 36, 48]


def test_as_drawn() -> None:
    lines = piece_map(piece(DANCE), BANDS_OF, here="s3", chances=CHANCES, width=80)
    assert lines == drawn("""
    1✓ 93%                          2~ 70%                          ▶3! 30%
 0  ┃██│███████│███████│███████│████┃▒▒│▒▒▒▒▒▒▒│▒▒▒▒▒▒▒│▒▒▒▒▒▒▒│▒▒▒▒┃░░│
                            4✓      5? –                            6? –
 9     │░░░░░░░│░░░░░░░│░░░░┃██│████┃··│·······│·······│·······│····┃··│
 17    │·······│·······│·······│·······┃
 █✓ holds  ▒~ fading  ░! weak  ·? untried  ▶ here
""")


def test_in_ascii_and_without_chances() -> None:
    lines = piece_map(piece(DANCE), BANDS_OF, here="s3", width=60, ascii=True)
    assert lines == drawn("""
    1+                       2~                      >3!
 0  I##|#####|#####|#####|###I=|=====|=====|=====|===I-|
                       4+    5?                      6?
 9     |-----|-----|---I#|###I.|.....|.....|.....|...I.|
 17    |.....|.....|.....|.....I
 #+ holds  =~ fading  -! weak  .? untried  > here
""")


@given(
    st.lists(st.integers(0, 59), min_size=1, max_size=30, unique=True).map(sorted),
    st.integers(24, 200),
    st.booleans(),
    st.booleans(),
    st.data(),
)
def test_every_start_once_within_the_width(
    onsets: list[int], width: int, ascii: bool, pickup: bool, data: st.DataObject
) -> None:
    made = piece(onsets, pickup=pickup)
    bands = {one.id: data.draw(st.sampled_from(BANDS)) for one in made.deck.starts}
    lines = piece_map(made, bands, width=width, ascii=ascii, chances={})
    assert all(cells(line) <= width for line in lines)
    assert not ascii or all(line.isascii() for line in lines)
    bars = [line for line in lines if re.match(r" \d+ .*[│┃|I]", line)]
    marks = " ".join(line for line in lines if line not in bars)
    numbers = sorted(int(number) for number in re.findall(r"(\d+)[✓+~!?]", marks))
    assert numbers == [one.number for one in made.deck.starts]
    begun = sum(len(re.findall("[┃I]", line[:-1])) for line in bars)  # the last cell is an end
    assert begun == len(onsets)


def test_spoken() -> None:
    assert spoken_map(piece(DANCE), BANDS_OF, here="s3", chances=CHANCES)[1:4] == [
        "Start 2, bb. 4-8: fading, 70%.",
        "Start 3, bb. 8-11: weak, 30%. You are here.",
        "Start 4, bb. 11-12: holds, 2 of 2.",
    ]


def test_bands_are_those_of_memory() -> None:
    from trainer.draw.words import band_of

    for chance in (None, 0.0, FADING - 0.01, FADING, HOLDS - 0.01, HOLDS, 1.0):
        assert band_of(chance) == Retention(chance=chance).band


def test_too_narrow() -> None:
    with pytest.raises(TrainerError, match="23 columns"):
        piece_map(piece(DANCE), {}, width=23)
