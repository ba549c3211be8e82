"""What holds, on the screen: its orders, its choice, its log; and Today after a drill."""

from datetime import timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.pieces import piece_of, tune
from tests.ui.stage import Size, Stage, opened, play, small_desk
from trainer.desk import Desk
from trainer.draw.words import BAND_SIGNS, BANDS
from trainer.record.attempt import Outcome
from trainer.record.people import Level
from trainer.reports.retention import COLUMNS, report

SIZES: list[Size] = [(60, 20), (80, 24), (120, 40)]


def two_pieces(folder: Path, level: Level = "adult") -> Desk:
    """Start 3 of the first piece failed on five days and start 1 held; nothing else was tried."""
    desk = small_desk(folder, title="A Title that is Rather Long for a Study")
    desk.store.pieces.add(piece_of(tune(8, title="Air"), range(0, 24, 12), "other"), "test")
    student = replace(desk.students.find(), level=level)
    desk.store.students.save(student)
    desk.pieces.set_open(student, desk.store.pieces.deck("other"), [1, 2], opened=True)
    for _ in range(5):
        for number, outcome in ((1, Outcome.THROUGH), (3, Outcome.NOTHING)):
            desk.clock.now += timedelta(hours=1)  # type: ignore[attr-defined]
            desk.attempts.add(
                desk.views.of(student), desk.store.pieces.deck("deck"), number, outcome
            )
        desk.clock.now += timedelta(days=1)  # type: ignore[attr-defined]
    return desk


def marked(stage: Stage) -> str:
    return next(line for line in stage.lines if line.startswith("  > "))


@pytest.mark.parametrize("size", SIZES)
def test_another_order_keeps_the_mark_on_its_start(size: Size, tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(two_pieces(tmp_path), size=size) as stage:
            await stage.press("r")
            assert "weakest first" in stage.lines[0]
            assert " 3 " in marked(stage)
            await stage.press("s")
            assert "in score order" in stage.lines[0]
            assert " 3 " in marked(stage)
            names = [line.strip() for line in stage.lines]
            assert names.count("A Title that is Rather Long for a Study") == 1
            await stage.press("up", "up")
            assert " 1  b. 1 " in marked(stage)
            await stage.press("s", "s", "s")
            assert "weakest first" in stage.lines[0]
            assert " 1  b. 1 " in marked(stage)

    play(scene)


def test_only_one_band_then_all_again(tmp_path: Path) -> None:
    """Each band in turn shows its starts, and one without any says so."""

    async def scene() -> None:
        desk = two_pieces(tmp_path)
        stands = [
            row[COLUMNS.index("stands")] for row in report(desk.views.of(desk.students.find())).rows
        ]
        async with opened(desk) as stage:
            await stage.press("r")
            for band in BANDS:
                await stage.press("b")
                assert f"only {band}" in stage.lines[0]
                count = stands.count(band)
                if not count:
                    assert f"There is no start of this kind: {band}." in stage.text
                    await stage.press("enter", "down", "s", "s", "s", "s")  # nothing breaks
                else:
                    sign = f"  {BAND_SIGNS[band]}  "
                    assert sum(sign in f"{line}  " for line in stage.lines[2:16]) == count
            await stage.press("b")
            assert "only" not in stage.lines[0]

    play(scene)


def test_one_piece_is_named_in_the_title(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(two_pieces(tmp_path)) as stage:
            await stage.press("r", "p", "2", "enter")
            assert "Retention for me, Air, weakest first" in stage.lines[0]

    play(scene)


@pytest.mark.parametrize("size", SIZES)
def test_advanced_sees_the_log(size: Size, tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(two_pieces(tmp_path, "advanced"), size=size) as stage:
            await stage.press("r")
            assert "(5)" in stage.text  # the tries that the chance rests on
            assert "l log" in stage.text
            await stage.press("l")
            assert stage.room == "LogScreen"
            assert stage.lines[0].startswith("  Attempts, start 3, A Title")
            assert "nothing" in stage.text
            assert "through" not in stage.text
            days = [line for line in stage.lines if line.endswith("2026")]
            assert days[0].strip() == "Fri 6 Mar 2026"
            await stage.press("a")
            assert "all pieces" in stage.lines[0]
            assert "through" in stage.text
            first = stage.text
            await stage.press("pagedown", "pagedown", "pageup", "pageup", "a", "a")
            assert stage.text == first
            await stage.press("l")
            assert stage.room == "RetentionScreen"

    play(scene)


@pytest.mark.parametrize("level", ["child", "adult"])
def test_others_are_not_shown_the_log(level: Level, tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(two_pieces(tmp_path, level)) as stage:
            await stage.press("r")
            assert "l log" not in stage.text
            await stage.press("l")
            assert stage.room == "RetentionScreen"
            assert "(5)" not in stage.text

    play(scene)


def test_the_log_of_a_start_without_a_try(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(two_pieces(tmp_path, "advanced")) as stage:
            await stage.press("r", "down", "down", "l")
            assert "This start has not been tried yet." in stage.text

    play(scene)


def test_today_begins_at_its_top_after_a_drill(tmp_path: Path) -> None:
    """What was scrolled away stands for another day than the one after the drill."""

    async def scene() -> None:
        desk = small_desk(tmp_path)
        for n in range(14):
            title = f"Piece {n} with a Title that Takes Room"
            desk.store.pieces.add(piece_of(tune(8, title=title), [0, 12], f"p{n}"), "test")
            desk.pieces.set_open(
                desk.students.find(), desk.store.pieces.deck(f"p{n}"), [1, 2], opened=True
            )
        student = replace(desk.students.find(), minutes=30.0)
        desk.store.students.save(student)
        async with opened(desk, size=(60, 20)) as stage:
            assert "begins." in stage.text
            await stage.press(*["down"] * 5)
            assert "begins." not in stage.text
            await stage.press("question_mark", "escape")
            assert "begins." not in stage.text  # the same day: it stays where it was
            await stage.press("enter", "t", "q", "enter")
            assert stage.room == "TodayScreen"
            assert "begins." in stage.text
            assert "1 attempt so far today." in stage.text

    play(scene)
