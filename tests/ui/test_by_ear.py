"""The drill by ear on the screens: an instrument played by the test, on a clock of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.listen.build import PIECE, STARTS, chords, played
from tests.pieces import Clock, desk_at
from tests.ui.conftest import FakePlayer
from tests.ui.stage import Size, Stage, opened, play
from tests.ui.test_looks import compare
from trainer.desk import Desk
from trainer.desk.hearing import Hearing
from trainer.errors import TrainerError
from trainer.listen.ear import Ear
from trainer.listen.model import Heard
from trainer.listen.port import MemoryPort
from trainer.practice.exercise import Act
from trainer.practice.session import Session, State
from trainer.record.attempt import Attempt, Outcome
from trainer.sound import tones
from trainer.ui.hearing import AWAY, BACK, FAILED, LOST
from trainer.ui.screens.drill import DrillScreen

LONG = 20.0  # seconds: longer than any silence within a try
SIGN = 21  # the lowest key


class Player:
    """Someone at an instrument; time passes only while they play or wait."""

    def __init__(self) -> None:
        self.now = 100.0
        self.port = MemoryPort(lambda: self.now)
        self.stage: Stage | None = None

    async def play(self, notes: Iterable[Heard]) -> None:
        """Play notes, in seconds from now."""
        begin = self.now
        for note in notes:
            self.now = begin + note.time
            self.port.play(note.pitch, note.velocity)
        await self.looked()

    async def wait(self, seconds: float = LONG) -> None:
        self.now += seconds
        await self.looked()

    async def sign(self, times: int = 1) -> None:
        await self.wait(1.0)
        for _ in range(times):
            self.port.play(SIGN)
            self.now += 0.2
        await self.wait(1.0)

    async def looked(self) -> None:
        """Until the screen has looked, and all that follows is done."""
        assert self.stage
        screen = self.stage.app.screen
        if isinstance(screen, DrillScreen):
            screen.by_ear.look()
        await self.stage.settle()


def ear_desk(folder: Path) -> Desk:
    desk = desk_at(folder / "a.db", Clock())
    desk.store.pieces.add(PIECE, "test")
    student = desk.students.find()
    desk.store.settings.set("caution seen", "yes")
    desk.pieces.set_open(student, desk.store.pieces.deck("deck"), range(1, 5), opened=True)
    return desk


def session(stage: Stage) -> Session:
    screen = stage.app.screen
    assert isinstance(screen, DrillScreen)
    return screen.session


def phrase(stage: Stage, quarters: int = 20, *, start: int = 0, at: float = 1.0) -> list[Heard]:
    """So many quarters from a start, by default the one that is called."""
    call = session(stage).call
    assert call
    first = STARTS[(start or call.number) - 1]
    return played(chords(first, first + quarters), at=at)


def words(stage: Stage) -> str:
    """What stands on the screen, its lines joined."""
    return " ".join(stage.text.split())


def tries(stage: Stage) -> list[Attempt]:
    student = stage.desk.students.find()
    return list(stage.desk.views.of(student).attempts)


@pytest.fixture
def scene(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
    """Plays a scene at the first call of a drill, with an instrument that is there."""

    def run(
        act: Callable[[Stage, Player], object],
        *,
        size: Size = (80, 24),
        ascii: bool = False,
        sound: str = "off",
    ) -> None:
        async def inner() -> None:
            desk, player = ear_desk(tmp_path), Player()
            desk.settings.change(desk.students.find(), "sound", sound)
            hearing = Hearing(player.port, clock=lambda: player.now)
            monkeypatch.setattr(desk.instruments, "hearing", lambda *_: hearing)
            async with opened(desk, size=size, ascii=ascii) as stage:
                player.stage = stage
                await stage.press("enter")
                await player.looked()
                await act(stage, player)  # type: ignore[misc]

        play(inner)

    return run


def test_a_try_is_heard_told_and_recorded(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        call = session(stage).call
        assert call
        assert "listening" in stage.text
        await player.play(phrase(stage))
        assert "5 bars" in stage.text
        assert not tries(stage)
        await player.wait()
        assert session(stage).state is State.TOLD
        (attempt,) = tries(stage)
        assert attempt.judge == "heard"
        assert attempt.outcome is Outcome.THROUGH
        assert attempt.latency == pytest.approx(1.0, abs=0.02)
        assert f"Start {call.number}, as called" in stage.text
        assert "Heard: through." in stage.text
        assert "Enter, or the lowest key, goes on." in stage.text
        await stage.press("enter")
        assert session(stage).state is State.CALLING
        assert f"Start {call.number}, as called" in stage.text

    scene(act)


def test_a_sign_ends_the_try_and_goes_on_at_once(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        first = session(stage).call
        await player.play(phrase(stage))
        await player.sign()
        assert session(stage).state is State.CALLING
        assert session(stage).call != first
        assert [one.judge for one in tries(stage)] == ["heard"]

    scene(act)


def test_two_presses_call_the_same_again_and_three_stop(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        first = session(stage).call
        await player.play(phrase(stage))
        await player.wait()
        await player.sign(2)
        assert session(stage).state is State.CALLING
        assert session(stage).call == first
        assert session(stage).again
        await player.play(phrase(stage))
        await player.sign(3)
        assert session(stage).state is State.OVER
        assert len(tries(stage)) == 2

    scene(act)


def test_a_sign_at_a_call_that_was_not_begun_says_nothing_came(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        await player.sign()  # at once: a slow second press of the last call's sign
        await player.sign(2)
        assert not tries(stage)
        await player.wait(5)
        await player.sign()
        (attempt,) = tries(stage)
        assert (attempt.outcome, attempt.judge, attempt.heard) == (Outcome.NOTHING, "self", None)

    scene(act)


def test_another_start_is_named_and_the_player_may_say_otherwise(
    scene: Callable[..., None],
) -> None:
    async def act(stage: Stage, player: Player) -> None:
        call = session(stage).call
        assert call
        other = 2 if call.number != 2 else 4
        await player.play(phrase(stage, start=other))
        await player.wait()
        (heard,) = tries(stage)
        assert heard.outcome is Outcome.ELSEWHERE
        assert heard.elsewhere == PIECE.deck.starts[other - 1].id
        assert f"Start {other}'s opening, but {call.number} was called" in stage.text
        await stage.press("e", "escape")
        assert session(stage).state is State.TOLD
        await stage.press("s")
        assert session(stage).state is State.TOLD
        assert "Said: stopped." in stage.text
        (said,) = tries(stage)
        assert (said.outcome, said.judge, said.amends) == (Outcome.STOPPED, "self", heard.id)
        assert said.heard == heard.heard
        assert "Heard: elsewhere:" in stage.text

    scene(act)


def test_what_cannot_be_judged_is_asked_and_kept_with_the_answer(
    scene: Callable[..., None],
) -> None:
    async def act(stage: Stage, player: Player) -> None:
        await player.play([Heard(40 + 7 * (i % 8), 1 + 0.3 * i) for i in range(12)])
        await player.wait()
        assert not tries(stage)
        assert "Press the letter that says how far you came; the lowest key twice" in words(stage)
        assert "press the letter" in stage.text
        assert "h hint" not in stage.text
        await stage.press("h", "p", "p")
        assert not session(stage).hints
        await player.play([Heard(40 + 7 * (i % 8), 1 + 0.3 * i) for i in range(12)])
        await player.wait()
        assert "Press the letter that says" in words(stage)
        await player.sign()  # no answer
        assert not tries(stage)
        await stage.press("n")
        (attempt,) = tries(stage)
        assert (attempt.outcome, attempt.judge) == (Outcome.NOTHING, "self")
        assert attempt.heard is not None
        assert "Press the key" not in words(stage)
        await player.play(phrase(stage))
        await player.wait()
        assert len(tries(stage)) == 2

    scene(act)


def test_a_key_before_the_end_counts_with_what_was_heard_so_far(
    scene: Callable[..., None],
) -> None:
    async def act(stage: Stage, player: Player) -> None:
        await player.play(phrase(stage, 8))
        await stage.press("b")
        await player.wait()
        (attempt,) = tries(stage)
        assert (attempt.outcome, attempt.judge) == (Outcome.BROKE_OFF, "self")
        assert attempt.heard is not None
        assert attempt.heard.notes == len(played(chords(0, 8)))
        assert attempt.latency == pytest.approx(1.0, abs=0.02)

    scene(act)


def test_where_it_began_is_asked_and_what_was_heard_stays_with_it(
    scene: Callable[..., None],
) -> None:
    async def act(stage: Stage, player: Player) -> None:
        await player.play(phrase(stage, 8))
        await stage.press("e")
        await player.play(played(chords(0, 8)))  # nobody's: a question stands there
        await stage.press("enter")
        (attempt,) = tries(stage)
        assert attempt.outcome is Outcome.ELSEWHERE
        assert attempt.heard is not None

    scene(act)


def test_a_pulled_cable_leaves_the_try_to_a_key(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        await player.play(phrase(stage, 8))
        player.port.pull()
        await player.wait()
        assert AWAY in stage.text
        player.port.plug()
        await player.wait(1)
        assert LOST in stage.text
        await player.wait()
        assert BACK in stage.text
        await player.sign()
        assert not tries(stage)
        await stage.press("b")
        assert [one.outcome for one in tries(stage)] == [Outcome.BROKE_OFF]
        player.port.pull()
        await player.wait()
        assert AWAY in stage.text
        player.port.plug()
        await player.play(phrase(stage))
        await player.wait()
        assert [one.judge for one in tries(stage)] == ["self", "heard"]

    scene(act)


def test_what_is_played_after_the_cable_is_back_is_heard_from_the_beginning(
    scene: Callable[..., None],
) -> None:
    """Also where it came and went before the first note, and in the middle of a try."""

    async def act(stage: Stage, player: Player) -> None:
        player.port.pull()
        await player.wait(30)
        player.port.plug()
        await player.wait(1)
        assert BACK in stage.text
        await player.play(phrase(stage, at=1.0))
        await player.wait()
        (first,) = tries(stage)
        assert (first.outcome, first.latency) == (Outcome.THROUGH, 1.0)
        await stage.press("enter")
        await player.play(phrase(stage, 8))
        player.port.pull()
        await player.wait(2)
        player.port.plug()
        await player.wait(1)
        await player.play(phrase(stage, 8, at=0.5))  # played on: nothing is made of it
        await player.wait(2)
        assert len(tries(stage)) == 1
        await player.wait(2)
        await player.play(phrase(stage))
        await player.wait()
        assert [one.outcome for one in tries(stage)] == [Outcome.THROUGH] * 2

    scene(act)


def test_help_neither_ends_nor_resets_a_call(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        await player.wait(4)
        await stage.press("question_mark")
        await player.wait(3)
        await stage.press("escape")
        await player.play(phrase(stage, at=1.0))
        await player.wait()
        (one,) = tries(stage)
        assert one.latency == 8.0
        assert one.outcome is Outcome.STOPPED  # late

    scene(act)


def test_it_says_that_it_waits_and_that_the_join_is_crossed(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        await player.play(phrase(stage, 8))
        assert "2 bars" in stage.text
        assert "waiting" not in stage.text
        await player.wait(2.5)
        assert "2 bars, waiting" in stage.text
        rest = phrase(stage, 20, at=0.0)[12:]
        await player.play([replace(one, time=one.time - rest[0].time) for one in rest])
        assert "into the next phrase" in words(stage)

    scene(act)


def test_a_mistake_in_the_ear_ends_no_drill(
    scene: Callable[..., None], monkeypatch: pytest.MonkeyPatch
) -> None:
    async def act(stage: Stage, player: Player) -> None:
        def fails(*_: object, **__: object) -> None:
            raise ZeroDivisionError

        monkeypatch.setattr(Ear, "listen", fails)
        await player.play(phrase(stage))
        assert FAILED in stage.text
        await stage.press("t")
        assert [one.judge for one in tries(stage)] == ["self"]

    scene(act)


def test_the_first_call_is_given_when_the_player_is_ready(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By Enter or by a signal; what is read before it takes no time of the call."""

    async def inner(key: str) -> None:
        desk, player = ear_desk(tmp_path / key), Player()
        desk.settings.change(desk.students.find(), "instrument", "any")
        hearing = Hearing(player.port, clock=lambda: player.now)
        monkeypatch.setattr(desk.instruments, "hearing", lambda *_: hearing)
        async with opened(desk) as stage:
            player.stage = stage
            await stage.press("enter")
            await player.wait(60)
            assert "calls the first start" in stage.text
            call = session(stage).call
            assert call
            assert call.place not in stage.text
            if key:
                await stage.press(key)
            else:
                await player.sign()
            assert call.place in stage.text
            before = player.now
            await player.play(phrase(stage, at=2.0))
            await player.wait()
            (one,) = tries(stage)
            assert one.outcome is Outcome.THROUGH
            assert one.latency is not None
            assert one.latency <= 2.0 + (before - 160)

    for key in ("enter", ""):
        (tmp_path / key).mkdir(exist_ok=True)
        play(partial(inner, key))


def test_the_music_of_a_start_that_is_called_again_is_not_shown(
    scene: Callable[..., None],
) -> None:
    async def act(stage: Stage, player: Player) -> None:
        await player.play(phrase(stage, 8))
        await player.wait()
        assert "┃" in stage.text
        await player.sign(2)  # the same again
        assert "Last: Start" in stage.text
        assert "┃" not in stage.text
        await stage.press("v")
        assert stage.room == "DrillScreen"
        await player.play(phrase(stage))
        await player.wait()
        assert "┃" in stage.text

    scene(act)


def test_a_drill_is_ended_and_left_from_the_instrument(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        await player.play(phrase(stage))
        await player.wait()
        await player.sign(3)
        assert session(stage).state is State.OVER
        assert "Enter, or the lowest key, goes back" in words(stage)
        await player.sign()
        assert stage.room == "TodayScreen"

    scene(act)


def test_an_hour_of_silence_is_a_late_beginning(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        await player.wait(3600)
        assert "listening" in stage.text
        await player.play(phrase(stage))
        await player.wait()
        (attempt,) = tries(stage)
        assert attempt.outcome is Outcome.STOPPED
        assert attempt.latency == pytest.approx(3601, abs=1)

    scene(act)


def test_ten_thousand_events_leave_the_keys_alive(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        await player.play(Heard(21 + i * 37 % 88, 1 + i / 10_000) for i in range(10_000))
        await stage.press("n")
        assert [one.outcome for one in tries(stage)] == [Outcome.NOTHING]
        await player.play(phrase(stage))
        await player.wait()
        assert [one.judge for one in tries(stage)] == ["self", "heard"]

    scene(act)


def test_notes_while_another_screen_stands_there_are_nobodys(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        await player.play(phrase(stage))
        await player.wait()
        await stage.press("enter", "v")
        assert stage.room == "HeardScreen"
        await player.play(played(chords(0, 20)))
        await player.sign()
        await stage.press("escape")
        assert stage.room == "DrillScreen"
        assert len(tries(stage)) == 1
        await player.play(phrase(stage))
        await player.wait()
        assert [one.judge for one in tries(stage)] == ["heard", "heard"]

    scene(act)


def test_the_page_begins_where_it_broke(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        call = session(stage).call
        assert call
        await player.play(phrase(stage, 11))
        await player.wait()
        bar = STARTS[call.number - 1] // 4 + 3
        assert f"broken off at b. {bar}" in words(stage)
        page = stage.text.partition("Heard:")[2]
        assert "■" in page
        assert f"{bar - 2} " not in page.split("1   ")[0].partition(f"b. {bar}")[2]

    scene(act)


def test_the_help_tells_the_signs(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        await player.play(phrase(stage))
        await player.wait()
        await stage.press("v", "question_mark")
        assert stage.room == "HelpScreen"
        assert "x  wrong        Another note was played instead" in stage.text
        await stage.press("pagedown")
        assert "(C)    tied over" in stage.text

    scene(act, ascii=True)


def test_the_page_shows_what_was_heard(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        notes = phrase(stage)
        notes[6] = Heard(notes[6].pitch + 1, notes[6].time)
        await player.play(notes)
        await player.wait()
        assert "Notes: 1 wrong." in stage.text
        assert "×" in stage.text
        await stage.press("v")
        assert stage.room == "HeardScreen"
        assert "The first note came after 1.0 seconds." in stage.text
        await stage.press("v")
        assert stage.room == "PageScreen"
        await stage.press("escape", "escape")
        assert stage.room == "DrillScreen"

    scene(act)


@pytest.mark.parametrize("size", [(80, 24), (60, 20)], ids=["80x24", "60x20"])
@pytest.mark.parametrize("ascii", [False, True], ids=["signs", "ascii"])
def test_how_a_heard_try_looks(scene: Callable[..., None], size: Size, ascii: bool) -> None:
    async def act(stage: Stage, player: Player) -> None:
        notes = phrase(stage)
        notes[4] = Heard(notes[4].pitch + 2, notes[4].time)
        await player.play([*notes[:12], *notes[14:]])
        compare(stage, "by_ear", size, ascii=ascii)
        await player.wait()
        compare(stage, "told", size, ascii=ascii)
        await stage.press("v")
        compare(stage, "heard", size, ascii=ascii)

    scene(act, size=size, ascii=ascii)


def test_an_instrument_that_cannot_be_heard_is_said_and_the_keys_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def inner() -> None:
        desk = ear_desk(tmp_path)

        def fails(*_: object) -> None:
            raise TrainerError("There is no such instrument; connect it.")

        monkeypatch.setattr(desk.instruments, "hearing", fails)
        async with opened(desk) as stage:
            await stage.press("enter")
            assert "There is no such instrument" in stage.text
            await stage.press("t")
            assert [one.judge for one in tries(stage)] == ["self"]

    play(inner)


def test_one_hand_alone_is_told(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        call = session(stage).call
        assert call
        first = STARTS[call.number - 1]
        await player.play(played(chords(first, first + 24), hands="right"))
        await player.wait()
        assert "as called, the right hand alone, and on" in words(stage)
        assert tries(stage)[0].hands == "right"

    scene(act)


def test_what_was_heard_stands_beside_what_was_said(scene: Callable[..., None]) -> None:
    async def act(stage: Stage, player: Player) -> None:
        stage.desk.settings.change(stage.desk.students.find(), "instrument", "any")
        await player.play(phrase(stage))
        await player.wait()
        await stage.press("s", "q", "enter", "r", "h")
        assert stage.room == "ReportReader"
        assert "Said stopped, heard going through" in words(stage)
        assert "1 attempt was heard; you marked 1 yourself, 0 of them the same" in words(stage)
        await stage.press("escape")
        assert stage.room == "RetentionScreen"

    scene(act)


def test_a_teacher_who_judges_is_not_spoken_into(tmp_path: Path) -> None:
    desk, player = ear_desk(tmp_path), Player()
    view = desk.views.of(desk.students.find())
    hearing = Hearing(player.port, clock=lambda: player.now)
    hearing.attend(desk.exercises.drill(view, judge="teacher"), view)
    for note in played(chords(0, 20)):
        player.now = 100 + note.time
        player.port.play(note.pitch)
    player.now += LONG
    assert not hearing.look().ended
    assert hearing.tried() is None
    mine = desk.exercises.drill(view)
    assert mine.allows(Act.HEARD)
    hearing.attend(mine, view)
    player.port.play(60)
    assert hearing.look().connected


def test_what_was_played_is_heard_again(
    scene: Callable[..., None], players: list[FakePlayer], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tones, "samples", lambda sounds, _count: sounds)  # as they would be played

    async def act(stage: Stage, player: Player) -> None:
        notes = phrase(stage)
        notes[3] = Heard(notes[3].pitch + 3, notes[3].time)
        await player.play(notes)
        await player.wait()
        assert "y hear yours" in stage.text
        await stage.press("y")
        (heard,) = next(one.heard for one in players if one.heard)
        played = [(note.pitch, round(note.time - notes[0].time, 3)) for note in notes]
        assert [(tone.pitch, round(tone.at, 3)) for tone in heard] == sorted(
            played, key=lambda note: (note[1], note[0])
        )
        await stage.press("y")
        assert not any(one.plays for one in players)
        await stage.press("v", "y")
        assert sum(len(one.heard) for one in players) == 2

    scene(act, sound="on")
