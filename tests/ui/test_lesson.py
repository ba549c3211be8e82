"""The teacher's screens: the page before a lesson and what is done from there, the studio."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from tests.pieces import Clock, desk_at
from tests.ui.stage import opened, play, small_desk
from trainer.deck.file import has_notes, parse_deck, read_deck, write_deck
from trainer.desk import Desk
from trainer.record.attempt import Outcome
from trainer.record.people import ProgrammeItem
from trainer.reports.lesson import lesson
from trainer.ui.screens.studio import StudioScreen


def desk_of_two(folder: Path) -> Desk:
    """The small desk, its student with a few days of tries: 3 fails, 1, 2 and 5 hold, 4 is
    untried; and another student without any."""
    desk = small_desk(folder)
    student, deck = desk.students.find(), desk.store.pieces.deck("deck")
    assert isinstance(desk.clock, Clock)
    now = desk.clock.now
    desk.pieces.set_open(student, deck, [6, 7, 8], opened=False)
    for ago in (9, 6, 3):
        for minute, (number, outcome) in enumerate(
            ((1, Outcome.THROUGH), (5, Outcome.THROUGH), (3, Outcome.NOTHING), (2, Outcome.STOPPED))
        ):
            desk.clock.now = now - timedelta(days=ago) + timedelta(minutes=20 * minute)
            desk.attempts.add(desk.views.of(student), deck, number, outcome)
    desk.clock.now = now
    desk.students.add("K.")
    desk.students.choose(student)
    return desk


@pytest.mark.parametrize("size", [(80, 24), (60, 20)])
def test_five_minutes_before_the_lesson(size: tuple[int, int], tmp_path: Path) -> None:
    """From the list of students to the page: the three weakest, the untried, the days since
    each held cold, one thing to try."""

    async def scene() -> None:
        desk = desk_of_two(tmp_path)
        async with opened(desk, size=size) as stage:
            await stage.press("s", "b")
            assert stage.room == "LessonScreen"
            page = lesson(stage.app.view)
            text = " ".join(stage.text.split())
            for one in page.weakest:
                assert f"{one.piece} {one.number}, {one.place}" in text
                assert one.basis in text
            assert "Study: 4" in text
            assert "Study: 3 (never), 1, 2 and 5 (3)" in text
            assert "Start 3 of Study did not hold the last 3 times" in text
            assert max(map(len, stage.lines)) <= size[0]
            await stage.press("escape", "escape", "l")
            assert stage.room == "LessonScreen"

    play(scene)


def test_a_lesson_of_another_student_is_theirs_until_one_comes_back(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(desk_of_two(tmp_path)) as stage:
            await stage.press("s", "down", "b")
            assert "Before the lesson: K." in stage.text
            assert "No start is open yet" in stage.text
            assert "hear three" not in stage.text
            assert stage.app.view.student.name == "K."
            await stage.press("escape", "escape")
            assert "Today for me" in stage.text

    play(scene)


def test_one_student_alone_has_no_teachers_key(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            assert "lesson" not in stage.text
            await stage.press("l")
            assert stage.room == "TodayScreen"

    play(scene)


def test_three_are_heard_and_the_teacher_is_the_judge(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = desk_of_two(tmp_path)
        before = len(desk.store.log.attempts(desk.students.find().id))
        async with opened(desk) as stage:
            await stage.press("l", "h")
            assert "1 of 3" in stage.text
            await stage.press("t", "n", "t")
            assert "Enter goes back to the lesson." in stage.text
            await stage.press("enter")
            assert stage.room == "LessonScreen"
            await stage.press("h", "q", "enter", "h", "q", "enter")
        log = desk.store.log.attempts(desk.students.find().id)[before:]
        assert {one.judge for one in log} == {"teacher"}
        numbers = [desk.store.pieces.deck("deck").start(one.start).number for one in log]
        assert len(numbers) == 3
        assert {3, 4} & set(numbers)
        assert all(abs(one - other) > 1 for one, other in pairwise(numbers))

    play(scene)


def test_when_all_were_heard_there_is_nothing_more(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = desk_of_two(tmp_path)
        view = desk.views.of(desk.students.find())
        for number in range(1, 6):
            desk.attempts.add(view, view.decks["deck"], number, Outcome.THROUGH, judge="teacher")
        async with opened(desk) as stage:
            await stage.press("l", "h")
            assert "Every open start has been heard today." in stage.text

    play(scene)


def test_a_note_is_written_gone_on_with_and_taken_away(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = desk_of_two(tmp_path)
        async with opened(desk, size=(80, 40)) as stage:
            await stage.press("l", "w", *"soft", "enter")
            assert "2 Mar: soft" in stage.text
            await stage.press("w", "end", *"er", "enter")
            assert "2 Mar: softer" in stage.text
            assert [note.text for note in stage.app.view.lesson_notes] == ["soft", "softer"]
            await stage.press("w", *["backspace"] * 6, "enter")
            assert "soft" not in stage.text
            await stage.press("w", "escape")
            assert stage.room == "LessonScreen"
        assert len(desk.store.log.lesson_notes(desk.students.find().id)) == 3

    play(scene)


def test_the_deck_is_handed_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)

    async def scene() -> None:
        desk = desk_of_two(tmp_path)
        (tmp_path / "b").write_text("mine")
        async with opened(desk) as stage:
            await stage.press("l", "o", "enter", "b", "enter")
            assert "b exists already; choose another name." in stage.text
            await stage.press("backspace", *"n/x", "enter")
            assert "There is no folder n" in stage.text
            await stage.press(*["backspace"] * 3, *"out.json", "enter")
            assert "Study: written to out.json." in stage.text
            await stage.press("o", "down", "enter")
            assert "is the deck of Study without its notes to go" in " ".join(stage.text.split())
            await stage.press(*"bare.json", "enter")
            assert "Study: written to bare.json without its notes." in stage.text
            await stage.press("o", "escape")
            assert stage.room == "LessonScreen"
        whole, bare = (read_deck(tmp_path / name) for name in ("out.json", "bare.json"))
        assert whole.deck == bare.deck == desk.store.pieces.deck("deck")
        assert (has_notes(whole), has_notes(bare)) == (True, False)
        assert (tmp_path / "b").read_text() == "mine"

    play(scene)


def test_a_deck_whose_notes_are_not_here_is_handed_out_without_a_question(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)

    async def scene() -> None:
        desk = desk_of_two(tmp_path)
        whole = desk.store.pieces.get("deck")
        bare = parse_deck(write_deck(whole, notes=False).encode(), "x")
        other = desk_at(tmp_path / "other.db")
        other.pieces.keep(bare, "for the test")
        other.students.choose(other.students.add("A."))
        other.students.add("B.")
        async with opened(other) as stage:
            await stage.press("enter", "l", "o")
            assert stage.room == "AskScreen"
            await stage.press(*"bare.json", "enter")
            assert "Study: written to bare.json without its notes." in stage.text
        assert read_deck(tmp_path / "bare.json") == bare

    play(scene)


def test_after_the_lesson_a_start_is_split_and_another_moved(tmp_path: Path) -> None:
    """7 is split and 8 moved, from the lesson's page; every attempt is kept, and 7's history
    stays with it."""

    async def scene() -> None:
        desk = desk_of_two(tmp_path)
        student, deck = desk.students.find(), desk.store.pieces.deck("deck")
        desk.pieces.set_open(student, deck, [7, 8], opened=True)
        for number in (7, 8):
            desk.attempts.add(desk.views.of(student), deck, number, Outcome.THROUGH)
        log = desk.store.log.attempts(student.id)
        seven, eight = deck.starts[6], deck.starts[7]
        async with opened(desk) as stage:
            await stage.press("l", "p")
            assert "Prepare: Study" in stage.text
            assert "Start 3" in stage.text  # the weakest is looked at first
            await stage.press("n", *"27", "enter")
            while stage.app.screen.start.id != eight.id:  # type: ignore[attr-defined]
                await stage.press("right")
            await stage.press("full_stop", "enter", "escape")
            assert stage.room == "LessonScreen"
        after = desk.store.pieces.deck("deck")
        assert len(after.starts) == len(deck.starts) + 1
        (new,) = (start for start in after.starts if start.id not in {s.id for s in deck.starts})
        assert (new.parent, after.start(seven.id).onset) == (seven.id, seven.onset)
        assert after.start(eight.id).onset == eight.onset + 1
        assert desk.store.log.attempts(student.id) == log
        view = desk.views.of(student)
        for start in (seven, eight):
            assert view.retention(start.id).tries == 1

    play(scene)


# The studio


def test_all_students_by_their_need(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = desk_of_two(tmp_path)
        day = desk.views.of(desk.students.find()).day + timedelta(days=9)
        desk.recitals.set(desk.students.find(), "Concert", day, [ProgrammeItem("deck")])
        async with opened(desk) as stage:
            await stage.press("s", "o")
            assert "2 students" in stage.lines[0]
            text = " ".join(stage.text.split())
            assert "starts likely to fail > me 3 Concert in 9 days: about" in text
            assert "Ready for new starts K. no start is open" in text
            await stage.press("right")
            assert "Concert, 11 Mar, in 9 days" in stage.text
            await stage.press("left", "down", "b")
            assert "Before the lesson: K." in stage.text
            await stage.press("escape")
            assert stage.room == "StudioScreen"
            assert "> K." in stage.text
            await stage.press("enter")
            assert "Today for K." in stage.text

    play(scene)


def test_sixty_students_in_a_narrow_terminal(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        for n in range(2, 61):
            desk.students.add(f"S{n:02}")
        desk.students.choose(desk.store.students.find("me"))
        async with opened(desk, size=(60, 20), ascii=True) as stage:
            await stage.press("s", "o")
            assert "60 students" in stage.lines[0]
            assert "more below" in stage.text
            await stage.press(*["pagedown"] * 6)
            assert "> S60" in stage.text
            assert stage.text.isascii()
            assert max(map(len, stage.lines)) <= 60
            await stage.press("enter")
            assert "Today for S60" in stage.text

    play(scene)


def test_after_a_lesson_drill_the_way_leads_back_to_the_studio(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = desk_of_two(tmp_path)
        async with opened(desk) as stage:
            await stage.press("s", "o")
            assert "me          3  " in stage.text
            await stage.press("down")
            assert "> me" in stage.text
            await stage.press("b", "h", "t", "q", "enter", "escape")
            assert stage.room == "StudioScreen"
            assert "me          3  " in stage.text  # a lesson is no practice
            view = desk.views.of(desk.store.students.find("me"))
            assert [one.judge for one in view.today] == ["teacher"]

    play(scene)


def test_how_far_the_overview_is(tmp_path: Path) -> None:
    """The count stands in the title while it is worked out; leaving stops the work."""

    async def scene() -> None:
        from trainer.ui.screens.studio import Counted

        desk = desk_of_two(tmp_path)
        async with opened(desk) as stage:
            screen = StudioScreen()
            stage.app.push_screen(screen)
            await stage.settle()
            screen.post_message(Counted(12, 60))
            await stage.settle()
            assert "12 of 60" in stage.lines[0]
            await stage.press("escape")
            assert all(worker.is_finished for worker in stage.app.workers)

    play(scene)


def test_a_database_that_cannot_be_opened_again_is_told(tmp_path: Path) -> None:
    async def scene() -> None:
        from trainer.errors import TrainerError

        desk = desk_of_two(tmp_path)

        def beside() -> Desk:
            raise TrainerError("It is in use: close the other copy.")

        desk.beside = beside  # type: ignore[method-assign]
        async with opened(desk) as stage:
            await stage.press("s", "o")
            assert "It is in use: close the other copy." in stage.text
            await stage.press("escape")
            assert stage.room == "StudentsScreen"

    play(scene)


def test_homework_is_one_key_on_the_map_where_several_students_are_known(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        mine = desk.views.of(desk.students.find())
        desk.attempts.add(mine, mine.decks["deck"], 1, Outcome.THROUGH)
        async with opened(desk) as stage:
            await stage.press("m")
            assert "homework" not in stage.text
            await stage.press("h")
            assert not desk.views.of(desk.students.find()).homework
        desk.students.add("A.")
        desk.students.choose(desk.students.find("me"))
        async with opened(desk) as stage:
            await stage.press("m", "right", "h")
            assert "homework until 9 Mar" in stage.text
            await stage.press("right", "right", "h", "h", "escape")
            assert "Homework until Monday 9 March: drill Study 2." in " ".join(stage.text.split())
            assert "Your teacher asks for it until Monday 9 March." in " ".join(stage.text.split())

    play(scene)
