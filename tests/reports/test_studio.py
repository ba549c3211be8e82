"""The studio: every student by what they need, by name; kept at a glance, and made anew."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.pieces import Clock, desk_at, piece_of, tune
from trainer.desk import Desk
from trainer.document.lines import as_lines
from trainer.record.attempt import Outcome
from trainer.record.people import DaysOff, ProgrammeItem, Student
from trainer.reports.studio import (
    GOES_ON,
    IDLE,
    NEAR,
    OPENED_DAYS,
    WAITS,
    Member,
    as_data,
    as_table,
    programmes_table,
)  # fmt: skip


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """Two pieces of four starts; nobody is known yet."""
    desk = desk_at(tmp_path / "a.db", Clock())
    for name in ("study", "air"):
        desk.store.pieces.add(
            piece_of(tune(16, title=name.capitalize()), range(0, 48, 12), name), "test"
        )
    return desk


def clock(desk: Desk) -> Clock:
    assert isinstance(desk.clock, Clock)
    return desk.clock


def add(desk: Desk, name: str, *numbers: int) -> Student:
    """A student with some starts of the study open."""
    student = desk.students.add(name)
    if numbers:
        desk.pieces.set_open(student, desk.store.pieces.deck("study"), numbers, opened=True)
    return student


def plays(desk: Desk, student: Student, outcome: Outcome = Outcome.THROUGH, number: int = 1) -> str:
    view = desk.views.of(student)
    return desk.attempts.add(view, desk.store.pieces.deck("study"), number, outcome).id


def member(desk: Desk, student: Student) -> Member:
    return next(one for one in desk.views.studio().members if one.student == student.id)


def test_each_stands_where_it_needs_something(desk: Desk) -> None:
    waits, idle, well = add(desk, "W"), add(desk, "I", 1, 2, 3, 4), add(desk, "G", 1, 2, 3, 4)
    near, far = add(desk, "N", 1, 2, 3, 4), add(desk, "F", 1, 2, 3, 4)
    today = desk.views.of(waits).day
    for student, days in ((near, 20), (far, 60)):
        desk.recitals.set(
            student, "Concert", today + timedelta(days=days), [ProgrammeItem("study")]
        )
    plays(desk, idle)
    clock(desk).later(days=7)
    for student in (well, near, far):
        plays(desk, student, Outcome.NOTHING)
    found = {m.name: (m.group, m.why, m.days) for m in desk.views.studio().members}
    assert found["W"] == (WAITS, "no start is open", None)
    assert found["I"] == (IDLE, "last practised 7 days ago", 7)
    assert found["G"] == (GOES_ON, "practised on 1 of 7 days", 0)
    assert found["F"] == (GOES_ON, "practised on 1 of 7 days; Concert in 53 days", 0)
    group, why, ago = found["N"]
    assert (group, ago) == (NEAR, 0)
    assert why.startswith("Concert in 13 days: about 1 start likely to fail, 3 open starts untried")


def test_a_recital_of_places_that_hold_asks_for_nothing(desk: Desk) -> None:
    student = add(desk, "N", 1, 2, 3, 4)
    for _ in range(12):
        for number in (1, 3, 2, 4):
            plays(desk, student, number=number)
            clock(desk).later(minutes=15)
        clock(desk).later(days=1)
    day = desk.views.of(student).day + timedelta(days=1)
    desk.recitals.set(student, "Concert", day, [ProgrammeItem("study")])
    one = member(desk, student)
    assert (one.group, one.why) == (GOES_ON, "practised on 6 of 7 days; Concert tomorrow")
    desk.pieces.set_open(student, desk.store.pieces.deck("study"), [2], opened=False)
    one = member(desk, student)
    assert (one.group, one.why) == (NEAR, "Concert tomorrow: 1 start not open")
    desk.recitals.set(student, "Concert", day, [ProgrammeItem("study", "no")])
    assert member(desk, student).group == GOES_ON  # with music nothing has to hold


def test_days_off_are_no_idleness(desk: Desk) -> None:
    student = add(desk, "A", 1, 2, 3, 4)
    assert member(desk, student).why == "4 starts open, no practice yet"
    today = desk.views.of(student).day
    off = DaysOff(today, today + timedelta(days=3))
    desk.store.students.save(replace(student, off=(off,)))
    assert member(desk, student).group == GOES_ON
    assert member(desk, student).why == "days off until 5 Mar"


def test_starts_to_open_after_two_weeks(desk: Desk) -> None:
    student = add(desk, "A", 1, 2)
    for days in range(OPENED_DAYS + 1):
        one = member(desk, student)
        if days:
            assert one.group == (WAITS if days == OPENED_DAYS else GOES_ON)
        plays(desk, student)
        clock(desk).later(days=1)
    assert one.why == "next is Study 3; the last was opened 14 days ago"


def test_a_group_is_by_name_and_never_by_figure(desk: Desk) -> None:
    for name in ("zoe", "Ann", "bert", "Cleo"):
        student = add(desk, name, 1, 2, 3, 4)
        for _ in range(len(name)):
            plays(desk, student, Outcome.NOTHING if name == "Ann" else Outcome.THROUGH)
    assert [one.name for one in desk.views.studio().members] == ["Ann", "bert", "Cleo", "zoe"]


def test_what_is_taken_back_was_no_try(desk: Desk) -> None:
    student = add(desk, "A", 1, 2, 3, 4)
    plays(desk, student)
    clock(desk).later(days=3)
    last = plays(desk, student)
    assert member(desk, student).days == 0
    desk.attempts.take_back(next(one for one in desk.views.of(student).attempts if one.id == last))
    assert member(desk, student).days == 3
    assert member(desk, student).week == 1


def test_two_entries_of_one_person_are_one(desk: Desk) -> None:
    one, other = add(desk, "A", 1), add(desk, "B", 2)
    plays(desk, one)
    clock(desk).later(days=2)
    plays(desk, other, number=2)
    desk.records.combine(one, other)
    (found,) = desk.views.studio().members
    assert (found.student, found.days, found.week) == (other.id, 0, 2)


def test_the_glance_is_kept_and_made_anew_with_everything_new(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever the store took in since, a kept overview equals one that is made from nothing."""
    student, still = add(desk, "A", 1, 2, 3), add(desk, "B", 1)
    today = desk.views.of(student).day
    desk.recitals.set(
        student, "Concert", today + timedelta(days=10),
        [ProgrammeItem("study"), ProgrammeItem("air", "no")],
    )  # fmt: skip
    looked: list[str] = []
    view = desk.views.of

    def viewed(of: Student, **more: object) -> object:
        looked.append(of.id)
        return view(of, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(desk.views, "of", viewed)
    desk.views.studio()
    assert looked == [student.id, still.id]
    deck = desk.store.pieces.deck("study")
    last: list[str] = []
    steps = (
        lambda: last.append(desk.attempts.add(view(student), deck, 1, Outcome.NOTHING).id),
        lambda: desk.pieces.set_open(student, deck, [4], opened=True),
        lambda: desk.attempts.take_back(view(student).attempts[-1]),
        lambda: desk.recitals.set(student, "Concert", today + timedelta(days=9),
                                 [ProgrammeItem("study")]),
        lambda: desk.own.set(student, deck, deck.starts[0], {"left out": "yes"}),
    )  # fmt: skip
    for step in steps:
        looked.clear()
        desk.views.studio()
        assert looked == []  # nothing new: nobody is looked at
        clock(desk).later(minutes=1)
        step()
        kept = desk.views.studio()
        assert looked == [student.id]  # and of the others nothing is read
        desk.store.caches.drop()
        assert desk.views.studio() == kept
    looked.clear()
    clock(desk).later(days=30)  # the recital is over: another day, another page
    assert [one.programme.name for one in desk.views.studio().playing] == []


def test_how_far_it_is_and_what_was_done_when_it_is_broken_off(desk: Desk) -> None:
    students = [add(desk, f"S{n}", 1) for n in range(4)]
    told: list[tuple[int, int]] = []

    def stop(done: int, of: int) -> None:
        told.append((done, of))
        if done == 2:
            raise InterruptedError

    with pytest.raises(InterruptedError):
        desk.views.studio(stop)
    assert told == [(0, 4), (1, 4), (2, 4)]
    assert set(desk.store.caches.glances()) == {student.id for student in students[:2]}


def test_a_glance_of_another_form_is_made_anew(desk: Desk) -> None:
    student = add(desk, "A", 1)
    before = desk.views.studio()
    basis, _ = desk.store.caches.glances()[student.id]
    desk.store.caches.keep_glances({student.id: (basis, '{"of another": "form"}')})
    assert desk.views.studio() == before


@pytest.mark.parametrize("width", [60, 80])
def test_the_tables_and_the_data(desk: Desk, width: int) -> None:
    for name in ("A", "[b]", "C" * 40):
        student = add(desk, name, 1, 2)
        day = desk.views.of(student).day + timedelta(days=10)
        desk.recitals.set(
            student, "Concert", day, [ProgrammeItem("study"), ProgrammeItem("air", "no")]
        )
    found = desk.views.studio()
    lines = [
        *as_lines(as_table(found), width=width),
        *as_lines(programmes_table(found), width=width),
    ]
    assert max(map(len, lines)) <= width
    assert any(line.startswith(NEAR.capitalize()[:40]) for line in lines)
    assert sum("(with" in line for line in lines) == 3
    data = as_data(found)
    assert [one["name"] for one in data["members"]] == ["[b]", "A", "C" * 40]
    assert {p["deck"] for one in data["playing"] for p in one["programme"]["pieces"]} == {
        "study",
        "air",
    }


def test_nobody_yet(desk: Desk) -> None:
    assert "No student yet" in " ".join(as_lines(as_table(desk.views.studio())))
