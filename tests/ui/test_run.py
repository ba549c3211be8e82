"""The run-through and the rehearsal of slips on the screen, and how one comes to them."""

import asyncio
from pathlib import Path

from msgspec.structs import replace

from tests.ui.stage import Stage, opened, play, small_desk
from trainer.desk import Desk
from trainer.practice.drills import KINDS
from trainer.record.attempt import Attempt, standing
from trainer.ui.screens.slip import SlipScreen


def log(desk: Desk) -> list[tuple[str, str, str]]:
    """What stands: the start, the outcome, and where it went on."""
    student = desk.students.find()
    found: tuple[Attempt, ...] = standing(
        desk.store.log.attempts(student.id), desk.store.log.retractions(student.id)
    )
    return [(one.start, one.outcome.value, one.elsewhere) for one in found]


def drill_number(name: str) -> str:
    """The number of a kind in the list of other drills."""
    return str([*KINDS, "run-through", "slip"].index(name) + 1)


def test_a_slip_is_in_the_log_at_once_and_told_afterwards(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("d", drill_number("run-through"), "enter")
            assert stage.room == "RunScreen"
            stage.clock.later(seconds=40)
            await stage.press("s")
            assert log(desk) == [("deck-s1", "broke off", "")]
            stage.clock.later(seconds=40)
            await stage.press("s", "enter")
            assert "2 slips." in stage.text
            await stage.press("up", "w", "7", "colon", "2", "enter")
            assert "where did you go on?" in stage.text
            await stage.press("enter")
            assert "b. 7, beat 2; went on at start 3" in stage.text
            assert log(desk) == [
                ("deck-s2", "broke off", "deck-s3"),
                ("deck-s1", "broke off", ""),
                ("deck-s1", "stopped", ""),
            ]
            await stage.press("enter")
            assert stage.room == "TodayScreen"

    play(scene)


def test_without_a_slip_it_is_through_and_can_be_taken_back(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("d", drill_number("run-through"), "enter", "enter")
            assert "Through, without a slip." in stage.text
            assert log(desk) == [("deck-s1", "through", "")]
            await stage.press("u")
            assert log(desk) == []
            await stage.press("q")
            assert "Not to the end." in stage.text
            assert log(desk) == []

    play(scene)


async def _interrupted(stage: Stage) -> SlipScreen:
    """A rehearsal at its first interruption."""
    await stage.press("d", drill_number("slip"), "enter")
    screen = stage.app.screen
    assert isinstance(screen, SlipScreen)
    await _again(stage, screen)
    return screen


async def _again(stage: Stage, screen: SlipScreen) -> None:
    await stage.press("enter")
    assert "Play." in stage.text
    screen.interrupt()
    await stage.settle()
    assert "STOP." in stage.text


def test_one_key_says_where_it_went_on(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            screen = await _interrupted(stage)
            first = screen.rehearsal.calls[0]
            await stage.press("t")
            assert log(desk) == [(first.start, "through", first.following[0])]
            await _again(stage, screen)
            await stage.press("e", "escape")
            assert "STOP." in stage.text
            await stage.press("e", "enter")
            assert [outcome for _, outcome, _ in log(desk)] == ["through", "stopped"]
            await _again(stage, screen)
            await stage.press("n", "u", "q")
            assert "The next start was reached 1 of 2 times." in stage.text
            await stage.press("enter")
            assert stage.room == "TodayScreen"
        assert len(log(desk)) == 2

    play(scene)


def test_it_interrupts_by_itself(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("d", drill_number("slip"), "enter")
            screen = stage.app.screen
            assert isinstance(screen, SlipScreen)
            made = screen.rehearsal
            soon = tuple(replace(call, wait=0.01) for call in made.calls)
            screen.rehearsal = replace(made, calls=soon)
            await stage.press("enter")
            async with asyncio.timeout(10):
                while "STOP." not in stage.text:
                    await stage.pilot.pause()
            assert log(desk) == []

    play(scene)


def test_one_that_is_stopped_before_interrupts_no_more(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            await stage.press("d", drill_number("slip"), "enter", "enter")
            screen = stage.app.screen
            assert isinstance(screen, SlipScreen)
            assert screen.timer is not None
            await stage.press("q")
            assert screen.timer is None
            assert "Nothing was tried." in stage.text

    play(scene)


def test_each_drill_kind_can_be_begun_from_today(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            for name, kind in KINDS.items():
                await stage.press("d", drill_number(name), "enter")
                if stage.room == "DrillScreen":
                    assert kind.title in stage.text
                    assert kind.says[:30] in stage.text
                    await stage.press("q", "enter")
                else:
                    assert "nothing to call" in stage.text
                    assert name == "look-alikes"  # the piece has none

    play(scene)


def test_a_child_is_offered_the_one_drill_unless_a_setting_says_more(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        child = desk.students.add("K.", level="child")
        desk.pieces.set_open(child, desk.store.pieces.deck("deck"), [1, 2], opened=True)
        async with opened(desk, student="K.") as stage:
            await stage.press("o")
            for words in ("other drills", "forecasts"):
                assert words not in stage.text
            await stage.press("escape")
            await stage.press("d", "f")
            assert stage.room == "TodayScreen"
        desk.settings.change(child, "drills", "yes")
        async with opened(desk, student="K.") as stage:
            await stage.press("o")
            assert "other drills" in stage.text
            await stage.press("escape", "d")
            assert stage.room == "ChooseScreen"

    play(scene)
