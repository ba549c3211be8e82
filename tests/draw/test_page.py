"""The page: what is drawn is read back from the text and compared with the score."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from tests.draw.read_back import expected, read_back
from tests.draw.scores import passages
from trainer.draw.layout import Style
from trainer.draw.names import NAMINGS, Naming
from trainer.draw.page import FORMS, Form, drawing, page
from trainer.draw.text import cells
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
    assume(music.notes)
    lines = page(music, start, end, width=width, form=form)
    assert max(map(cells, lines)) <= width
    assert read_back(lines) == expected(music, start, end, LABELS[len(music.staves)])


@given(passages(), st.integers(60, 200), st.sampled_from(FORMS), st.sampled_from(NAMINGS))
@quick
def test_ascii_and_other_names_place_the_same_heads(
    passage: Passage, width: int, form: Form, names: Naming
) -> None:
    music, start, end = passage
    assume(music.notes)
    plain = drawing(music, start, end, Style(width, names, ascii=True), form=form)
    signs = drawing(music, start, end, Style(width, names), form=form)
    assert all(line.isascii() for line in plain.lines)
    assert max(map(cells, plain.lines)) <= width
    assert plain.placed == signs.placed
    for placed in signs.placed:
        text = signs.lines[placed.line][placed.column : placed.column + placed.cells]
        assert text.startswith("(") != placed.head.struck
        assert placed.before == (placed.head.onset < start)
