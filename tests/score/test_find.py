"""Places as typed, and as cited: one is the inverse of the other."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.pieces import tune
from trainer.errors import TrainerError
from trainer.score.cite import beat_token, entry, leads_into, place
from trainer.score.find import find
from trainer.score.model import Meter, Score

TUNE = tune(8, upbeat=True)


def split(score: Score, index: int, first: int) -> Score:
    """The score with one bar printed as two."""
    bar = score.bars[index]
    head = replace(bar, length=Fraction(first))
    tail = replace(
        bar,
        label=f"{bar.label}X1",
        start=bar.start + first,
        length=bar.length - first,
        lead=Fraction(first),
        continues=True,
    )
    rest = [replace(b, index=b.index + 1) for b in score.bars[index + 1 :]]
    bars = (*score.bars[:index], head, replace(tail, index=index + 1), *rest)
    return replace(score, bars=bars)


@pytest.mark.parametrize(
    ("typed", "quarter"), [("1", 1), ("2:3", 6), (" 3 : 2.5 ", Fraction(17, 2)), ("0:3", 0)]
)
def test_a_place_as_typed(typed: str, quarter: Fraction) -> None:
    assert find(TUNE, typed) == quarter


@pytest.mark.parametrize("typed", ["", "99", "2:0.5", "2:4", "0:1", "2:", "2:1/2", "two", "2:9e9"])
def test_what_is_no_place_is_refused(typed: str) -> None:
    with pytest.raises(TrainerError):
        find(TUNE, typed)


@given(st.integers(1, 16), st.sampled_from([(2, 4), (3, 4), (4, 4), (6, 8), (9, 8), (5, 8)]))
def test_find_is_the_inverse_of_place(eighth: int, meter: tuple[int, int]) -> None:
    score = tune(12, meter=Meter(*meter))
    onset = Fraction(eighth, 2)
    cited = place(score, onset)
    typed = cited.removeprefix("b. ").replace(", beat ", ":")
    typed = typed.replace("½", ".5") if "½" in typed else typed
    assert find(score, typed) == onset


def test_a_split_bar_counts_once() -> None:
    score = split(TUNE, 3, 2)  # the third printed bar, after two beats
    assert find(score, "3:3") == 9
    assert place(score, Fraction(9)) == "b. 3, beat 3"
    assert entry(score, Fraction(9)) == "upbeat to b. 4"
    assert place(score, Fraction(10)) == "b. 4"


def test_an_upbeat_leads_into_the_next_bar() -> None:
    assert leads_into(TUNE, Fraction(0)).label == "1"
    assert leads_into(TUNE, Fraction(12)).label == "5"
    assert leads_into(TUNE, Fraction(11)).label == "4"
    assert leads_into(TUNE, TUNE.end - 1).label == "8"


def test_beats_as_printed() -> None:
    tokens = [beat_token(Fraction(n, 12)) for n in (12, 15, 16, 18, 21)]
    assert tokens == ["1", "1¼", "1+1/3", "1½", "1¾"]


def test_of_several_bars_with_one_number_the_one_meant_is_asked_for() -> None:
    bars = [replace(bar, label="2") if bar.index in (3, 5) else bar for bar in TUNE.bars]
    score = replace(TUNE, bars=tuple(bars))
    with pytest.raises(TrainerError, match=r"3 bars are printed 2 in .*: write 2#1 for the first"):
        find(score, "2:2")
    for nth, index in enumerate([2, 3, 5], 1):
        assert find(score, f"2#{nth}") == score.bars[index].start
    assert find(score, "4#1") == find(score, "4")
    for typed in ("2#0", "2#4", "2#", "4#2", "99#1"):
        with pytest.raises(TrainerError):
            find(score, typed)
