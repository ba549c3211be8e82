"""The player, with a library made up for the test, with the real one, and with none."""

from __future__ import annotations

import time
from array import array
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from threading import Event

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import TrainerError
from trainer.sound import player
from trainer.sound.player import NO_ANSWER, NO_DEVICE, NO_LIBRARY, Player, trouble
from trainer.sound.tones import RATE

PATIENCE = 20.0  # seconds until what was waited for counts as missing
FAKE = """
import time
from threading import Thread

class MiniaudioError(Exception): ...
class SampleFormat: SIGNED16 = 1

class PlaybackDevice:
    def __init__(self, *_, **__):
        {begins}

    def start(self, generator):
        def pull():
            with open({heard!r}, "wb", buffering=0) as out:
                for wanted in [100, 7, 1000] * 100_000:
                    try:
                        out.write(generator.send(wanted))
                    except StopIteration:
                        break
                    {between}
        Thread(target=pull, daemon=True).start()

    def close(self): ...
"""

Library = Callable[..., Path]


@pytest.fixture
def library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Library:
    """Puts a library in the place of miniaudio, and gives the file of what it plays."""

    def put(begins: str = "pass", between: str = "pass") -> Path:
        heard = tmp_path / "heard.raw"
        text = FAKE.format(begins=begins, between=between, heard=str(heard))
        (tmp_path / "miniaudio.py").write_text(text)
        monkeypatch.syspath_prepend(tmp_path)
        return heard

    return put


def ramp(length: int = 30_000) -> array[int]:
    return array("h", (n % 30_000 for n in range(length)))


class Told:
    """What a player told, and a way to wait for it."""

    def __init__(self) -> None:
        self.all: list[str] = []
        self.once = Event()

    def __call__(self, why: str) -> None:
        self.all.append(why)
        self.once.set()


def wait_until(met: Callable[[], bool]) -> None:
    deadline = time.monotonic() + PATIENCE
    while not met():
        assert time.monotonic() < deadline
        time.sleep(0.005)


def test_every_sample_is_played_once_and_in_order(library: Library) -> None:
    heard = library()
    Player().play_to_end(ramp)
    got = array("h", heard.read_bytes())
    assert got[: len(ramp())] == ramp()
    assert not any(got[len(ramp()) :])


def test_playing_returns_at_once_and_tells_when_it_begins(library: Library) -> None:
    library(between="time.sleep(0.01)")
    told, one = Told(), Player()
    one.play(ramp, told)
    assert one.plays
    assert told.once.wait(PATIENCE)
    assert told.all == [""]
    one.stop()
    assert not one.plays


def test_what_is_stopped_tells_nothing_and_a_second_sound_ends_the_first(library: Library) -> None:
    library(between="time.sleep(0.01)")
    first, second, one = Told(), Told(), Player()
    release = Event()

    def late() -> array[int]:
        release.wait(PATIENCE)
        return ramp()

    one.play(late, first)
    one.play(ramp, second)
    release.set()
    assert second.once.wait(PATIENCE)
    assert first.all == []
    one.stop()


def test_without_a_device_it_says_so_in_one_sentence(library: Library) -> None:
    library(begins="raise MiniaudioError('failed to init device')")
    told, one = Told(), Player()
    one.play(ramp, told)
    assert told.once.wait(PATIENCE)
    assert told.all == [NO_DEVICE]
    wait_until(lambda: not one.plays)
    with pytest.raises(TrainerError) as raised:
        one.play_to_end(ramp)
    assert str(raised.value) == NO_DEVICE


@pytest.mark.parametrize(
    "begins",
    ["import os; os._exit(3)", "raise RuntimeError('out of order')", "time.sleep(60)"],
    ids=["falls", "breaks", "hangs"],
)
def test_a_sound_system_out_of_order_harms_nothing(
    begins: str,
    library: Library,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(player, "PATIENCE", 1.0)
    library(begins=begins)
    with pytest.raises(TrainerError) as raised:
        Player().play_to_end(ramp)
    assert str(raised.value) == NO_ANSWER
    assert capfd.readouterr() == ("", "")  # nothing of it reaches the screen


def test_when_the_program_has_gone_the_sound_stops(library: Library) -> None:
    library(between="time.sleep(0.05)")
    told, one = Told(), Player()
    one.play(lambda: ramp(10 * RATE), told)
    assert told.once.wait(PATIENCE)
    process = one._process
    assert process is not None
    assert process.stdin is not None
    process.stdin.close()  # as the system does when a process ends
    assert process.wait(PATIENCE) == 0


def test_without_the_library_it_says_so_and_starts_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(player, "find_spec", lambda _: None)
    monkeypatch.setattr("subprocess.Popen", None)
    assert trouble() == NO_LIBRARY
    told, one = Told(), Player()
    one.play(ramp, told)
    assert told.all == [NO_LIBRARY]
    assert not one.plays
    one.stop()
    with pytest.raises(TrainerError) as raised:
        one.play_to_end(ramp)
    assert str(raised.value) == NO_LIBRARY


@pytest.mark.skipif(find_spec("miniaudio") is None, reason="the extra `sound` is not installed")
def test_the_real_library_takes_as_long_as_the_sound() -> None:
    """On its own device that swallows the sound, so that no loudspeaker is needed."""
    began = time.monotonic()
    Player("NULL").play_to_end(lambda: array("h", bytes(RATE)))  # half a second
    assert time.monotonic() - began >= 0.5
    long = Player("NULL")
    told = Told()
    long.play(lambda: array("h", bytes(2 * 60 * RATE)), told)
    assert told.once.wait(PATIENCE)
    assert told.all == [""]
    long.stop()
    assert not long.plays


@given(st.binary(max_size=200), st.lists(st.integers(1, 40), min_size=200, max_size=200))
def test_frames_are_cut_as_they_are_asked_for(data: bytes, asked: list[int]) -> None:
    over = Event()
    frames = player._frames(data, over)
    next(frames)
    got = b""
    for number in asked:
        try:
            part = frames.send(number)
        except StopIteration:
            break
        assert len(part) <= 2 * number
        got += part
    assert got == data
    assert over.is_set()
