"""How reports are set in lines: nothing that matters is cut, and names are not said twice."""

from __future__ import annotations

from datetime import date

import pytest
from msgspec.structs import replace

from trainer.document.lines import as_lines, laid
from trainer.document.model import Table, columns, listed
from trainer.draw.text import cells

LONG, SHORT = "The Long Road Home by Night", "Air"
TABLE = Table(
    columns("piece", "start", "place", "note", "id", figures=("start",), hidden=("id",)),
    ((LONG, 1, "upbeat to b. 15", "is fine", "x"), (LONG, 2, "b. 5", "is well", "y"),
     (SHORT, 1, "b. 1", "is good", "z")),
)  # fmt: skip


def lines(table: Table, width: int = 80) -> list[str]:
    return as_lines(listed("some", "Some", table), width=width)


def test_rows_that_stand_together_have_their_name_over_them() -> None:
    assert lines(replace(TABLE, over="piece"), width=40) == [
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
        assert LONG not in "\n".join(lines(table))


def test_a_day_stands_over_its_rows_with_its_year() -> None:
    table = Table(columns("day", "what"), ((date(2026, 3, 2), "one"),), over="day")
    assert lines(table)[2:] == ["  what", "  ────", "Mon 2 Mar 2026", "  one"]


@pytest.mark.parametrize("width", [50, 60, 80, 120])
def test_names_are_whole_in_rows_that_do_not_stand_together(width: int) -> None:
    text = lines(TABLE, width=width)
    assert max(map(cells, text)) <= width
    assert "…" not in "".join(text)
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
    table = Table(
        columns("piece", "start", "place", "note", figures=("start",), sentence="note"),
        tuple((*row[:3], told) for row in TABLE.rows),
        over="piece",
    )
    text = lines(table, width=60)
    assert " ".join(" ".join(text).split()).count(told) == 3
    assert text.count(LONG) == 1
    assert max(map(len, text)) <= 60
