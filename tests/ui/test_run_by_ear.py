"""A run-through by ear on its screen: the slips and the end log themselves."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.listen.build import PIECE, chords, played
from tests.ui.stage import Stage, opened, play
from tests.ui.test_by_ear import Player, ear_desk, tries, words
from trainer.desk.following import Following
from trainer.listen.follow import Follower
from trainer.listen.model import Heard
from trainer.record.attempt import Outcome
from trainer.reports.slips import report
from trainer.ui.screens.run import RunScreen

PACE = 0.5  # seconds a quarter, as `played` does
S2, S3, S4 = (PIECE.deck.starts[n].id for n in (1, 2, 3))


class Runner(Player):
    async def looked(self) -> None:
        assert self.stage
        screen = self.stage.app.screen
        if isinstance(screen, RunScreen) and screen._by_ear:
            screen._by_ear.look()
        await self.stage.settle()


def stretch(first: int, last: int, at: float = 1.0) -> list[Heard]:
    return played(chords(first, last), at=at)


@pytest.fixture
def scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    def run(act: Callable[[Stage, Runner], object]) -> None:
        async def inner() -> None:
            desk, player = ear_desk(tmp_path), Runner()
            ear = Following(player.port, PIECE, clock=lambda: player.now)
            monkeypatch.setattr(desk.instruments, "following", lambda *_: ear)
            async with opened(desk) as stage:
                player.stage = stage
                await stage.press("d", "7", "enter")
                await player.looked()
                assert stage.room == "RunScreen"
                await act(stage, player)  # type: ignore[misc]

        play(inner)

    return run


def test_a_clean_run_ends_by_itself(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Runner) -> None:
        assert "listening" in stage.text
        await player.play(stretch(0, 64))
        assert "b. 16" in stage.text
        await player.wait(10)
        assert "Through, without a slip." in stage.text
        (end,) = tries(stage)
        assert (end.outcome, end.judge, end.drill) == (Outcome.THROUGH, "heard", "run-through")
        assert end.heard is not None
        assert (end.heard.wrong, end.heard.missed, end.heard.extra) == (0, 0, 0)

    scene(act)


def test_slips_are_logged_with_where_it_went_on(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Runner) -> None:
        await player.play(stretch(0, 10))
        await player.play(stretch(16, 40, at=4.0))  # on from start 2
        await player.play(stretch(48, 64, at=5.0))  # and from start 4
        await player.wait(10)
        first, second, end = tries(stage)
        assert [first.broke_at, second.broke_at] == [9, 39]
        assert (first.elsewhere, first.judge) == (S2, "heard")
        assert second.elsewhere == S4
        assert end.outcome is Outcome.STOPPED
        assert end.heard is not None
        assert end.heard.outcome is Outcome.STOPPED
        assert "went on at start 2" in stage.text
        table = report(stage.desk.views.of(stage.desk.students.find()))
        assert len(table.rows) == 3
        await stage.press("u")
        assert "2 slips so far." in words(stage)

    scene(act)


def test_a_run_that_is_given_up_tells_where(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Runner) -> None:
        await player.play(stretch(0, 22))
        await player.sign(3)
        assert "Not to the end." in stage.text
        (slip,) = tries(stage)
        assert slip.broke_at == 21
        assert (slip.elsewhere, slip.start) == ("", S2)

    scene(act)


def test_the_player_puts_a_heard_slip_right(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Runner) -> None:
        await player.play(stretch(0, 10))
        await player.play(stretch(16, 64, at=4.0))
        await player.wait(10)
        (heard, _) = tries(stage)
        await stage.press("w")
        assert "Slip 1" in stage.text
        await stage.press("2", "enter", "3", "enter")
        said = next(one for one in tries(stage) if one.outcome is Outcome.BROKE_OFF)
        assert (said.amends, said.judge, said.elsewhere) == (heard.id, "self", S3)
        assert said.heard == heard.heard

    scene(act)


def test_keys_count_beside_what_is_heard(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Runner) -> None:
        await player.play(stretch(0, 20))
        await stage.press("s")
        await player.play(stretch(20, 40, at=0.5))
        await stage.press("enter")
        slip, end = tries(stage)
        assert (slip.judge, slip.heard) == ("self", None)
        assert end.outcome is Outcome.STOPPED

    scene(act)


def test_what_is_not_sure_is_logged_only_if_the_player_says_so(
    scene: Callable[..., None],
) -> None:
    async def act(stage: Stage, player: Runner) -> None:
        await player.play(stretch(0, 20))
        await player.play(stretch(48, 56, at=0.5))  # eight quarters as in another place,
        await player.play(stretch(28, 64, at=0.5))  # and back where it would have been
        await player.wait(10)
        assert "perhaps, at b. 5" in words(stage)
        (end,) = tries(stage)
        assert end.outcome is Outcome.THROUGH
        await stage.press("y")
        slip, end = sorted(tries(stage), key=lambda one: one.outcome.value)
        assert (slip.outcome, slip.judge) == (Outcome.BROKE_OFF, "self")
        assert slip.broke_at == 19
        assert end.outcome is Outcome.STOPPED
        assert "perhaps" not in words(stage)

    scene(act)


def test_a_hesitation_is_told_and_logged_as_one(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Runner) -> None:
        await player.play(stretch(0, 21))
        await player.play(stretch(21, 64, at=4.0))
        await player.wait(10)
        assert "Through, without a slip. Hesitated at b. 6." in words(stage)
        waited, end = tries(stage)
        assert (waited.outcome, waited.start) == (Outcome.STOPPED, S2)
        assert waited.broke_at == 20
        assert end.outcome is Outcome.THROUGH
        table = report(stage.desk.views.of(stage.desk.students.find()))
        assert [row[5] for row in table.rows] == ["reached the end", "hesitated"]

    scene(act)


def test_what_was_heard_stands_on_the_written_music(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Runner) -> None:
        notes = stretch(0, 64)
        wrong = [
            replace(one, pitch=one.pitch + 1) if n == 30 else one for n, one in enumerate(notes)
        ]
        await player.play(wrong)
        await player.wait(10)
        await stage.press("v")
        assert "Heard from start 2" in stage.text
        assert "1 wrong" in stage.text
        assert "×" in stage.text
        await stage.press("right")
        assert "Heard from start 3" in stage.text
        assert "All notes right." in stage.text
        await stage.press("escape")
        assert stage.room == "RunScreen"

    scene(act)


def test_a_mistake_in_the_ear_ends_no_run(
    scene: Callable[..., None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was logged stays, and the letters tell the rest."""

    async def act(stage: Stage, player: Runner) -> None:
        await player.play(stretch(0, 10))
        await player.play(stretch(16, 60, at=4.0))
        (slip,) = tries(stage)

        def fails(_self: Follower, _note: Heard) -> None:
            raise ZeroDivisionError

        monkeypatch.setattr(Follower, "hear", fails)
        await player.play(stretch(60, 64))
        assert "cannot be heard" in words(stage)
        await stage.press("s")
        await stage.press("enter")
        assert "2 slips." in words(stage)
        assert slip in tries(stage)
        assert len(tries(stage)) == 3

    scene(act)


def test_a_run_is_left_from_the_instrument(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Runner) -> None:
        await player.play(stretch(0, 64))
        await player.wait(10)
        assert "Enter, or the lowest key, goes back" in words(stage)
        await player.sign()
        assert stage.room == "TodayScreen"

    scene(act)
