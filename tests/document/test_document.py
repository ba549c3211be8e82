"""A document and its writers: what they write, and that they agree."""

from __future__ import annotations

import csv
import io
import json
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.document.data import FORMAT, as_csv, as_data
from trainer.document.lines import as_lines, as_speech, laid
from trainer.document.model import (
    Cell,
    Column,
    Document,
    Listing,
    Rule,
    Section,
    Sentence,
    Standing,
    Table,
    checked,
    listed,
)
from trainer.document.words import cell_word
from trainer.draw.text import cells
from trainer.memory.model import Retention
from trainer.paper.written import written

COLUMNS = (
    Column("piece"),
    Column("start", kind="figure"),
    Column("standing", "is"),
    Column("next", "next attempt"),
    Column("last_cold", spare=1),
    Column("why", kind="sentence"),
    Column("id", hidden=True),
)
ROWS: tuple[tuple[Cell, ...], ...] = (
    ("Air", 3, Standing("weak"), Retention(0.314, 0.2, 0.45, 9, 3), date(2026, 3, 7),
     "It did not hold the last 2 times.", "a3"),
    ("Air", 12, Standing("holds"), Retention(0.9, 0.8, 0.95, 2, 2), None, "", "a12"),
    ("Study", 1, Standing("untried"), Retention(), None, "Not tried cold yet.", "s1"),
)  # fmt: skip
TABLE = Table(COLUMNS, ROWS, over="piece", opens="id")
DOCUMENT = Document(
    "sample",
    "What holds",
    (
        TABLE,
        Sentence("Practise 3.", lead="One thing to try"),
        Section("confused", "Confused with each other", (Listing(("3 for 12, twice",)), Rule(3))),
        Section("empty", "Nothing here", ()),
    ),
    aside="in 23 days",
)


def test_lines_say_it_all_in_order() -> None:
    assert as_lines(checked(DOCUMENT), width=80) == [
        "What holds; in 23 days",
        "",
        "  start  is  next attempt  last cold  why",
        "  ─────  ──  ────────────  ─────────  ─────────────────────────────────",
        "Air",
        "      3  !   31% 20-45     7 Mar      It did not hold the last 2 times.",
        "     12  ✓   2 of 2",
        "Study",
        "      1  ?                            Not tried cold yet.",
        "",
        "One thing to try: Practise 3.",
        "",
        "Confused with each other",
        "  3 for 12, twice",
    ]


def test_a_narrow_screen_goes_without_the_spare_and_sets_sentences_below() -> None:
    heads, rows = laid(TABLE, width=50)
    assert "last cold" not in heads[0]
    assert "why" not in heads[0]
    assert rows[0].lines[-1] == "      It did not hold the last 2 times."


def test_on_paper_the_same_stands_in_elements() -> None:
    page = written(DOCUMENT)
    for told in (
        "<h1>What holds</h1>",
        '<p class="about">in 23 days</p>',
        '<td><span class="day">7 Mar</span></td>',
        "<td>31% 20-45</td>",
        '<th scope="col" class="figure">start</th>',
        '<p class="note"><strong>One thing to try: </strong>Practise 3.</p>',
        "<h2>Confused with each other</h2>",
        "<li>3 for 12, twice</li>",
    ):
        assert told in page, told
    assert page.count('class="rule"') == 3
    assert "Nothing here" not in page
    assert "a12" not in page


def test_speech_has_no_signs_and_no_short_forms() -> None:
    assert as_speech(DOCUMENT) == [
        "What holds; in 23 days",
        "Air, start 3, is weak, next attempt 31 percent, from 20 to 45, last cold 7 March, "
        "It did not hold the last 2 times.",
        "Air, start 12, is holds, next attempt 2 of 2.",
        "Study, start 1, is untried, Not tried cold yet.",
        "One thing to try: Practise 3.",
        "Confused with each other:",
        "3 for 12, twice",
    ]


def test_data_are_raw_values_under_keys() -> None:
    data = json.loads(json.dumps(as_data(DOCUMENT)))
    assert data["format"] == FORMAT
    assert data["report"] == "sample"
    assert data["rows"][0] == {
        "piece": "Air",
        "start": 3,
        "standing": "weak",
        "next": {"chance": 0.314, "low": 0.2, "high": 0.45, "attempts": 9, "held": 3},
        "last_cold": "2026-03-07",
        "why": "It did not hold the last 2 times.",
        "id": "a3",
    }
    assert data["notes"] == ["Practise 3."]
    assert data["confused"] == {"title": "Confused with each other", "items": ["3 for 12, twice"]}
    assert data["empty"] == {"title": "Nothing here"}


def test_a_heading_that_is_reworded_changes_no_data() -> None:
    other = tuple(Column(c.key, "!" + c.name, c.kind, c.spare, c.hidden) for c in COLUMNS)
    assert as_data(listed("x", "T", Table(other, ROWS))) == as_data(
        listed("x", "T", Table(COLUMNS, ROWS))
    )


def test_csv_has_keys_and_raw_values_and_no_formula() -> None:
    rows = (("=1+1", 3, Standing("weak"), Retention(0.5, 0.4, 0.6, 9, 3), None, True, "-x"),)
    found = list(csv.reader(io.StringIO(as_csv(Table(COLUMNS, rows)))))
    assert found[0] == ["piece", "start", "standing", "next", "last_cold", "why", "id"]
    assert found[1] == ["'=1+1", "3", "weak", "0.5", "", "yes", "'-x"]


@pytest.mark.parametrize(
    ("blocks", "told"),
    [
        ((Table(COLUMNS, ()), Table(COLUMNS, ())), "stands twice"),
        ((Table((Column("Two words"),), ()),), "not a key"),
        ((Table((Column("one"),), (("a", "b"),)),), "a row of 2 cells"),
        ((Table((Column("one"),), (), over="two"),), "no column"),
        ((Table((Column("one"), Column("one")), ()),), "stands twice"),
        ((Section("s", "S", (Listing(()), Listing(()))),), "stands twice"),
    ],
)
def test_what_is_not_well_formed_is_refused(blocks: tuple[Table, ...], told: str) -> None:
    with pytest.raises(ValueError, match=told):
        checked(Document("x", "T", blocks))


texts = st.text(st.characters(codec="utf-8"), max_size=60) | st.sampled_from(
    ("日本語の曲名 がここに", "👩‍👩‍👧 duet", "e\u0301tude", "a\x1b[31mb", "\u202eabc")
)
cell = st.one_of(
    texts,
    st.integers(-9, 999),
    st.booleans(),
    st.none(),
    st.dates(),
    st.sampled_from([Standing("fading"), Retention(0.5, 0.4, 0.6, 9, 4)]),
)


@given(
    rows=st.lists(st.tuples(cell, cell, cell, texts), max_size=5),
    notes=st.lists(texts, max_size=3).map(tuple),
    title=texts,
    width=st.integers(8, 120),
    over=st.sampled_from(("", "one")),
    spare=st.booleans(),
    plain=st.booleans(),
)
def test_no_line_is_too_wide_and_nothing_commands_a_terminal(
    rows: list[tuple[Cell, ...]], notes: tuple[str, ...], title: str, width: int, over: str,
    spare: bool, plain: bool,
) -> None:  # fmt: skip
    columns = (
        Column("one"),
        Column("two", kind="figure"),
        Column("three", spare=int(spare)),
        Column("four", kind="sentence"),
    )
    document = listed("x", title, Table(columns, tuple(rows), over=over), notes)
    lines = as_lines(document, width=width, ascii=plain)
    for line in lines:
        assert cells(line) <= width
        assert line.isprintable()
    assert all(line.isprintable() for line in as_speech(document))
    assert len(as_data(document)["rows"]) == len(rows)


@given(rows=st.lists(st.tuples(cell, cell), min_size=1, max_size=4))
def test_with_room_every_cell_is_in_the_text(rows: list[tuple[Cell, ...]]) -> None:
    table = Table((Column("one"), Column("two")), tuple(rows))
    text = "\n".join(as_lines(listed("x", "T", table), width=600))
    for row in rows:
        for one in row:
            assert cell_word(one) in text
