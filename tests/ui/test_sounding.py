"""Sound and the count on the screens: where they can be had, and where they cannot."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.pieces import desk_at, piece_of, tune
from tests.ui.conftest import FakePlayer
from tests.ui.stage import Stage, opened, play, small_desk
from trainer.deck.page import opening_span
from trainer.desk import Desk
from trainer.practice.session import Session
from trainer.record.attempt import standing
from trainer.score.model import Mark
from trainer.sound.player import NO_DEVICE, NO_LIBRARY
from trainer.sound.tones import samples, tones
from trainer.ui import sounding
from trainer.ui.app import TrainerApp
from trainer.ui.screens.drill import DrillScreen

PATIENCE = 20.0  # seconds until what was waited for counts as missing


def desk_with(folder: Path, *, sound: str = "off", count: str = "off") -> Desk:
    desk = small_desk(folder)
    desk.settings.change(desk.students.find(), "sound", sound)
    desk.settings.change(desk.students.find(), "count-in", count)
    return desk


def quick_desk(folder: Path, tempo: float) -> Desk:
    """A desk over a study of 3/4 at so many quarters a minute, with a count that is seen."""
    desk = desk_at(folder / "a.db")
    score = replace(tune(32), marks=(Mark("tempo", tune(1).bars[0].start, value=tempo),))
    desk.store.pieces.add(piece_of(score, range(0, 96, 12)), "test")
    desk.store.settings.set("caution seen", "yes")
    desk.pieces.set_open(
        desk.students.find(), desk.store.pieces.deck("deck"), range(1, 9), opened=True
    )
    desk.settings.change(desk.students.find(), "count-in", "seen")
    return desk


def drill(stage: Stage) -> DrillScreen:
    screen = stage.app.screen
    assert isinstance(screen, DrillScreen)
    return screen


def session(stage: Stage) -> Session:
    return drill(stage).session


async def until(stage: Stage, met: Callable[[], bool]) -> None:
    deadline = time.monotonic() + PATIENCE
    while not met():
        assert time.monotonic() < deadline, stage.text
        await stage.pilot.pause(0.01)


def test_nothing_of_it_is_there_before_it_is_switched_on(
    tmp_path: Path, players: list[FakePlayer]
) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path), drill=True) as stage:
            await stage.press("t")
            assert "hear opening" not in stage.text
            assert "c count" not in stage.text
            await stage.press("o", "c")
            assert "1 2 3" not in stage.lines[-6:]
            await stage.press("v")
            assert "hear opening" not in stage.text
            await stage.press("o")
            assert stage.room == "PageScreen"
            assert not any(player.heard for player in players)

    play(scene)


def test_the_opening_of_the_page_that_is_shown(tmp_path: Path, players: list[FakePlayer]) -> None:
    """Of the last try, not of the call that waits; again the key stops it."""

    async def scene() -> None:
        desk = desk_with(tmp_path, sound="on")
        async with opened(desk, drill=True) as stage:
            assert "hear opening" not in stage.text  # there is no page yet
            await stage.press("t")
            assert "o hear opening" in stage.text
            await stage.press("o")
            last = session(stage).last
            assert last is not None
            piece = desk.store.pieces.get("deck")
            start = piece.deck.start(last.start)
            expected = samples(tones(piece.score, *opening_span(piece, start, sounding.BARS)))
            assert players[0].heard == [expected]
            await stage.press("o")
            assert not players[0].plays
            await stage.press("o", "t")
            assert not players[0].plays  # a key of the drill stops it too
            assert len(players[0].heard) == 2

    play(scene)


def test_the_whole_page_can_be_heard_and_is_silent_when_left(
    tmp_path: Path, players: list[FakePlayer]
) -> None:
    async def scene() -> None:
        async with opened(desk_with(tmp_path, sound="on"), drill=True) as stage:
            await stage.press("t", "o", "v")
            assert not players[0].plays  # the drill is left for the page
            assert "o hear opening" in stage.text
            await stage.press("o")
            assert players[1].plays
            await stage.press("question_mark")
            assert not players[1].plays
            await stage.press("escape", "o", "escape")
            assert not players[1].plays
            assert stage.room == "DrillScreen"

    play(scene)


def test_leaving_the_program_silences_it(tmp_path: Path, players: list[FakePlayer]) -> None:
    async def scene() -> None:
        async with opened(desk_with(tmp_path, sound="on"), drill=True) as stage:
            await stage.press("t", "o")
            assert players[0].plays
        assert not players[0].plays

    play(scene)


def test_without_a_device_it_is_said_once_and_the_drill_goes_on(
    tmp_path: Path, players: list[FakePlayer]
) -> None:
    async def scene() -> None:
        FakePlayer.answer = NO_DEVICE
        async with opened(desk_with(tmp_path, sound="on"), drill=True) as stage:
            await stage.press("t", "o")
            assert "! Nothing can be heard" in stage.text
            assert "hear opening" not in stage.text
            await stage.press("o")
            assert len(players[0].heard) == 1
            await stage.press("t")
            assert session(stage).position == 2
            assert "Nothing can be heard" not in stage.text

    play(scene)


def test_without_the_library_there_is_no_key(
    tmp_path: Path, players: list[FakePlayer], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sounding, "trouble", lambda: NO_LIBRARY)

    async def scene() -> None:
        desk = desk_with(tmp_path, sound="on", count="heard")
        async with opened(desk, drill=True) as stage:
            await stage.press("t", "o")
            assert "hear opening" not in stage.text
            assert not players[0].heard
            await stage.press("c")
            assert "pip install miniaudio" in stage.text.replace("\n  ", " ")
            assert "count 1" in stage.text  # and the count is seen

    play(scene)


def test_a_deck_without_its_notes_says_so(tmp_path: Path, players: list[FakePlayer]) -> None:
    async def scene() -> None:
        desk = desk_at(tmp_path / "a.db")
        piece = piece_of(tune(32), range(0, 96, 12))
        bare = replace(piece, score=replace(piece.score, notes=()))
        desk.store.pieces.add(bare, "test")
        desk.store.settings.set("caution seen", "yes")
        desk.pieces.set_open(desk.students.find(), bare.deck, range(1, 9), opened=True)
        desk.settings.change(desk.students.find(), "sound", "on")
        async with opened(desk, drill=True) as stage:
            await stage.press("t", "o")
            assert "has no notes" in stage.text
            assert not players[0].heard

    play(scene)


def test_the_count_is_seen_beat_by_beat_and_goes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def scene() -> None:
        async with opened(quick_desk(tmp_path, 200), drill=True) as stage:
            before, place = stage.text, session(stage).call
            assert "c count" in before
            seen: list[str] = []
            screen = stage.app.screen
            assert isinstance(screen, DrillScreen)
            show = screen._show_beats

            def spied(text: str) -> None:  # a loaded machine may draw two beats at once
                show(text)
                seen.append(str(screen._call()[2]) if text else "")

            monkeypatch.setattr(screen, "_show_beats", spied)
            await stage.press("c")
            await until(stage, lambda: bool(seen) and not seen[-1])
            counts = [line.partition("count ")[2] for line in seen]
            assert counts == ["1", "1 2", "1 2 3", ""]
            assert stage.text == before
            assert session(stage).call == place

    play(scene)


def test_a_count_is_no_hint(tmp_path: Path) -> None:
    """Neither the drill nor its record knows of it."""

    async def scene() -> None:
        desk = desk_with(tmp_path, count="seen")
        async with opened(desk, drill=True) as stage:
            as_it_was = session(stage)
            await stage.press("c")
            assert "count 1" in stage.text
            assert session(stage) == as_it_was
            await stage.press("t")
            assert "count 1" not in stage.text
            student = desk.students.find()
            log = standing(
                desk.store.log.attempts(student.id), desk.store.log.retractions(student.id)
            )
            assert [attempt.hints for attempt in log] == [()]

    play(scene)


def test_where_nothing_is_to_move_the_words_stand_still(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(desk_with(tmp_path, count="seen"), drill=True) as stage:
            stage.app.animation_level = "none"  # as TEXTUAL_ANIMATIONS=none sets it
            await stage.press("c")
            assert "count 1 2 3, 60 a minute" in stage.text
            assert not drill(stage)._ticks

    play(scene)


@pytest.mark.parametrize("key", ["t", "h", "p", "question_mark", "q"])
def test_no_beat_comes_after_the_count_was_left(key: str, tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(desk_with(tmp_path, count="seen"), drill=True) as stage:
            screen = drill(stage)
            await stage.press("c")
            ticks = list(screen._ticks)
            assert len(ticks) == 3  # two more beats, and the end
            await stage.press(key)
            assert not screen._ticks
            assert screen._counted == ""
            for tick in ticks:
                assert tick._task is None or tick._task.done() or tick._task.cancelling()

    play(scene)


def test_the_digits_wait_for_the_sound(tmp_path: Path, players: list[FakePlayer]) -> None:
    async def scene() -> None:
        FakePlayer.answer = None
        desk = desk_with(tmp_path, sound="on", count="heard")
        async with opened(desk, drill=True) as stage:
            await stage.press("c")
            assert "count 1" not in stage.text
            assert len(players[0].heard) == 1
            players[0].told("")
            await stage.settle()
            assert "count 1" in stage.text

    play(scene)


@pytest.mark.usefixtures("players")
def test_a_count_that_cannot_be_heard_is_seen(tmp_path: Path) -> None:
    async def scene() -> None:
        FakePlayer.answer = NO_DEVICE
        desk = desk_with(tmp_path, sound="on", count="heard")
        async with opened(desk, drill=True) as stage:
            await stage.press("c")
            assert "! Nothing can be heard" in stage.text
            assert "count 1" in stage.text

    play(scene)


def test_heard_with_the_sound_switched_off(tmp_path: Path, players: list[FakePlayer]) -> None:
    async def scene() -> None:
        desk = desk_with(tmp_path, sound="off", count="heard")
        async with opened(desk, drill=True) as stage:
            await stage.press("c")
            assert "Sound is switched off" in stage.text
            assert "count 1" in stage.text
            assert not players[0].heard

    play(scene)


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (80, 40)], ids=str)
def test_the_count_has_its_room_also_in_plain_signs(size: tuple[int, int], tmp_path: Path) -> None:
    async def scene() -> None:
        desk = desk_with(tmp_path, count="seen")
        app = TrainerApp(lambda: desk, drill=True, ascii=True)
        async with app.run_test(size=size) as pilot:
            stage = Stage(app, pilot, desk, desk.clock)  # type: ignore[arg-type]
            await stage.settle()
            app.animation_level = "none"
            await stage.press("t", "c")
            assert "count 1 2 3, 60 a minute" in stage.text
            assert session(stage).call is not None
            assert stage.text.isascii()
            assert "? help" in stage.text

    play(scene)
