"""The keyboard. Outside check: the note numbers of the MIDI 1.0 standard, where 60 is middle C
(C4), a piano's lowest key A0 is 21 and its highest C8 is 108."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.draw.scores import F, note, score
from tests.draw.test_drawings import drawn, waltz
from trainer.draw.keyboard import (
    HIGHEST,
    LOWEST,
    Hand,
    Key,
    first_position,
    in_hands,
    is_black,
    keyboard,
    spoken_position,
    too_wide,
    white_index,
)
from trainer.draw.text import cells

HANDS: list[Hand] = ["R", "L"]
LETTERS = ["C", "C", "D", "D", "E", "F", "F", "G", "G", "A", "A", "B"]


def key(pitch: int, hand: Hand = "R", finger: str = "") -> Key:
    letter = LETTERS[pitch % 12]
    return Key(pitch, letter, int(is_black(pitch)), pitch // 12 - 1, hand, finger)


def test_the_keys_of_a_piano() -> None:
    assert [white_index(pitch) for pitch in (LOWEST, 60, HIGHEST)] == [0, 23, 51]
    black = [pitch for pitch in range(LOWEST, HIGHEST + 1) if is_black(pitch)]
    assert len(black) == 36
    assert HIGHEST - LOWEST + 1 - len(black) == 52


def read_back(lines: list[str]) -> int:
    """The one key that the drawing shows with an R, from the name of a C under it."""
    body = [line for line in lines if not line.startswith(("A0", " not"))]
    name = re.search(r"C(\d)", body[-1])
    assert name
    base = 12 * (int(name[1]) + 1)  # C4 is 60: twelve keys an octave, C-1 is 0
    backs, front = body[1], body[3]
    whites = [0, 2, 4, 5, 7, 9, 11]
    if "R" in front:
        octave, step = divmod((front.index("R") - name.start()) // 3, 7)
        return base + 12 * octave + whites[step]
    octave, step = divmod((backs.index("R") - 1 - name.start()) // 3, 7)
    return base + 12 * octave + whites[step] + 1


@pytest.mark.parametrize("width", [60, 80, 200])
def test_every_key_is_drawn_in_its_place(width: int) -> None:
    for pitch in range(LOWEST, HIGHEST + 1):
        lines = keyboard([key(pitch)], width=width)
        if any("C" in line for line in lines[:-1]):  # else too near the lower end for a name
            assert read_back(lines) == pitch
        assert lines[-1][3:55].index("R") == white_index(pitch)


@given(
    st.lists(
        st.tuples(st.integers(15, 115), st.sampled_from(HANDS), st.sampled_from(["", "1", "5"])),
        max_size=10,
        unique_by=lambda found: found[0],
    ),
    st.integers(24, 200),
    st.booleans(),
)
def test_every_hand_stands_once_within_the_width(
    found: list[tuple[int, Hand, str]], width: int, ascii: bool
) -> None:
    keys = [key(*one) for one in found]
    lines = keyboard(keys, width=width, ascii=ascii)
    assert all(cells(line) <= width for line in lines)
    assert not ascii or all(line.isascii() for line in lines)
    text = "\n".join(line for line in lines if not line.startswith(("A0", " not")))
    on_piano = [one for one in keys if LOWEST <= one.pitch <= HIGHEST]
    for hand in HANDS:
        assert text.count(hand) == sum(one.hand == hand for one in on_piano)


def test_both_hands_as_drawn() -> None:
    keys = [
        key(44, "L", "5"),
        key(52, "L"),
        key(66, "R", "1"),
        key(70, "R", "2"),
        key(72, "R", "4"),
    ]
    assert keyboard(keys, width=80) == drawn("""
 ┌──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┬──┐
 │ ▐█▌▐█▌ │ ▐█▌▐L▌▐█▌ │ ▐█▌▐█▌ │ ▐█▌▐█▌▐█▌ │ ▐█▌▐█▌ │ ▐R▌▐█▌▐R▌ │ ▐█▌▐█▌ │ ▐█▌▐█
 │ ▐█▌▐█▌ │ ▐█▌▐5▌▐█▌ │ ▐█▌▐█▌ │ ▐█▌▐█▌▐█▌ │ ▐█▌▐█▌ │ ▐1▌▐█▌▐2▌ │ ▐█▌▐█▌ │ ▐█▌▐█
 │  │  │  │  │  │  │  │  │  │L │  │  │  │  │  │  │  │  │  │  │  │R4│  │  │  │  │
 └──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┴──┘
  C2                   C3                   C4                   C5
A0 ▁▁▁▁▁▁▁▁▁▄▄▄▄L▄▄▄▄L▄▄▄▄▄▄▄R▄R▄R▄▄▄▄▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁▁ C8
""")


def test_both_hands_on_one_key() -> None:
    lines = keyboard([key(60, "R", "1"), key(60, "L", "1"), key(61, "R"), key(61, "L")], width=40)
    assert "│RL│" in lines[3]
    assert "▐R▌" in lines[1]
    assert "▐L▌" in lines[2]


def test_first_position_is_what_each_hand_strikes_first() -> None:
    assert [(one.pitch, one.hand, one.finger) for one in first_position(waltz(), F(1))] == [
        (54, "L", "2"),
        (63, "L", "1"),
        (78, "R", ""),
    ]
    held = score([replace(note(0, 1, "C4"), tie="stop"), note(1, 1, "E4"), note(4, 1, "G4")])
    assert [one.pitch for one in first_position(held, F(0))] == [64]


def test_spoken() -> None:
    keys = first_position(waltz(), F(1))
    assert spoken_position(keys) == (
        "Right hand: F sharp 5. Left hand: F sharp 3 finger 2 and D sharp 4 finger 1."
    )
    assert spoken_position([]) == ""


def test_a_reach_is_that_of_one_hand() -> None:
    """Hands are apart; a tenth (16 semitones) is wider than an octave (12), the octave is not."""
    far = [key(40, "L"), key(64, "R"), key(76, "R")]
    assert not too_wide(far, 12)
    assert too_wide([*far, key(56, "L")], 12)
    assert not too_wide([*far, key(52, "L")], 12)
    assert not too_wide([], 12)


def test_keys_that_no_hand_presses() -> None:
    assert in_hands([key(60, "x"), key(62, "R")]) == (key(62, "R"),)
