"""Few doors: six keys on the first screen, and More, which finds all the others."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.pieces import Clock, desk_at
from tests.ui.stage import opened, play, small_desk
from tests.ui.test_sizes import two_students
from trainer.ui.keys import EVERYWHERE, KEYS
from trainer.ui.screens.more import LEADS, MoreScreen, found
from trainer.ui.screens.today import TodayScreen

HERE = {
    "choose",
    "ask",
    "more",
    "page",
    "help",
    "heard",
    "heard run",
    "caution",
    "report",
    "adding",
}  # no deed


def test_every_screen_with_something_to_do_is_led_to() -> None:
    assert {key.screen for key in KEYS} - HERE - {EVERYWHERE, "today"} == LEADS.keys()
    assert set(LEADS.values()) <= {key.id for key in KEYS}


@pytest.mark.parametrize("desk", ["none", "one", "two"])
def test_the_first_screen_shows_at_most_six_keys(desk: str, tmp_path: Path) -> None:
    makes = {"none": lambda path: desk_at(path / "a.db", Clock()), "one": small_desk}

    async def scene() -> None:
        made = makes.get(desk, two_students)(tmp_path)
        made.store.settings.set("caution seen", "yes")
        async with opened(made) as stage:
            screen = stage.app.screen
            assert isinstance(screen, TodayScreen)
            strip = [span for line in screen.sheet("strip")._lines for span in line.spans]  # type: ignore[union-attr]
            clicks = [s for s in strip if not isinstance(s.style, str) and s.style.meta]
            assert 3 <= len(clicks) <= 6
            assert "o more" in stage.text

    play(scene)


def test_all_that_has_a_name_is_found_by_it() -> None:
    for key in found(" ", lambda _: True):
        assert key in found(key.words, lambda _: True)
    for typed, wanted in (
        ("merge", "prepare.merge"),
        ("own words", "start.words"),
        ("overview", "students.studio"),
        ("UNDO", "drill.undo"),
        ("days off", "today.settings"),
    ):
        assert wanted in {key.id for key in found(typed, lambda _: True)}


def test_what_only_a_teacher_needs_comes_with_a_second_student(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("o", *"lesson")
            assert "before a lesson" not in stage.text
            await stage.press("escape", "s")
            assert "overview" not in stage.text
            await stage.press("a", "K", "enter")
            assert "overview" in stage.text
            await stage.press("escape", "o", *"lesson")
            assert "before a lesson" in stage.text

    play(scene)


def test_more_does_what_is_chosen_or_goes_where_it_is_done(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            await stage.press("o", *"settings", "enter")
            assert stage.room == "SettingsScreen"
            await stage.press("escape")
            await stage.click("o more")
            await stage.press(*"order")
            await stage.click("Retention: s")
            assert stage.room == "RetentionScreen"
            assert "! s order: Another order" in stage.text
            await stage.press("escape", "o", *"xyzzy", "enter")
            assert isinstance(stage.app.screen, MoreScreen)
            assert "Nothing is called so" in stage.text
            await stage.press("escape")
            assert stage.room == "TodayScreen"

    play(scene)


@pytest.mark.parametrize("size", [(80, 24), (60, 20)])
def test_nothing_that_is_told_is_cut(size: tuple[int, int], tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(two_students(tmp_path), size=size) as stage:
            await stage.press("o")
            assert "…" not in stage.text
            await stage.press(*"start")
            assert "…" not in stage.text

    play(scene)
