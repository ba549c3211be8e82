"""Settings: each can be read, written and read again; what they change is seen at once."""

from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.ui.stage import opened, play, small_desk
from trainer.record.people import DaysOff, Student
from trainer.reports import settings
from trainer.ui.theme import DARK, GREY, LIGHT

MINUTES = st.integers(0, 960).map(lambda quarters: quarters / 4)
WEEKS = st.just(()) | st.tuples(*[MINUTES] * 7)
DAYS = st.dates(date(2026, 1, 1), date(2027, 1, 1))
SPANS = st.builds(lambda day, more: DaysOff(day, day + timedelta(days=more)), DAYS,
                  st.integers(0, 30))  # fmt: skip
STUDENTS = st.builds(
    Student, st.just("p"), st.just("P."), minutes=MINUTES.filter(bool), week=WEEKS,
    off=st.lists(SPANS, max_size=4).map(tuple),
)  # fmt: skip


@given(STUDENTS)
def test_minutes_and_days_off_are_read_as_they_are_written(student: Student) -> None:
    base = Student("p", "P.")
    assert settings.with_off(base, settings.off_text(student)).off == tuple(
        sorted(student.off, key=lambda off: (off.first, off.last))
    )
    if student.minutes >= settings.LEAST:
        again = settings.with_minutes(base, settings.minutes_text(student))
        for n in range(7):
            day = date(2026, 3, 2) + timedelta(days=n)
            assert again.minutes_on(day) == (student.week[n] if student.week else student.minutes)


@pytest.mark.parametrize("name", settings.SETTINGS)
def test_every_value_can_be_set_and_is_told(name: str, tmp_path: Path) -> None:
    desk = small_desk(tmp_path)
    one = settings.setting(name)
    student = desk.students.find()
    for value in one.values or (desk.settings.get(student, name),):
        student = desk.settings.change(student, name, value)
        assert desk.settings.get(desk.students.find(), name) == value
    assert settings.setting(one.title.upper()) is one


def test_every_setting_stands_under_one_heading() -> None:
    named = [name for names in settings.GROUPS.values() for name in names]
    assert sorted(named) == sorted(settings.SETTINGS)
    shown = [one.name for group in settings.grouped(instrument=False).values() for one in group]
    assert set(named) - set(shown) == set(settings.OWNERS)


def test_an_instrument_brings_its_settings_and_the_choices_are_shown(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, size=(120, 40)) as stage:
            await stage.press("t")
            assert "[british]  american" in stage.text
            assert "one hand alone" not in stage.text
        desk.settings.change(desk.students.find(), "instrument", "any")
        async with opened(desk, size=(120, 40)) as stage:
            await stage.press("t")
            assert "one hand alone" in stage.text

    play(scene)


def test_the_themes_are_those_of_the_screens() -> None:
    assert settings.THEMES == {"dark": DARK, "light": LIGHT, "grey": GREY}


def test_another_student_keeps_their_own(tmp_path: Path) -> None:
    desk = small_desk(tmp_path)
    other = desk.students.add("K.")
    desk.settings.change(desk.store.students.find("me"), "names", "german")
    assert desk.views.of(desk.store.students.find("me")).names == "german"
    assert desk.views.of(other).names == "english"


def test_changing_what_is_chosen_and_what_is_typed(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("t", "enter", *"12", "comma", "space", *"Sat", "space", "0")
            await stage.press("enter")
            assert "12, Sat 0" in stage.text
            assert desk.students.find().week == (12, 12, 12, 12, 12, 0, 12)
            assert stage.app.view.student == desk.students.find()
            await stage.press("down", "enter", *"soon", "enter")
            assert "is not a date" in stage.text
            await stage.press("escape")
            for _ in range(6):
                await stage.press("down")
            await stage.press("enter", "2", "enter")
            assert stage.app.look(60).names == "german"

    play(scene)


def test_american_words_reach_the_call_and_the_lists(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("t", *["down"] * 8, "enter", "down", "enter", "escape", "enter")
            assert stage.room == "DrillScreen"
            assert " m. " in stage.text
            assert " b. " not in stage.text

    play(scene)


def test_the_colours_change_at_once_for_everyone(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("t", *["down"] * 9, "enter", "down", "enter")
            assert stage.app.theme == LIGHT
        async with opened(desk) as stage:
            assert stage.app.theme == LIGHT

    play(scene)
