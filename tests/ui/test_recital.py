"""Recital and forecasts: the answer first, no figure a child should not see."""

from datetime import timedelta
from pathlib import Path

import pytest

from tests.pieces import named
from tests.ui.stage import Size, opened, play, small_desk
from tests.ui.test_looks import SIZES
from trainer.desk import Desk
from trainer.record.attempt import Outcome
from trainer.record.people import DaysOff, ProgrammeItem, Recital
from trainer.reports import countdown
from trainer.reports.drilled import report


def before_a_concert(folder: Path, *, days: int = 12, level: str = "adult") -> Desk:
    """A desk after a week of tries, with a concert so many days ahead."""
    desk = small_desk(folder)
    student = desk.settings.change(desk.students.find(), "level", level)
    for back, outcomes in ((6, "tnttst"), (4, "tntbst"), (1, "tntttt")):
        desk.clock.later(days=-back)  # type: ignore[attr-defined]
        for number, letter in enumerate(outcomes, 1):
            outcome = next(one for one in Outcome if one.value[0] == letter)
            desk.attempts.add(
                desk.views.of(student), desk.store.pieces.deck("deck"), number, outcome
            )
        desk.clock.later(days=back)  # type: ignore[attr-defined]
    day = desk.views.of(student).day + timedelta(days=days)
    desk.store.recitals.save(Recital("r", student.id, "Concert", day, (ProgrammeItem("deck"),)))
    return desk


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_four_pages_each_with_its_question(size: Size, tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(before_a_concert(tmp_path), size=size) as stage:
            await stage.press("e")
            told = " ".join(stage.text.split())
            assert "in 12 days" in told
            assert "[programme]" in told
            assert "starts will hold on the recital day" in told
            await stage.press("right")
            assert "Four weeks before" in stage.text
            await stage.press("right")
            assert "go on at" in stage.text
            await stage.press("right")
            assert "[last days]" in stage.text
            await stage.press("right")
            assert "[programme]" in stage.text
            await stage.press("pagedown", "pagedown")
            assert "Weakest" in stage.text or "nerves" in stage.text
            await stage.press("escape")
            assert stage.room == "TodayScreen"

    play(scene)


def test_a_child_sees_a_map_and_the_way_back_without_figures(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(before_a_concert(tmp_path, level="child")) as stage:
            await stage.press("e")
            assert "If you slip" in stage.text
            for _ in range(2):
                for words in ("%", "chance", "lost  ", "stages", "last days", "foretold"):
                    assert words not in stage.text.replace("bars lost", "")
                await stage.press("right")

    play(scene)


def test_without_a_recital_it_says_how_to_set_one(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            await stage.press("e")
            assert "No recital is set." in stage.text
            await stage.press("right", "f", "escape")
            assert stage.room == "TodayScreen"

    play(scene)


def test_a_recital_is_set_with_the_keyboard(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("e", "n", *"Fair", "enter", *"soon", "enter")
            assert "is not a date" in stage.text
            await stage.press(*["backspace"] * 4, *"2026")
            await stage.press("minus", *"03", "minus", *"20", "enter", "7", "enter")
            assert "are not numbers of pieces" in stage.text
            await stage.press("backspace", "1", "enter")
            assert "Fair" in stage.text
            assert "in 18 days" in stage.text
            await stage.press("n", *"Fair", "enter")
            await stage.press(*"2026", "minus", *"03", "minus", *"21", "enter", "1", "enter")
            assert "in 19 days" in stage.text
        (recital,) = desk.store.recitals.of(desk.students.find().id)
        assert recital.programme == (ProgrammeItem("deck"),)

    play(scene)


@pytest.mark.parametrize("days", [0, 1, 12, 30, 119])
def test_the_last_two_weeks_day_by_day(days: int, tmp_path: Path) -> None:
    desk = before_a_concert(tmp_path, days=days)
    view = desk.views.of(desk.students.find())
    table = countdown.last_days(view)
    assert len(table.rows) == min(days, countdown.LAST) + 1
    assert table.rows[-1][-1] == view.recital.day if view.recital else False
    assert "warm-up" in " ".join(table.notes)
    for called in named(table):
        told = str(called["called"]).removeprefix("Study: ")
        assert len(_numbers(told)) == called["starts"]


def _numbers(text: str) -> list[int]:
    found: list[int] = []
    for span in text.split():
        first, _, last = span.partition("-")
        found += range(int(first), int(last or first) + 1)
    return found


def test_a_day_off_calls_nothing(tmp_path: Path) -> None:
    desk = before_a_concert(tmp_path)
    day = desk.views.of(desk.students.find()).day + timedelta(days=3)
    student = desk.settings.change(desk.students.find(), "off", f"{day}")
    assert student.off == (DaysOff(day, day),)
    rows = countdown.last_days(desk.views.of(student)).rows
    assert [row[2] for row in rows if row[-1] == day] == [0]
    assert any(row[2] for row in rows)


def test_of_a_recital_far_off_nothing_is_foretold(tmp_path: Path) -> None:
    desk = before_a_concert(tmp_path, days=countdown.FARTHEST + 1)
    assert countdown.last_days(desk.views.of(desk.students.find())).rows == ()


def test_the_forecasts_stand_beside_what_came(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(before_a_concert(tmp_path)) as stage:
            await stage.press("f")
            assert "How accurate the forecasts" in stage.text
            assert "forecast  attempts  average" in stage.text
            await stage.press("escape")
            assert stage.room == "TodayScreen"

    play(scene)


def test_three_fails_running_say_take_it_apart(tmp_path: Path) -> None:
    """Start 2 has failed three times, start 1 has not: the drill's end says so of the one."""
    desk = before_a_concert(tmp_path)
    view = desk.views.of(desk.students.find())
    tries = [one for one in view.attempts if one.start in ("deck-s1", "deck-s2")]
    (note,) = report(view, tries).notes
    assert "times in a row: Study 2. Take it apart" in note
    desk.attempts.add(view, desk.store.pieces.deck("deck"), 2, Outcome.THROUGH)
    assert report(desk.views.of(desk.students.find()), tries).notes == ()


def test_the_drill_says_so_at_its_end_above_its_list(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = before_a_concert(tmp_path)
        async with opened(desk, size=(60, 20), drill=True) as stage:
            for _ in range(8):
                await stage.press("n")
            await stage.press("q")
            told = " ".join(stage.text.split())
            assert "Failed three times in a row: Study " in told

    play(scene)
