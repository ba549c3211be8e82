"""By mouse or by finger: what stands on the strip can be clicked."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from textual.binding import Binding
from textual.content import Content
from textual.events import MouseEvent, MouseScrollDown, MouseScrollUp

from tests.pieces import Clock, desk_at, piece_of, tune
from tests.ui.stage import Stage, opened, play, small_desk
from trainer.record.attempt import Outcome
from trainer.ui.keys import KEYS
from trainer.ui.room import strip


def test_a_drill_by_clicks_alone(tmp_path: Path) -> None:
    """Begin, an outcome, end: each by a click on its words at the foot of the screen."""

    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.click("Enter begin")
            assert stage.room == "DrillScreen"
            await stage.click("t through")
            await stage.click("b broke off")
            made = desk.views.of(desk.students.find()).attempts
            assert [one.outcome for one in made] == [Outcome.THROUGH, Outcome.BROKE_OFF]
            await stage.click("q ")
            await stage.click("Enter go on")
            assert stage.room == "TodayScreen"
            await stage.click("? help")
            assert stage.room == "HelpScreen"

    play(scene)


@pytest.mark.parametrize("screen", sorted({key.screen for key in KEYS}))
def test_every_key_of_every_strip_does_by_click_what_it_does_by_key(screen: str) -> None:
    keys = tuple(key for key in KEYS if key.screen == screen and key.row)
    clicks = [
        (line.plain[span.start : span.end], span.style.meta["@click"])
        for line in strip(keys, 60)
        if isinstance(line, Content)
        for span in line.spans
        if not isinstance(span.style, str) and span.style.meta
    ]
    assert len(clicks) == len(keys)
    for key in keys:
        binding = key.bindings()[0]
        assert isinstance(binding, Binding)
        action = binding.action if binding.action.startswith("app.") else f"screen.{binding.action}"
        assert (f"{key.face} {key.words}", action) in clicks


@pytest.mark.parametrize("way", ["click", "list"])
def test_a_row_that_is_clicked_is_taken(way: str, tmp_path: Path) -> None:
    """Elsewhere, and at which start: one click on each row; so with the list of outcomes."""

    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.click("Enter begin")
            called = stage.app.screen.session.call  # type: ignore[attr-defined]
            if way == "list":
                await stage.click("→ as a list")
                await stage.click("elsewhere: ")
            else:
                await stage.click("e elsewhere")
            other = next(n for n in (2, 3) if n != called.number)
            await stage.click(f"  {other}  ")
            (made,) = desk.views.of(desk.students.find()).attempts
            assert made.outcome is Outcome.ELSEWHERE
            assert made.elsewhere == desk.store.pieces.deck("deck").starts[other - 1].id

    play(scene)


def test_a_click_marks_a_row_and_another_one_takes_it(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("t")
            await stage.click("words ")
            assert "> words" in stage.text
            assert stage.room == "SettingsScreen"
            await stage.click("> words")
            await stage.click("american")
            assert desk.settings.get(desk.students.find(), "words") == "american"
            await stage.press("escape", "r")
            await stage.click("m. 9")
            assert re.search(">  +3  m. 9", stage.text)
            await stage.click(">")
            assert stage.room == "MapScreen"

    play(scene)


@pytest.mark.parametrize("size", [(80, 24), (60, 20)])
@pytest.mark.parametrize("ascii", [False, True])
def test_a_long_view_is_scrolled_by_wheel_and_by_tap(
    size: tuple[int, int], ascii: bool, tmp_path: Path
) -> None:
    """To its last line and back, with nothing left out on the way."""

    async def scene() -> None:
        async with opened(small_desk(tmp_path), size=size, ascii=ascii) as stage:
            await stage.press("question_mark")
            first, seen = stage.text, set(stage.lines)
            assert "more below" in stage.text
            assert "more above" not in stage.text
            while "more below" in stage.text:
                before = stage.text
                await wheel(stage, MouseScrollDown)
                assert stage.text != before
                seen |= set(stage.lines)
            told = stage.app.screen.lines(size[0] - 4)  # type: ignore[attr-defined]
            assert {str(line).strip() for line in told if not ascii or str(line).isascii()} <= {
                line.strip() for line in seen
            }
            for _ in told:
                await wheel(stage, MouseScrollUp)
            assert stage.text == first
            await stage.click("more below")
            assert "more above" in stage.text
            await stage.click("more above")
            assert stage.text == first

    play(scene)


async def wheel(stage: Stage, way: type[MouseEvent]) -> None:
    """Turn the wheel by one notch in the middle of the screen."""
    wide, high = stage.app.size
    stage.app.post_message(
        way(None, wide // 2, high // 2, 0, 0, 0, False, False, False, wide // 2, high // 2)
    )
    await stage.settle()


def test_the_wheel_goes_through_a_list_and_over_a_map(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = desk_at(tmp_path / "a.db", Clock())
        desk.store.pieces.add(piece_of(tune(160), range(0, 480, 12)), "test")
        student = desk.students.find()
        desk.store.settings.set("caution seen", "yes")
        desk.pieces.set_open(student, desk.store.pieces.deck("deck"), range(1, 41), opened=True)
        async with opened(desk) as stage:
            await stage.press("r")
            while "more below" in stage.text:
                before = stage.text
                await wheel(stage, MouseScrollDown)
                assert stage.text != before
            assert "b. 157" in stage.text
            await stage.press("escape", "m")
            await wheel(stage, MouseScrollDown)
            assert "Start 2," in stage.text

    play(scene)


@pytest.mark.parametrize("keys", ["99", "19", "0"])
def test_a_number_that_is_not_in_the_list_is_said_and_never_taken_for_another(
    keys: str, tmp_path: Path
) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("enter", "e", *keys, "enter", "enter")
            assert stage.room == "ChooseScreen"
            assert f"{keys} is not in this list" in stage.text
            assert desk.views.of(desk.students.find()).attempts == ()
            await stage.press("3", "enter")  # a new number begins
            (made,) = desk.views.of(desk.students.find()).attempts
            assert made.elsewhere == desk.store.pieces.deck("deck").starts[2].id

    play(scene)


@pytest.mark.parametrize("way", [["t", "enter"], ["s", "a"], ["e", "n"], ["m", "e", "n"]])
def test_an_empty_answer_is_said_where_it_means_nothing(way: list[str], tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            await stage.press(*way)
            assert stage.room == "AskScreen"
            await stage.press("space", "enter")
            assert stage.room == "AskScreen"
            assert "Nothing was typed" in stage.text
            await stage.press("escape")
            assert stage.room != "AskScreen"

    play(scene)


def test_ctrl_c_copies_what_is_marked_and_leaves_where_nothing_is(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            await stage.press("question_mark")
            await stage.pilot.mouse_down(offset=(2, 2))
            await stage.pilot.hover(offset=(30, 3))
            await stage.pilot.mouse_up(offset=(30, 3))
            await stage.settle()
            await stage.press("ctrl+c")
            assert "Enter" in stage.app.clipboard
            assert stage.app.is_running
            assert "copied" in stage.text
            await stage.press("ctrl+c")
            assert stage.app.return_code == 0

    play(scene)
