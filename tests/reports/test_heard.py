"""What was heard beside what was said, start by start."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from tests.memory.build import attempt
from tests.pieces import Clock, desk_at, piece_of, tune
from trainer.desk import Desk
from trainer.document.data import as_data
from trainer.document.lines import as_lines
from trainer.document.model import Document
from trainer.record.attempt import Outcome, Witness
from trainer.record.people import Level, Student
from trainer.reports import attempts, heard
from trainer.reports.heard import Beside, beside, report

O = Outcome  # noqa: E741


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    made = desk_at(tmp_path / "a.db", Clock())
    made.store.pieces.add(piece_of(tune(24), range(0, 72, 12)), "test")
    return made


def play(
    desk: Desk, student: Student, number: int, said: Outcome, told: Witness, times: int = 1
) -> None:
    """The same try on so many days. Where both say the same, it stands as it was heard."""
    clock = desk.clock
    assert isinstance(clock, Clock)
    deck = desk.store.pieces.deck("deck")
    for _ in range(times):
        clock.later(days=1)
        judge = "heard" if said is told.outcome else "self"
        desk.attempts.add(desk.views.of(student), deck, number, said, judge=judge, heard=told)


def row(table: Document, number: int) -> dict[str, object]:
    return next(one for one in as_data(table)["rows"] if one["start"] == number)


@pytest.mark.parametrize(
    ("said", "told", "found"),
    [
        (O.THROUGH, O.THROUGH, Beside(1, 1)),
        (O.THROUGH, O.STOPPED, Beside(1, 0, 1)),
        (O.STOPPED, O.BROKE_OFF, Beside(1, 0, 1)),
        (O.BROKE_OFF, O.NOTHING, Beside(1, 0, 1)),
        (O.NOTHING, O.THROUGH, Beside(1, 0, 0, 1)),
        (O.LOOKED, O.STOPPED, Beside(1, 0, 0, 1)),
        (O.NOTHING, O.ELSEWHERE, Beside(1)),
    ],
)
def test_one_try(said: Outcome, told: Outcome, found: Beside) -> None:
    assert beside(attempt(0, outcome=said, heard=Witness(told))) == found


def test_which_other_start_it_was_has_to_be_the_same_where_both_say_it() -> None:
    def two(said: str, told: str) -> Beside:
        one = attempt(0, outcome=O.ELSEWHERE, elsewhere=said, heard=Witness(O.ELSEWHERE, told))
        return beside(one)

    assert two("s2", "s2") == two("", "s2") == Beside(1, 1)
    assert two("s3", "s2") == Beside(1)


def test_start_by_start_with_the_places(desk: Desk) -> None:
    student = desk.students.find()
    broke = Witness(O.BROKE_OFF, broke_at=Fraction(18), sure=0.9)
    play(desk, student, 2, O.THROUGH, broke, times=2)
    play(desk, student, 2, O.THROUGH, Witness(O.THROUGH), times=3)
    play(desk, student, 1, O.STOPPED, Witness(O.ELSEWHERE, "deck-s5", sure=0.9))
    table = report(desk.views.of(student))
    assert [one[1] for one in table.rows] == [1, 2]  # in the order of the score
    two = row(table, 2)
    assert [two[name] for name in heard.FIGURES] == [5, 0, 2, 0]
    assert two["how"] == "Said through, heard breaking off at b. 7 (3 Mar and 4 Mar)."
    assert "heard as start 5" in str(row(table, 1)["how"])
    assert table.notes[0] == (
        "6 attempts were heard; you marked 3 yourself, 0 of them the same; yours was higher 3 "
        "times, lower never."
    )
    assert table.notes[-1] == heard.LISTEN


def test_what_was_not_heard_surely_is_only_counted(desk: Desk) -> None:
    student = desk.students.find()
    play(desk, student, 1, O.THROUGH, Witness(O.NOTHING, sure=0.6), times=2)
    play(desk, student, 2, O.THROUGH, Witness(O.THROUGH, sure=0.6))
    table = report(desk.views.of(student))
    assert [one[1] for one in table.rows] == [2]
    assert any(note.startswith("2 more were heard too unclearly") for note in table.notes)


@pytest.mark.parametrize(
    ("said", "told", "note"),
    [(O.STOPPED, O.BROKE_OFF, heard.KINDER), (O.STOPPED, O.THROUGH, heard.HARSHER)],
)
def test_a_tendency_is_told_from_three_times_on(
    desk: Desk, said: Outcome, told: Outcome, note: str
) -> None:
    student = desk.students.find()
    play(desk, student, 1, said, Witness(told), times=2)
    assert note not in report(desk.views.of(student)).notes
    play(desk, student, 3, said, Witness(told))
    assert note in report(desk.views.of(student)).notes


def test_many_days_are_not_all_named(desk: Desk) -> None:
    student = desk.students.find()
    play(desk, student, 1, O.STOPPED, Witness(O.THROUGH), times=5)
    how = row(report(desk.views.of(student)), 1)["how"]
    assert how == "Said stopped, heard going through (earlier, 5 Mar, 6 Mar and 7 Mar)."


@pytest.mark.parametrize("width", [60, 80])
@pytest.mark.parametrize("level", ["child", "adult"])
def test_a_child_sees_places_not_counts(desk: Desk, level: Level, width: int) -> None:
    student = desk.students.add("K.", level=level)
    play(desk, student, 2, O.THROUGH, Witness(O.STOPPED, broke_at=Fraction(18)), times=4)
    play(desk, student, 3, O.THROUGH, Witness(O.THROUGH))
    lines = as_lines(report(desk.views.of(student)), width=width)
    text = "\n".join(lines)
    assert max(map(len, lines)) <= width
    assert "b. 7" in text
    assert heard.LEFT in text
    assert ("alike" in text) == (level == "adult")
    assert ("4 times" in text) == (level == "adult")
    assert "%" not in text


def test_who_says_nothing_has_not_agreed(desk: Desk) -> None:
    student, deck = desk.students.find(), desk.store.pieces.deck("deck")
    told = Witness(O.THROUGH)
    play(desk, student, 1, O.THROUGH, told, times=4)
    table = report(desk.views.of(student))
    assert row(table, 1)["how"] == heard.LEFT
    assert table.notes == ("4 attempts were heard; you marked none of them yourself.",)
    desk.attempts.add(desk.views.of(student), deck, 1, O.THROUGH, judge="self", heard=told)
    assert [row(report(desk.views.of(student)), 1)[name] for name in heard.FIGURES] == [5, 1, 0, 0]


def test_a_deck_that_is_missing_is_named(desk: Desk) -> None:
    """The record has come to another machine before its deck."""
    student = desk.students.find()
    play(desk, student, 1, O.THROUGH, Witness(O.THROUGH), times=2)
    assert heard.missing(desk.views.of(student)) == []
    desk.store.log.append(
        attempt(0, deck="elsewhere-1", heard=Witness(O.THROUGH), student=student.id)
    )
    notes = report(desk.views.of(student)).notes
    assert any("The deck of 1 heard attempt is missing" in note for note in notes)
    assert any("elsewher" in note and "deck in" in note for note in notes)
    rows = as_data(attempts.report(desk.views.of(student)))["rows"]
    assert [one["place"] for one in rows if one["piece"] == "deck elsewher"] == [heard.NO_DECK]


def test_nothing_heard_yet(desk: Desk) -> None:
    table = report(desk.views.of(desk.students.find()))
    assert (table.rows, table.notes) == ((), (heard.NONE,))
