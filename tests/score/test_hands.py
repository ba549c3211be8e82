"""Which hand plays which note of a file that has one staff for both."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.make_decks import SCORES
from tests.pieces import tune
from trainer.score.hands import hands, in_two_hands
from trainer.score.model import Note, Staff
from trainer.score.read import read_score

TWO_STAVES = (
    "lanterns-along-the-towpath",
    "mist-on-the-upper-lock",
    "rain-on-the-skylight",
    "round-the-mill-wheel",
)


def note(onset: Fraction | int, pitch: int, length: Fraction | int = 1) -> Note:
    return Note(Fraction(onset), Fraction(length), pitch, "C", 0, 4, 0)


def test_a_bass_below_a_tune() -> None:
    notes = [note(at, pitch) for at in range(8) for pitch in (40 + at, 47 + at, 67 + at, 72 + at)]
    assert hands(notes) == [False or pitch < 60 for pitch in (n.pitch for n in notes)]


def test_a_hand_keeps_what_it_holds() -> None:
    """A bass that is held while the tune goes down beside it, below middle C."""
    held = note(0, 36, 8)
    low = hands([held, note(0, 72), *(note(at, 72 - 2 * at) for at in range(1, 8))])
    assert low == [True, *[False] * 8]


@pytest.mark.parametrize("name", TWO_STAVES)
def test_most_notes_of_a_demo_score_are_on_their_printed_staff(name: str) -> None:
    """The pieces are not among those that the prices were chosen on."""
    score = read_score(SCORES / f"{name}.musicxml")
    assert len(score.staves) == 2
    printed = [n for n in score.notes if n.sounds and not n.grace]
    printed.sort(key=lambda n: (n.onset, n.pitch))
    low = hands([replace(n, staff=0) for n in printed])
    right = sum(at == bool(n.staff) for at, n in zip(low, printed, strict=True))
    middle = sum((n.pitch < 60) == bool(n.staff) for n in printed)
    assert right >= max(0.8 * len(printed), middle)


def test_a_single_line_stays_one() -> None:
    score = tune(8)
    assert in_two_hands(score) is score


_KEYS = st.lists(
    st.tuples(st.integers(0, 24), st.integers(1, 8), st.integers(21, 108)), min_size=1, max_size=40
)


@given(_KEYS)
def test_hands_never_cross_within_a_moment_and_nothing_is_lost(
    keys: list[tuple[int, int, int]],
) -> None:
    notes = [
        note(Fraction(at, 2), pitch, Fraction(length, 2)) for at, length, pitch in sorted(keys)
    ]
    score = replace(tune(4), staves=(Staff(0, "Piano"),), notes=tuple(notes), rests=())
    made = in_two_hands(score)
    assert sorted(n.pitch for n in made.notes) == sorted(n.pitch for n in notes)
    if len(made.staves) == 1:
        return
    for onset in {n.onset for n in notes}:
        low = [n.pitch for n in made.notes if n.onset == onset and n.staff == 1]
        high = [n.pitch for n in made.notes if n.onset == onset and n.staff == 0]
        assert not low or not high or max(low) <= min(high)
    for rest in made.rests:
        assert not [
            n
            for n in made.notes
            if n.staff == rest.staff and n.onset < rest.onset + rest.length and rest.onset < n.end
        ]
