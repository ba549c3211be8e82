"""A clock that is wrong is said on the first screen and before anything is recorded."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.command import Run, runner
from tests.pieces import NOON, Clock
from tests.ui.stage import opened, play, small_desk
from trainer.cli import common
from trainer.desk import Desk
from trainer.record.attempt import Attempt, Outcome
from trainer.record.log import Written
from trainer.reports.clock import MARGIN, warning

TOLD = "The newest attempt is dated 7 March 2026, 12:00, but this computer's clock says"


def desk_from_the_future(folder: Path) -> Desk:
    """A desk with a try that was recorded while the clock was five days ahead."""
    desk = small_desk(folder)
    assert isinstance(desk.clock, Clock)
    desk.clock.now = NOON + timedelta(days=5)
    desk.attempts.add(
        desk.views.of(desk.students.find()), desk.store.pieces.deck("deck"), 2, Outcome.THROUGH
    )
    desk.clock.now = NOON
    return desk


@pytest.mark.parametrize("keys", [[], ["enter"], ["d", "7", "enter"], ["d", "8", "enter"]])
@pytest.mark.parametrize("size", [(80, 24), (60, 20)])
def test_on_the_screens(keys: list[str], size: tuple[int, int], tmp_path: Path) -> None:
    async def scene() -> None:
        desk = desk_from_the_future(tmp_path)
        desk.settings.change(desk.students.find(), "drills", "yes")
        async with opened(desk, size=size) as stage:
            await stage.press(*keys)
            told = " ".join(stage.text.split())
            assert TOLD in told
            assert "set the clock right before you practise" in told
            assert "`trainer take-back` takes it back." in told
            if keys == ["enter"]:
                await stage.press("t")
                assert TOLD not in " ".join(stage.text.split())

    play(scene)


def test_the_drill_that_is_begun_at_once(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(desk_from_the_future(tmp_path), drill=True) as stage:
            assert stage.room == "DrillScreen"
            assert TOLD in " ".join(stage.text.split())

    play(scene)


def test_a_right_clock_is_not_spoken_of(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        desk.attempts.add(
            desk.views.of(desk.students.find()), desk.store.pieces.deck("deck"), 2, Outcome.THROUGH
        )
        async with opened(desk) as stage:
            assert "clock" not in stage.text
            await stage.press("enter")
            assert "clock" not in stage.text

    play(scene)


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    desk_from_the_future(tmp_path).store.close()
    (tmp_path / "a.db").rename(tmp_path / "t.db")
    monkeypatch.setattr(common, "local_now", lambda: NOON)
    return runner(tmp_path, monkeypatch, capsys)


@pytest.mark.parametrize(
    ("words", "typed"),
    [
        (("today",), ""),
        (("app",), ""),
        (("drill", "--plain"), "t\nq\n"),
        (("run", 1), "\n"),
        (("rehearse", 1), "q\n"),
        (("record", 1, 3, "through"), ""),
    ],
)
def test_on_the_command_line(run: Run, words: tuple[object, ...], typed: str) -> None:
    code, out, err = run(*words, typed=typed)
    assert code == 0
    assert TOLD in " ".join((out + err).split())
    assert run("take-back")[0] == 0
    if words[0] in ("today", "app", "rehearse"):
        code, out, err = run(*words, typed=typed)
        assert "clock" not in out + err


def one(at: datetime) -> Attempt:
    return Attempt("a", "p", "d", "r", "s", "m", at, at.date(), Outcome.THROUGH)


@given(st.timedeltas(timedelta(days=-400), timedelta(days=400)))
def test_just_what_lies_ahead(span: timedelta) -> None:
    assert bool(warning(Written([one(NOON + span)]), NOON)) == (span > MARGIN)


def test_the_instant_counts_and_not_the_place() -> None:
    """An attempt made a minute ago eight hours to the east lies not ahead."""
    from datetime import timezone

    east = timezone(timedelta(hours=8))
    made = NOON.astimezone(east) - timedelta(minutes=1)
    assert not warning(Written([one(made)]), NOON.astimezone(UTC))
