"""A microphone as a port, with a file in the device's place."""

from __future__ import annotations

from array import array
from collections.abc import Callable
from pathlib import Path
from time import monotonic, perf_counter, sleep

import numpy as np
import pytest

from tests.sound.test_strokes import piano
from trainer.errors import TrainerError
from trainer.listen.microphone import Microphone, named, sentence
from trainer.listen.midi import open_port
from trainer.listen.port import Event
from trainer.sound.capture import NO_DEVICE, STANDS_FOR
from trainer.sound.decode import read_sound
from trainer.sound.spectrum import RATE
from trainer.sound.tones import RATE as PLAYED
from trainer.sound.tones import wav

pytest.importorskip("miniaudio")


def sound_file(file: Path, strikes: list[tuple[float, int]], seconds: float) -> Path:
    """A WAV file; put in its place in one step, as a device's sound begins."""
    sound = np.repeat(piano(strikes, seconds), PLAYED // RATE)
    new = file.with_suffix(".new")
    new.write_bytes(wav(array("h", (sound * 32767).astype(np.int16).tobytes())))
    new.rename(file)
    return file


def until(what: Callable[[], object], seconds: float = 20.0) -> bool:
    end = monotonic() + seconds
    while not what() and monotonic() < end:
        sleep(0.02)
    return bool(what())


def test_keys_come_from_a_sound_with_their_chance_and_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "device.wav"
    monkeypatch.setenv(STANDS_FOR, str(file))
    port = open_port("microphone")
    came: list[Event] = []
    try:
        assert until(lambda: port.connected)
        before = perf_counter()
        sound_file(file, [(0.3, 60), (0.6, 67)], 1.2)

        def both() -> bool:
            came.extend(event for event in port.take() if event.chance >= 0.5)
            return {60, 67} <= {event.pitch for event in came}

        assert until(both)
        first, last = (min(e.time for e in came if e.pitch == pitch) for pitch in (60, 67))
        assert 0.2 < first - before < 10  # seconds
        assert last - first == pytest.approx(0.3, abs=0.03)
        assert all(0 < event.chance < 1 for event in came)
        assert port.note
    finally:
        port.close()
    assert not port.connected


def test_without_a_microphone_one_sentence_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(STANDS_FOR, raising=False)
    port = Microphone("no such one as this")
    try:
        assert until(lambda: port.note)
        assert port.note == NO_DEVICE or "is not connected" in port.note
        assert not port.connected
        assert port.take() == ()
    finally:
        port.close()


def test_a_microphone_that_was_pulled_out_is_not_connected(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(STANDS_FOR, str(tmp_path / "device.wav"))
    port = Microphone()
    try:
        assert until(lambda: port.connected)
        assert port._process is not None
        port._process.kill()
        assert until(lambda: not port.connected)
        assert until(lambda: port.connected)  # and is heard again where it comes back
    finally:
        port.close()


@pytest.mark.parametrize(
    ("level", "room", "struck", "begins"),
    [
        (-120.0, -120.0, 0, "Nothing comes"),
        (-30.0, -32.0, 0, "The room is loud"),
        (-70.0, -75.0, 0, "Play a few"),
        (-55.0, -75.0, 9, "Too quiet"),
        (-25.0, -28.0, 9, "Too quiet"),
        (-25.0, -60.0, 9, "I hear you well"),
    ],
)
def test_how_well_it_hears_is_said(level: float, room: float, struck: int, begins: str) -> None:
    assert sentence(level, room, struck).startswith(begins)


@pytest.mark.parametrize(
    ("text", "name"),
    [("microphone", ""), (" Microphone USB one ", "USB one"), ("micro", None), ("any", None)],
)
def test_what_names_a_microphone(text: str, name: str | None) -> None:
    assert named(text) == name


def test_what_is_no_sound_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "a.wav").write_bytes(b"not a sound")
    for name, told in (("a.wav", "not a sound that can be read"), ("b.mp3", "cannot be read")):
        with pytest.raises(TrainerError, match=told):
            read_sound(tmp_path / name)
