"""A start opened on the screen."""

import re
from datetime import timedelta
from pathlib import Path

import pytest

from tests.pieces import Clock
from tests.ui.stage import Stage, opened, play, small_desk
from trainer.desk import Desk
from trainer.record.attempt import Outcome
from trainer.reports import start as report
from trainer.ui.screens.map import MapScreen


def tried(folder: Path) -> Desk:
    """A desk whose starts 1 to 3 were tried on several days."""
    desk = small_desk(folder)
    student = desk.students.find()
    clock = desk.clock
    assert isinstance(clock, Clock)
    clock.now -= timedelta(days=12)
    for outcomes in ("tnt", "tbt", "tst", "tlt"):
        for number, letter in enumerate(outcomes, 1):
            outcome = next(one for one in Outcome if one.value[0] == letter)
            desk.attempts.add(
                desk.views.of(student), desk.store.pieces.deck("deck"), number, outcome
            )
            clock.later(minutes=30)
        clock.later(days=3)
    return desk


def chosen(stage: Stage) -> str:
    assert isinstance(stage.app.screen, MapScreen)
    return stage.app.screen.start.id


def test_opened_from_the_map_and_back_to_the_one_looked_at_last(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(tried(tmp_path)) as stage:
            await stage.press("m", "enter")
            assert stage.room == "StartScreen"
            assert stage.lines[0].strip().startswith("Start 1, b. 1")
            await stage.press("right", "right", "left")
            assert stage.lines[0].strip().startswith("Start 2, b. 5")
            assert "broke off" in stage.text
            await stage.press("escape")
            assert chosen(stage) == "deck-s2"

    play(scene)


def test_at_both_ends_it_stays(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(tried(tmp_path)) as stage:
            await stage.press("m", "enter", "left")
            assert "Start 1," in stage.lines[0]
            await stage.press(*["right"] * 9)
            assert "Start 8," in stage.lines[0]

    play(scene)


def test_scrolling_reaches_everything_and_another_start_begins_at_its_top(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(tried(tmp_path), size=(60, 20)) as stage:
            await stage.press("m", "enter")
            top = stage.lines[2]
            seen = set(stage.lines)
            for _ in range(12):
                await stage.press("down", "down", "down", "pagedown")
                seen |= set(stage.lines)
            for title in ("Cold attempts", "The music", "Attempt by attempt", "Why it begins here"):
                assert any(line.strip().startswith(title) for line in seen), title
            assert "more below" not in stage.text
            await stage.press("right", "left")
            assert stage.lines[2] == top

    play(scene)


def test_a_key_works_out_no_more_than_the_start_it_comes_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    about, ways_back = report.about, report.ways_back

    def counted(view, deck, start, catches=None):  # type: ignore[no-untyped-def]
        asked.append(start)
        return about(view, deck, start, catches)

    def ways(view, deck):  # type: ignore[no-untyped-def]
        asked.append("ways")
        return ways_back(view, deck)

    monkeypatch.setattr(report, "about", counted)
    monkeypatch.setattr(report, "ways_back", ways)

    async def scene() -> None:
        async with opened(tried(tmp_path)) as stage:
            await stage.press("m", "enter", "down", "down", "up", "pagedown")
            await stage.press("right", "down")
            assert asked == ["ways", "deck-s1", "deck-s2"]

    play(scene)


def test_map_and_start_side_by_side_where_it_is_wide(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(tried(tmp_path), size=(110, 30)) as stage:
            await stage.press("m", "enter", "right")
            assert any("▶2" in line for line in stage.lines)
            assert any("▶ here" in line for line in stage.lines)
            assert any(line.rstrip().endswith("Cold attempts") for line in stage.lines)
        async with opened(tried(tmp_path / "other"), size=(109, 30)) as stage:
            await stage.press("m", "enter", "right")
            assert not any("▶" in line for line in stage.lines)

    (tmp_path / "other").mkdir()
    play(scene)


@pytest.mark.parametrize("level", ["adult", "child"])
def test_a_child_sees_no_chances(level: str, tmp_path: Path) -> None:
    async def scene() -> None:
        desk = tried(tmp_path)
        desk.settings.change(desk.students.find(), "level", level)
        async with opened(desk, size=(80, 70)) as stage:
            await stage.press("m", "enter")
            assert "Cold attempts" in stage.text
            assert bool(re.search(r"\d%|\d of \d", stage.text)) == (level == "adult")

    play(scene)


def test_the_page_alone_and_back(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(tried(tmp_path)) as stage:
            await stage.press("m", "enter", "right", "v")
            assert stage.room == "PageScreen"
            assert "Start 2" in stage.lines[0]
            await stage.press("escape")
            assert stage.room == "StartScreen"

    play(scene)
