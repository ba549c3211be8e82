"""How reports are set in lines: nothing that matters is cut, and names are not said twice."""

from __future__ import annotations

from datetime import date

import pytest
from msgspec.structs import replace

from trainer.draw.text import cells
from trainer.reports.table import Table, as_text, laid

LONG, SHORT = "The Long Road Home by Night", "Air"
TABLE = Table(
    "some",
    "Some",
    ("piece", "start", "place", "note", "id"),
    ((LONG, 1, "upbeat to b. 15", "is fine", "x"), (LONG, 2, "b. 5", "is well", "y"),
     (SHORT, 1, "b. 1", "is good", "z")),
    figures=("start",),
    hidden=("id",),
)  # fmt: skip


def test_rows_that_stand_together_have_their_name_over_them() -> None:
    assert as_text(replace(TABLE, over="piece"), width=40) == [
        "Some",
        "",
        "  start  place            note",
        "  ─────  ───────────────  ───────",
        LONG,
        "      1  upbeat to b. 15  is fine",
        "      2  b. 5             is well",
        SHORT,
        "      1  b. 1             is good",
    ]


def test_a_name_that_is_the_same_in_every_row_is_not_said() -> None:
    one = replace(TABLE, rows=TABLE.rows[:2])
    for table in (one, replace(one, over="piece")):
        assert LONG not in "\n".join(as_text(table))


def test_a_day_stands_over_its_rows_with_its_year() -> None:
    table = Table("log", "Log", ("day", "what"), ((date(2026, 3, 2), "one"),), over="day")
    assert as_text(table)[2:] == ["  what", "  ────", "Mon 2 Mar 2026", "  one"]


@pytest.mark.parametrize("width", [50, 60, 80, 120])
def test_names_are_whole_in_rows_that_do_not_stand_together(width: int) -> None:
    lines = as_text(TABLE, width=width)
    assert max(map(cells, lines)) <= width
    assert "…" not in "".join(lines)
    _, rows = laid(TABLE, width=width)
    for row in rows[:2]:
        begins = " ".join(line[:28].split("  ")[0] for line in row.lines).split()
        assert begins == LONG.split()
    assert len(rows[0].lines) == (2 if width == 50 else 1)


def test_a_list_that_is_walked_through_may_keep_a_line_a_row() -> None:
    _, rows = laid(TABLE, width=50, deep=1)
    assert [len(row.lines) for row in rows] == [1, 1, 1]
    assert "…" in rows[0].lines[0]


def test_sentences_stand_below_their_row_under_a_heading_too() -> None:
    told = "a sentence that is far too long to stand beside the other columns of its row"
    table = replace(
        TABLE, rows=tuple((*row[:3], told, "x") for row in TABLE.rows), told="note", over="piece"
    )
    lines = as_text(table, width=60)
    assert " ".join(" ".join(lines).split()).count(told) == 3
    assert lines.count(LONG) == 1
    assert max(map(len, lines)) <= 60
