"""The page: what is drawn is read back from the text and compared with the score."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.draw.read_back import expected, read_back
from tests.draw.scores import F, note, passages, score
from trainer.draw.layout import Style
from trainer.draw.names import NAMINGS, Naming
from trainer.draw.page import FORMS, Form, drawing, page
from trainer.draw.text import cells
from trainer.errors import TrainerError
from trainer.score.model import Score

Passage = tuple[Score, Fraction, Fraction]
LABELS = {1: {0: ""}, 2: {0: "RH", 1: "LH"}, 3: {i: f"Part {i + 1}" for i in range(3)}}


# A failing score is drawn as it was found: making it smaller takes minutes and tells no more.
quick = settings(
    deadline=None,
    max_examples=120,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    report_multiple_bugs=False,
)


@given(passages(), st.integers(60, 200), st.sampled_from(FORMS))
@quick
def test_every_struck_note_stands_once(passage: Passage, width: int, form: Form) -> None:
    music, start, end = passage
    lines = page(music, start, end, width=width, form=form, signs=False)
    assert max(map(cells, lines)) <= width
    assert read_back(lines) == expected(music, start, end, LABELS[len(music.staves)])


@given(passages(), st.integers(60, 200), st.sampled_from(FORMS), st.sampled_from(NAMINGS))
@quick
def test_ascii_and_other_names_place_the_same_heads(
    passage: Passage, width: int, form: Form, names: Naming
) -> None:
    music, start, end = passage
    plain = drawing(music, start, end, Style(width, names, ascii=True), form=form)
    signs = drawing(music, start, end, Style(width, names), form=form)
    assert all(line.isascii() for line in plain.lines)
    assert max(map(cells, plain.lines)) <= width
    assert plain.placed == signs.placed
    for placed in signs.placed:
        text = signs.lines[placed.line][placed.column : placed.column + placed.cells]
        assert text.startswith("(") != placed.head.struck
        assert placed.before == (placed.head.onset < start)


def test_a_note_over_the_bar_line_is_shown_as_sounding_on() -> None:
    music = score([note(0, 6, "C5"), note(4, 1, "E5")], staves=1)
    assert read_back(page(music, F(4), F(8))) == expected(music, F(4), F(8), LABELS[1])
    assert any("(C)═" in line for line in page(music, F(4), F(8)))


def test_cue_and_grace_notes_are_not_drawn_as_struck() -> None:
    notes = [replace(note(0, 1, "G5"), cue=True), replace(note(1, 0, "A5"), grace=True)]
    text = "\n".join(page(score([*notes, note(1, 1, "B4")], staves=1), F(0), F(4), signs=False))
    assert "~B" in text
    assert "A" not in text


def test_a_split_bar_goes_on_counting() -> None:
    whole = score([note(i, 1, "B4") for i in range(8)], staves=1)
    bars = (
        replace(whole.bars[0], length=F(3)),
        replace(whole.bars[0], index=1, start=F(3), length=F(1), lead=F(3), continues=True),
        replace(whole.bars[1], index=2),
    )
    lines = page(replace(whole, bars=bars), F(3), F(8))
    assert lines[0].split() == ["1…", "2"]
    assert lines[-1].split() == ["4", "1", "2", "3", "4"]


@pytest.mark.parametrize(
    ("start", "end", "width", "staves", "words"),
    [
        (F(4), F(4), 80, None, "Nothing to draw from 4 to 4"),
        (F(0), F(99), 80, None, "the score goes from 0 to 8"),
        (F(0), F(4), 23, None, "23 columns are too few"),
        (F(0), F(4), 80, [7], "No such staff"),
    ],
)
def test_what_cannot_be_drawn(
    start: Fraction, end: Fraction, width: int, staves: list[int] | None, words: str
) -> None:
    music = score([note(0, 1, "C4")])
    with pytest.raises(TrainerError, match=words):
        page(music, start, end, width=width, staves=staves)


def test_a_chosen_part_of_three() -> None:
    music = score([note(0, 1, "C5", 0), note(0, 1, "E5", 1), note(0, 1, "G5", 2)], staves=3)
    lines = page(music, F(0), F(4), staves=[1])
    assert list(read_back(lines)) == [("1", "1", "Part 2", "E", 0, 5)]
