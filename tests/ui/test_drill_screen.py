"""The drill on the screen: one key a try, and nothing lost."""

from pathlib import Path

import pytest

from tests.pieces import piece_of, tune
from tests.ui.stage import Size, Stage, opened, play, small_desk
from trainer.desk import Desk
from trainer.errors import TrainerError
from trainer.practice.session import State
from trainer.record.attempt import Attempt, Outcome, standing
from trainer.ui.screens.drill import DrillScreen


def log(desk: Desk) -> tuple[Attempt, ...]:
    student = desk.students.find()
    return standing(desk.store.log.attempts(student.id), desk.store.log.retractions(student.id))


def drill(stage: Stage) -> DrillScreen:
    screen = stage.app.screen
    assert isinstance(screen, DrillScreen)
    return screen


@pytest.mark.parametrize("outcome", [o for o in Outcome if o is not Outcome.ELSEWHERE])
def test_one_key_records_and_calls_the_next(outcome: Outcome, tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, drill=True) as stage:
            first = drill(stage).session.call
            assert first is not None
            stage.clock.later(seconds=20)
            await stage.press(outcome.value[0])
            assert [(a.start, a.outcome, a.seconds) for a in log(desk)] == [
                (first.spot.id, outcome, 20.0)
            ]
            assert drill(stage).session.position == 1
            assert f"Start {first.number} " in stage.text

    play(scene)


def test_away_from_the_instrument_the_present_page_may_be_seen(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            await stage.press("d", "5")
            assert "Away" in stage.text
            await stage.press("enter")
            assert stage.room == "DrillScreen"
            screen = stage.app.screen
            assert isinstance(screen, DrillScreen)
            call = screen.session.call
            assert call
            await stage.press("v")
            assert stage.room == "PageScreen"
            assert f"Start {call.number}," in stage.text

    play(scene)


def test_the_call_gives_nothing_away(tmp_path: Path) -> None:
    """Number, place and title: no note of the phrase, no clock, nothing of the next calls."""

    async def scene() -> None:
        async with opened(small_desk(tmp_path), drill=True) as stage:
            call = drill(stage).session.call
            assert call is not None
            assert call.place in stage.text
            assert "bar " not in stage.text
            assert ":" not in stage.text.replace("Then press", "")

    play(scene)


def test_the_page_of_the_try_stands_above_the_next_call(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, drill=True) as stage:
            first = drill(stage).session.call
            await stage.press("t")
            assert first is not None
            last = next(n for n, line in enumerate(stage.lines) if "Last: Start" in line)
            bar = first.place.removeprefix("b. ")
            page = "\n".join(stage.lines[last + 1 : last + 12])
            assert bar in page.split()
            call = drill(stage).session.call
            assert call is not None
            place = next(n for n, line in enumerate(stage.lines) if call.place in line)
            assert place > last + 5

    play(scene)


def test_elsewhere_asks_which_and_takes_a_number(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, drill=True) as stage:
            call = drill(stage).session.call
            assert call is not None
            other = 3 if call.number != 3 else 4
            await stage.press("e")
            assert "Where did you begin?" in stage.text
            assert log(desk) == ()
            await stage.press(str(other), "enter")
            assert [(a.outcome, a.elsewhere) for a in log(desk)] == [
                (Outcome.ELSEWHERE, f"deck-s{other}")
            ]
            assert f"began at start {other} instead" in stage.text

    play(scene)


def test_elsewhere_by_arrows_unknown_and_left(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, drill=True) as stage:
            await stage.press("e", "escape")
            assert drill(stage).session.state is State.CALLING
            assert log(desk) == ()
            await stage.press("e", *["down"] * 7, "enter")
            assert [(a.outcome, a.elsewhere) for a in log(desk)] == [(Outcome.ELSEWHERE, "")]

    play(scene)


def test_amend_corrects_the_last_try(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, drill=True) as stage:
            await stage.press("t", "a")
            assert "Correct the last result" in stage.text
            await stage.press("s")
            assert [a.outcome for a in log(desk)] == [Outcome.STOPPED]
            assert drill(stage).session.position == 1
            await stage.press("a", "escape")
            assert [a.outcome for a in log(desk)] == [Outcome.STOPPED]

    play(scene)


def test_amend_to_broke_off_asks_the_bar(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, drill=True) as stage:
            await stage.press("t", "a", "b", "9", "9", "enter")
            assert "There is no bar" in stage.text  # and the question stays
            await stage.press("backspace", "enter")
            found = log(desk)
            assert [a.outcome for a in found] == [Outcome.BROKE_OFF]
            assert found[0].broke_at == 24
            assert "broke off at b. 9" in stage.text
            await stage.press("a", "b", "enter")
            assert log(desk)[0].broke_at is None

    play(scene)


def test_undo_calls_the_start_again(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, drill=True) as stage:
            first = drill(stage).session.call
            await stage.press("t", "u")
            assert drill(stage).session.call == first
            assert log(desk) == ()

    play(scene)


def test_hints_come_one_by_one_and_are_recorded(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, drill=True) as stage:
            call = drill(stage).session.call
            assert call is not None
            first, second, *_ = call.hints
            assert f"{first}:" not in stage.text
            await stage.press("h")
            assert f"{first}:" in stage.text
            assert f"{second}:" not in stage.text
            await stage.press("h", "t")
            assert [a.hints for a in log(desk)] == [(first, second)]
            assert f"{first}:" not in stage.text

    play(scene)


def test_the_end_of_the_hints_is_told(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, drill=True) as stage:
            call = drill(stage).session.call
            assert call is not None
            await stage.press(*"h" * len(call.hints))
            assert drill(stage).session.hints == call.hints
            assert "No more hints." not in stage.text
            await stage.press("h")
            assert "No more hints." in stage.text
            await stage.press("t")
            assert [a.hints for a in log(desk)] == [call.hints]
            assert "No more hints." not in stage.text

    play(scene)


def test_while_paused_the_strip_shows_what_works(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path), drill=True) as stage:
            assert "p pause" in stage.text
            assert "go on" not in stage.text
            await stage.press("p")
            assert "p pause" not in stage.text
            assert "Enter go on" in stage.text
            assert "q end" in stage.text
            await stage.press("p")
            assert drill(stage).session.state is State.CALLING
            assert "p pause" in stage.text

    play(scene)


def test_a_miss_that_is_asked_again_is_said(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path), drill=True) as stage:
            assert stage.lines[0].endswith("1 of 8")
            await stage.press("n")
            assert stage.lines[0].endswith("2 of 9, 1 asked again")
            await stage.press("u")
            assert stage.lines[0].endswith("1 of 8")

    play(scene)


@pytest.mark.parametrize("size", [(60, 20), (80, 24)])
def test_the_last_try_names_its_piece_among_several(size: Size, tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path, title="A Rather Long Title of a Study")
        desk.store.pieces.add(piece_of(tune(8, title="Air"), range(0, 24, 12), "other"), "test")
        desk.pieces.set_open(
            desk.students.find(), desk.store.pieces.deck("other"), [1, 2], opened=True
        )
        async with opened(desk, size=size, drill=True) as stage:
            for _ in range(10):
                call = drill(stage).session.call
                assert call is not None
                await stage.press("s")
                told = " ".join(stage.text.split())
                said = f"Last: Start {call.number} of {call.title} went on after a stop or a late"
                assert said in told

    play(scene)


def test_pause_stops_the_time(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, drill=True) as stage:
            await stage.press("p")
            assert "Paused." in stage.text
            stage.clock.later(minutes=9)
            await stage.press("t")
            assert log(desk) == ()  # nothing is judged while paused
            await stage.press("p")
            stage.clock.later(seconds=8)
            await stage.press("t")
            assert log(desk)[0].seconds == 8.0

    play(scene)


def test_time_before_the_drill_is_none_of_it(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            stage.clock.later(minutes=12)
            await stage.press("enter")
            stage.clock.later(seconds=5)
            await stage.press("t")
            assert log(desk)[0].seconds == 5.0

    play(scene)


def test_a_rest_is_offered_after_25_minutes(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path), drill=True) as stage:
            stage.clock.later(minutes=25)
            await stage.press("t")
            assert "Rest for five" in stage.text
            await stage.press("enter")
            assert drill(stage).session.state is State.CALLING

    play(scene)


def test_the_end_says_what_held_and_when_it_comes_back(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, drill=True) as stage:
            await stage.press("t", "n", "q")
            assert "1 of 2 starts went through" in stage.text
            assert "next call" in stage.text
            assert "3 Mar" in stage.text  # the missed one, the day after
            await stage.press("a", "s")
            assert "1 of 2 starts went through at the first attempt; 1 more" in stage.text
            await stage.press("enter")
            assert stage.room == "TodayScreen"
            assert len(log(desk)) == 2

    play(scene)


def test_a_drill_to_its_last_call(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, drill=True) as stage:
            count = len(drill(stage).session.calls)
            await stage.press(*"t" * count)
            assert "over" in stage.lines[0]
            assert len(log(desk)) == count

    play(scene)


def test_what_cannot_be_kept_is_said_and_the_call_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, drill=True) as stage:
            call = drill(stage).session.call

            def full(*_: object) -> int:
                raise TrainerError("The disk is full: make room, then enter it again.")

            with monkeypatch.context() as broken:
                broken.setattr(desk.store.log, "append", full)
                await stage.press("t")
                assert "The disk is full" in stage.text
                assert drill(stage).session.call == call
            await stage.press("t")
            assert "The disk is full" not in stage.text
            assert len(log(desk)) == 1

    play(scene)


def test_the_page_full_screen(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path), drill=True) as stage:
            await stage.press("v")
            assert stage.room == "DrillScreen"  # there is no try yet
            await stage.press("t", "v")
            assert stage.room == "PageScreen"
            await stage.press("escape")
            assert stage.room == "DrillScreen"

    play(scene)


def test_the_end_can_be_gone_through_where_it_is_longer_than_the_screen(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path), size=(60, 20), drill=True) as stage:
            for _ in range(8):
                await stage.press("t")
            await stage.press(*["n"] * (not stage.lines[0].endswith("over")))
            while not stage.lines[0].endswith("over"):
                await stage.press("t")
            first = stage.text
            if "more below" in first:
                assert "↓ down" in first
                await stage.press("down", "down", "down")
                assert stage.text != first
            else:
                assert "↓ down" not in first

    play(scene)
