"""Cells, cutting, and text tables. Widths after Unicode Standard Annex 11."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.draw.table import Column, laid_out, text_table
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


NAMES = [["The Long Road Home", 12, "upbeat to b. 15"], ["Air", 3, "b. 1"]]
HEADS: list[Column | str] = ["piece", Column("start", "right"), "place"]


def test_a_name_is_broken_before_it_is_cut() -> None:
    heads, rows = laid_out(HEADS, NAMES, width=38, deep=2)
    assert heads == ["piece           start  place", "─" * 14 + "  ─────  " + "─" * 15]
    assert rows == [
        ["The Long Road      12  upbeat to b. 15", "Home"],
        ["Air                 3  b. 1"],
    ]
    assert text_table(HEADS, NAMES, width=38)[2] == "The Long Road…     12  upbeat to b. 15"


def test_nothing_is_broken_where_there_is_room() -> None:
    heads, rows = laid_out(HEADS, NAMES, width=42, deep=2)
    assert [line for lines in rows for line in lines] == text_table(HEADS, NAMES, width=42)[2:]
    assert [len(lines) for lines in rows] == [1, 1]
    assert len(heads) == 2


def test_headings_may_take_a_line_more_than_rows() -> None:
    heads, rows = laid_out(["Lanterns along the Towpath"], [["1 6-10"]], width=10, deep=2)
    assert heads[:3] == ["Lanterns", "along the", "Towpath"]
    assert rows == [["1 6-10"]]


@given(
    st.lists(st.lists(st.text(max_size=40), min_size=3, max_size=3), max_size=5),
    st.integers(10, 60),
)
def test_a_broken_table_keeps_within_its_width_and_its_lines(
    rows: list[list[str]], width: int
) -> None:
    heads, body = laid_out(["One", Column("Two", "right"), "Three"], rows, width=width, deep=2)
    assert len(body) == len(rows)
    assert all(1 <= len(lines) <= 2 for lines in body)
    assert all(cells(line) <= width for lines in (heads, *body) for line in lines)


@given(st.lists(st.text("abc日", min_size=1, max_size=8), min_size=1, max_size=6))
def test_in_two_lines_every_word_is_kept_where_they_fit(words: list[str]) -> None:
    """The least width in which two lines hold a text is found by trying all."""
    text = " ".join(words)
    least = min(
        width
        for width in range(1, 60)
        if any(
            max(cells(" ".join(words[:n])), cells(" ".join(words[n:]))) <= width
            for n in range(len(words) + 1)
        )
    )
    _, body = laid_out(["x"], [[text]], width=least, deep=2)
    assert " ".join(" ".join(body[0]).split()) == text
