"""The page before a lesson: what is weak, what waits, the days, one thing to try."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise
from pathlib import Path
from random import Random
from typing import Any

import pytest
from msgspec.structs import replace

from tests.pieces import Clock, desk_at, piece_of, tune
from trainer.deck.model import Likeness
from trainer.desk import Desk, spot
from trainer.document.lines import as_lines
from trainer.errors import TrainerError
from trainer.practice.order import cost
from trainer.record.attempt import Outcome
from trainer.record.people import ProgrammeItem
from trainer.reports.lesson import Lesson, lesson, three_to_hear
from trainer.reports.lesson_page import as_data, document
from trainer.reports.view import View

OUTCOMES = {one.value[0]: one for one in Outcome}  # by their letters


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """Two pieces: six starts open of eight, and four of six; 1 and 5 of the first are alike."""
    desk = desk_at(tmp_path / "a.db", Clock())
    study = piece_of(tune(32, title="Study"), range(0, 96, 12), "study")
    alike = Likeness("study-s1", "study-s5", "same", study.score.bars[2].start,
                     study.score.bars[18].start, words="another ending")  # fmt: skip
    study = replace(study, deck=replace(study.deck, alike=(alike,)))
    air = piece_of(tune(24, title="Air"), range(0, 72, 12), "air")
    for piece in (study, air):
        desk.store.pieces.add(piece, "test")
    student = desk.students.find()
    desk.pieces.set_open(student, study.deck, range(1, 7), opened=True)
    desk.pieces.set_open(student, air.deck, range(1, 5), opened=True)
    return desk


def view(desk: Desk) -> View:
    return desk.views.of(desk.students.find())


def clock(desk: Desk) -> Clock:
    assert isinstance(desk.clock, Clock)
    return desk.clock


def tries(desk: Desk, letters: str, deck: str = "study", **fields: Any) -> None:
    """A day of tries, start by start from 1 on, far enough apart to be cold; "." leaves one out;
    then it is the next day."""
    clock(desk).later(days=1)
    begun = desk.clock()
    for number, letter in enumerate(letters, 1):
        clock(desk).later(minutes=20)
        if letter != ".":
            desk.attempts.add(
                view(desk), desk.store.pieces.deck(deck), number, OUTCOMES[letter], **fields
            )
    clock(desk).now = begun


def found(desk: Desk, **more: Any) -> Lesson:
    clock(desk).later(days=1)
    return lesson(view(desk), **more)


def test_the_three_weakest_the_untried_and_the_days(desk: Desk) -> None:
    for letters in ("ttnnt", "tsnnt", "t.ntt"):
        tries(desk, letters)
    tries(desk, ".t", "air")
    clock(desk).later(days=2)
    page = found(desk)
    now = view(desk)
    chances = {
        start.id: now.verdict(start.id).chance or 0.0
        for _, start in now.starts()
        if now.retention(start.id).tries
    }
    assert [one.start for one in page.weakest] == sorted(chances, key=chances.__getitem__)[:3]
    assert all(abs((one.chance or 0) - chances[one.start]) < 1e-9 for one in page.weakest)
    assert all(one.place and one.basis for one in page.weakest)
    assert {one.start for one in page.untried} == now.open - set(chances)
    held: dict[str, date] = {}
    for one in now.attempts:  # each is a cold one here
        if one.outcome.start_held:
            held[one.start] = one.day
    assert {one.start: one.days for one in page.starts if one.start in chances} == {
        start: (now.day - held[start]).days if start in held else None for start in chances
    }
    assert None in {one.days for one in page.starts if one.start in chances}


def test_what_was_taken_for_what(desk: Desk) -> None:
    tries(desk, "e...e", elsewhere="study-s5")
    tries(desk, "e", elsewhere="study-s5")
    page = found(desk)
    told = {(one.called, one.begun): one.times for one in page.confused}
    assert told == view(desk).beliefs.confusions
    (pair,) = page.confused
    assert pair.parts == "b. 3 and b. 19"
    assert page.one_thing == (
        "Starts 1 and 5 of Study were confused 2 times: play both openings in turn and"
        " name the difference. They part at b. 3 and b. 19."
    )


def test_old_confusions_are_told_but_nothing_to_try(desk: Desk) -> None:
    for _ in range(2):
        tries(desk, "e", elsewhere="study-s5")
    clock(desk).later(days=40)
    page = found(desk)
    assert page.confused
    assert "taken for each other" not in page.one_thing


def test_what_was_practised_since_the_last_lesson(desk: Desk) -> None:
    tries(desk, "tt")
    tries(desk, "t", judge="teacher")
    lesson_day = view(desk).day
    tries(desk, "ttt")
    tries(desk, "t", "air")
    tries(desk, "ntt.", "air")
    page = found(desk)
    assert (page.practised.since, page.practised.lesson) == (lesson_day, True)
    assert (page.practised.days, page.practised.tries) == (3, 7)
    assert {one.deck: (one.days, one.tries) for one in page.practised.pieces} == {
        "study": (1, 3),
        "air": (2, 4),
    }
    desk.attempts.add(
        view(desk), desk.store.pieces.deck("study"), 2, Outcome.THROUGH, judge="teacher"
    )
    assert lesson(view(desk)).practised == page.practised  # today's lesson is not the last one
    whole = lesson(view(desk), since=lesson_day - timedelta(days=1)).practised
    assert (whole.days, whole.tries) == (4, 9)
    assert lesson(view(desk), "air").practised.tries == 4


def test_without_a_lesson_it_is_the_last_week(desk: Desk) -> None:
    tries(desk, "tttt")
    clock(desk).later(days=8)
    tries(desk, "tt")
    page = found(desk)
    assert (page.practised.lesson, page.practised.tries) == (False, 2)


# One thing to try, by its weight


def all_tried(desk: Desk, times: int = 3) -> None:
    for _ in range(times):
        tries(desk, "tttttt")
        tries(desk, "tttt", "air")


def test_three_fails_running_are_taken_apart(desk: Desk) -> None:
    for _ in range(3):
        tries(desk, "tn")
    assert found(desk).one_thing == (
        "Start 2 of Study did not hold the last 3 times: take it apart, slowly, at half tempo."
    )


def test_two_fails_are_not_yet_three(desk: Desk) -> None:
    for _ in range(2):
        tries(desk, "tn")
    assert "half tempo" not in found(desk).one_thing


def test_a_join_that_breaks_is_crossed(desk: Desk) -> None:
    for _ in range(2):
        tries(desk, "ttb")
    assert "Start 3 of Study begins well" in (told := found(desk).one_thing)
    assert "play into start 4, from b. 12, and cross it" in told


def test_untried_starts_are_heard(desk: Desk) -> None:
    tries(desk, "tttttt")
    tries(desk, "tt", "air")
    told = "Learned but not yet tried cold: Air 3 and 4. Ask for them today."
    assert found(desk).one_thing == told


def test_nothing_wrong_and_a_recital_near_is_a_run_through(desk: Desk) -> None:
    all_tried(desk)
    day = view(desk).day + timedelta(days=11)
    desk.recitals.set(desk.students.find(), "Concert", day, [ProgrammeItem("air")])
    assert found(desk).one_thing == (
        "Concert in 10 days: do a run-through of Air; after a slip go on from the next start."
    )
    desk.recitals.set(
        desk.students.find(), "Concert", day + timedelta(days=20), [ProgrammeItem("air")]
    )
    told = lesson(view(desk)).one_thing
    assert told == "Start 5 of Air is the next to open, once its phrase is learned."
    assert lesson(view(desk), "study").one_thing.startswith("Start 7 of Study is the next")


def test_where_all_is_open_and_holds_there_is_nothing_to_say(desk: Desk) -> None:
    student = desk.students.find()
    desk.pieces.set_open(student, desk.store.pieces.deck("study"), [7, 8], opened=True)
    desk.pieces.set_open(student, desk.store.pieces.deck("air"), [5, 6], opened=True)
    for _ in range(2):
        tries(desk, "tttttttt")
        tries(desk, "tttttt", "air")
    page = found(desk)
    assert page.one_thing == ""
    assert "One thing to try" not in "\n".join(as_lines(document(page)))


# Three to hear


def test_three_in_need_and_no_neighbours_or_twins_in_a_row(desk: Desk) -> None:
    rng = Random(3)
    for _ in range(25):
        tries(desk, "".join(rng.choice("ttnnb.") for _ in range(6)))
        clock(desk).later(days=rng.randrange(4))
        now = view(desk)
        heard = three_to_hear(now)
        assert len(heard) == len(set(heard)) == 3
        assert {start for _, start in heard} <= now.open
        spots = [spot(*it) for one in heard if (it := now.find(*one))]
        for one, other in pairwise(spots):
            assert cost(one, other) == cost(other, one) == 0
        chances = now.chances(sorted(now.open))
        assert min(chances, key=chances.__getitem__) in {start for _, start in heard}


def test_what_was_heard_today_is_not_heard_again(desk: Desk) -> None:
    tries(desk, "tttttt")
    clock(desk).later(days=1)
    seen: list[str] = []
    for _ in range(3):
        for deck, start in three_to_hear(view(desk)):
            number = desk.store.pieces.deck(deck).start(start).number
            desk.attempts.add(
                view(desk), desk.store.pieces.deck(deck), number, Outcome.THROUGH, judge="teacher"
            )
            seen.append(start)
            clock(desk).later(minutes=1)
    assert len(seen) == len(set(seen))
    assert set(seen) <= view(desk).open


def test_rather_fewer_than_neighbours(desk: Desk) -> None:
    student = desk.students.find()
    desk.pieces.set_open(student, desk.store.pieces.deck("air"), range(1, 5), opened=False)
    desk.pieces.set_open(student, desk.store.pieces.deck("study"), range(3, 7), opened=False)
    assert len(three_to_hear(view(desk))) == 1
    desk.pieces.set_open(student, desk.store.pieces.deck("study"), [1, 2], opened=False)
    assert three_to_hear(view(desk)) == ()


# Notes


def test_a_note_takes_the_place_of_that_days(desk: Desk) -> None:
    student = desk.students.find()
    desk.notes.write(student, "slowly")
    desk.notes.write(student, "left\x1b[31m hand\n alone")
    clock(desk).later(days=7)
    desk.notes.write(student, "better")
    texts = [note.text for note in lesson(view(desk)).notes]
    assert texts == ["better", "left[31m hand alone"]
    desk.notes.write(student, "")
    assert [note.text for note in lesson(view(desk)).notes] == texts[1:]
    assert len(desk.store.log.lesson_notes(student.id)) == 4  # nothing is changed or removed
    with pytest.raises(TrainerError, match="no note of"):
        desk.notes.write(student, "")
    with pytest.raises(TrainerError, match="at most 2000"):
        desk.notes.write(student, "x" * 2001)


def test_a_note_stays_when_the_record_goes_and_goes_when_the_student_does(desk: Desk) -> None:
    student = desk.students.find()
    desk.notes.write(student, "quite private")
    assert "quite private" not in desk.records.write(student)
    other = desk.students.add("B")
    desk.records.combine(other, student)
    desk.notes.write(other, "of the other entry", day=date(2026, 2, 1))
    assert len(desk.store.log.lesson_notes(student.id)) == 2
    desk.store.erasing.erase(student)
    assert desk.store.log.lesson_notes(student.id) == ()
    assert b"quite private" not in desk.store.path.read_bytes()


# In words


@pytest.mark.parametrize("width", [40, 56, 76, 120])
@pytest.mark.parametrize("ascii", [False, True])
def test_no_line_is_too_wide_and_the_parts_stand_in_order(
    desk: Desk, width: int, ascii: bool
) -> None:
    for letters in ("ttnnte", "tsn.te"):
        tries(desk, letters)
    desk.notes.write(desk.students.find(), "a word " * 40)
    lines = as_lines(document(found(desk)), width=width, ascii=ascii)
    assert max(map(len, lines)) <= width
    assert not ascii or all(line.isascii() for line in lines)
    heads = [
        "The three weakest",
        "Open, but not yet tried",
        "Days since",
        "One thing",
        "From earlier",
    ]
    at = [next(n for n, line in enumerate(lines) if line.startswith(head)) for head in heads]
    assert at == sorted(at)


def test_the_table_and_the_data_tell_the_same(desk: Desk) -> None:
    for letters in ("ttnnte", "tsn.te"):
        tries(desk, letters)
    page = found(desk)
    data = as_data(page)
    assert [one["start"] for one in data["weakest"]] == [one.start for one in page.weakest]
    assert {one["days"] for one in data["starts"]} == {one.days for one in page.starts}
    text = " ".join(" ".join(as_lines(document(page))).split())
    for one in page.weakest:
        assert f"{one.piece} {one.number}, {one.place}" in text
    assert page.one_thing in text


def test_a_new_student_has_a_page_too(desk: Desk) -> None:
    other = desk.students.add("New")
    page = lesson(desk.views.of(other))
    assert (page.weakest, page.untried, page.confused, page.notes) == ((), (), (), ())
    assert "No start is open yet" in as_lines(document(page))
