"""Cells, cutting, and text tables. Widths after Unicode Standard Annex 11."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.draw.table import Column, text_table
from trainer.draw.text import cells, clean, cut, fit


def test_cells() -> None:
    assert cells("G♯5") == 3
    assert cells("日本") == 4
    assert cells("e\u0301") == 1
    assert cells("שלום") == 4


def test_clean_takes_controls_and_marks_of_direction_away() -> None:
    assert clean("a\x1b[31mred\x07\n b\u202etxt\u200f") == "a[31mred btxt"


@given(st.text(), st.integers(0, 30))
def test_fit_is_exact_and_cut_never_wider(text: str, width: int) -> None:
    text = clean(text)
    assert cells(cut(text, width)) <= width
    assert cells(fit(text, width)) == width
    assert cells(fit(text, width, "right")) == width


def test_table_as_drawn() -> None:
    rows = [["Étude [slow]", 7, None], ["日本の歌", 12, "b. 4"]]
    assert text_table(["Piece", Column("Start", "right"), "Place"], rows) == [
        "Piece         Start  Place",
        "────────────  ─────  ─────",
        "Étude [slow]      7",
        "日本の歌         12  b. 4",
    ]


def test_table_cuts_the_widest_text_before_figures() -> None:
    lines = text_table(["Title", Column("Number", "right")], [["x" * 90, 123456]], width=30)
    assert lines[2] == "x" * 21 + "…  123456"


def test_table_refuses_a_ragged_row() -> None:
    with pytest.raises(ValueError, match="2 cells under 1 columns"):
        text_table(["a"], [["b", "c"]])


@given(
    st.lists(st.lists(st.text(max_size=40), min_size=3, max_size=3), max_size=5),
    st.integers(10, 60),
)
def test_table_keeps_within_its_width(rows: list[list[str]], width: int) -> None:
    lines = text_table(["One", Column("Two", "right"), "Three"], rows, width=width)
    assert len(lines) == len(rows) + 2
    assert all(cells(line) <= width for line in lines)
