"""The log of tries as a list and as a file for spreadsheets."""

from __future__ import annotations

import csv
import io
from datetime import date
from pathlib import Path

import pytest

from tests.pieces import Clock, desk_at, named, piece_of, tune
from trainer.desk import Desk
from trainer.document.data import as_csv
from trainer.document.lines import as_lines
from trainer.document.model import Table, columns
from trainer.record.attempt import Outcome, Witness
from trainer.reports.attempts import RAW, raw, report


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    clock = Clock()
    made = desk_at(tmp_path / "a.db", clock)
    made.store.pieces.add(piece_of(tune(16, title='=Study, "No. 1"'), [0, 12, 24, 36]), "test")
    return made


def play(desk: Desk, number: int, outcome: Outcome, **fields: object) -> None:
    clock = desk.clock
    assert isinstance(clock, Clock)
    clock.later(hours=5)
    desk.attempts.add(
        desk.views.of(desk.students.find()),
        desk.store.pieces.deck("deck"),
        number,
        outcome,
        **fields,
    )


def test_where_nothing_was_tried_it_says_what_to_do(desk: Desk) -> None:
    lines = as_lines(report(desk.views.of(desk.students.find())))
    assert lines[0] == "Attempts of me"
    assert "No attempts yet: `trainer drill`" in " ".join(lines)


def test_the_newest_come_first_under_their_practice_day(desk: Desk) -> None:
    for number in (1, 2, 3, 4):  # at 17, 22, 03 and 08 o'clock: two practice days
        play(desk, number, Outcome.THROUGH)
    lines = as_lines(report(desk.views.of(desk.students.find())))
    assert [line for line in lines if line.endswith("2026")] == [
        "Tue 3 Mar 2026", "Mon 2 Mar 2026",
    ]  # fmt: skip
    times = [line.split()[0] for line in lines if line.startswith("  ") and line[2].isdigit()]
    assert times == ["08:00", "03:00", "22:00", "17:00"]


def test_of_one_start(desk: Desk) -> None:
    for number in (1, 2, 1):
        play(desk, number, Outcome.NOTHING)
    table = report(desk.views.of(desk.students.find()), "deck", "deck-s1")
    assert len(table.rows) == 2
    assert table.title.endswith("start 1")


def test_a_file_for_spreadsheets_has_all_that_is_kept(desk: Desk) -> None:
    play(desk, 2, Outcome.ELSEWHERE, elsewhere="deck-s3", hints=("harmony", "advice"))
    play(
        desk,
        1,
        Outcome.BROKE_OFF,
        broke_at=desk.store.pieces.deck("deck").starts[1].onset,
        seconds=9.5,
    )
    rows = list(csv.DictReader(io.StringIO(as_csv(raw(desk.views.of(desk.students.find()))))))
    assert tuple(rows[0]) == RAW
    broke, other = rows
    assert (broke["outcome"], broke["broke_at"], broke["seconds"]) == ("broke off", "b. 5", "9.5")
    assert broke["broke_at_ql"] == "12.0"
    assert (broke["start_held"], broke["join_held"], broke["latency"]) == ("yes", "no", "")
    assert (other["elsewhere"], other["hints"]) == ("3", "harmony; advice")
    assert other["join_held"] == ""
    assert broke["piece"] == '\'=Study, "No. 1"'
    assert broke["at"].startswith("2026-03-02T22:00")


def test_a_heard_try_shows_both_where_they_differ(desk: Desk) -> None:
    play(desk, 1, Outcome.THROUGH, judge="heard", heard=Witness(Outcome.THROUGH))
    table = report(desk.views.of(desk.students.find()))
    assert table.table is not None
    assert not table.table.shown("heard")
    assert table.table.shown("judge")
    assert any(line.rstrip().endswith(" heard") for line in as_lines(table))
    other = Witness(Outcome.ELSEWHERE, elsewhere="deck-s3")
    play(desk, 2, Outcome.STOPPED, heard=other)
    table = report(desk.views.of(desk.students.find()))
    assert [row["heard"] for row in named(table)] == ["start 3", None]
    for width in (60, 80):
        (line,) = [one for one in as_lines(table, width=width) if "start 3" in one]
        assert "stopped" in line


def test_what_was_heard_is_kept_whole_for_spreadsheets(desk: Desk) -> None:
    heard = Witness(Outcome.ELSEWHERE, "deck-s3", None, 2, 1, 4, 30, 0.9)
    play(desk, 2, Outcome.ELSEWHERE, elsewhere="deck-s3", judge="heard", heard=heard)
    (row,) = csv.DictReader(io.StringIO(as_csv(raw(desk.views.of(desk.students.find())))))
    kept = [row[name] for name in ("heard", "heard_elsewhere", "heard_broke_at_ql")]
    assert kept == ["elsewhere", "3", ""]
    counts = [row[name] for name in ("wrong", "missed", "extra", "notes", "sure")]
    assert counts == ["2", "1", "4", "30", "0.9"]


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", "\r", " =", "\x1b="])
def test_no_cell_of_a_file_is_a_formula(sign: str) -> None:
    """A spreadsheet may run what begins with one of these (OWASP, CSV injection)."""
    table = Table(columns("what", "n", "on"), ((f"{sign}1+1", -1.5, date(2026, 3, 2)),))
    text = as_csv(table)
    rows = list(csv.reader(io.StringIO(text, newline="")))
    assert rows[0] == ["what", "n", "on"]
    assert rows[1][0].startswith("'")
    assert rows[1][1:] == ["-1.5", "2026-03-02"]  # a number is no text, and stays one
    assert text.isprintable() or text.replace("\r\n", "").isprintable()


def test_a_file_is_quoted_and_broken_as_the_standard_has_it() -> None:
    """RFC 4180: lines end in CRLF; quotes, commas and breaks are quoted, quotes doubled."""
    table = Table(columns("a", "b"), (('say "x", now', None), (True, 3)))
    assert as_csv(table) == 'a,b\r\n"say ""x"", now",\r\nyes,3\r\n'
