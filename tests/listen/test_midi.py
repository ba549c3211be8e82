"""Keys from raw bytes and from files. The bytes are worked out by hand from the Complete MIDI 1.0
Detailed Specification (1996): running status, system real time, standard MIDI files."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.errors import TrainerError
from trainer.listen import midi
from trainer.listen.midi import Instrument, Key, Parser, inputs, read_midi
from trainer.listen.model import Heard

CLOCK, SENSING = b"\xf8", b"\xfe"


def keys(data: bytes) -> tuple[Key, ...]:
    return Parser().feed(data)


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"\x90\x3c\x40\x80\x3c\x40", [(60, 64), (60, 0)]),
        (b"\x90\x3c\x40\x3e\x41\x3c\x00", [(60, 64), (62, 65), (60, 0)]),  # running status
        (b"\x9f\x3c\x40", [(60, 64)]),  # any channel
        (b"\x90" + CLOCK + b"\x3c" + SENSING + b"\x40" + CLOCK + b"\x3e\x41", [(60, 64), (62, 65)]),
        (b"\xb0\x40\x7f\x90\x3c\x40", [(60, 64)]),  # the pedal
        (b"\xb0\x40\x7f\x41\x00\x90\x3c\x40", [(60, 64)]),  # and more of the like
        (b"\xc0\x05\x07\x90\x3c\x40", [(60, 64)]),  # a message with one byte of data
        (b"\x90\x3c\x40\xf0\x7e\x3c\x40\xf7\x3e\x41", [(60, 64)]),  # ends the running status
        (b"\x90\x3c\x40\xf6\x3e\x41\x90\x3e\x41", [(60, 64), (62, 65)]),
        (b"\xf2\x3c\x40\x90\x3e\x41", [(62, 65)]),  # song position
        (b"\x3c\x40\x90\x3c\x40", [(60, 64)]),  # came in the middle
        (b"\x90\x3c\x90\x3e\x41", [(62, 65)]),  # broken off
        (b"", []),
    ],
)
def test_bytes_by_hand(data: bytes, expected: list[tuple[int, int]]) -> None:
    assert [(key.pitch, key.velocity) for key in keys(data)] == expected


def test_two_hundred_keys_with_clock_and_sensing_between_all_their_bytes() -> None:
    data = b"\x90" + b"".join(bytes([i % 128, 1 + i % 127]) for i in range(200))
    mixed = b"".join(bytes([byte]) + CLOCK + SENSING for byte in data)
    assert len(keys(mixed)) == 200
    assert keys(mixed) == keys(data)


@given(st.binary(max_size=200), st.integers(0, 200))
def test_the_portions_do_not_matter_and_keys_are_keys(data: bytes, cut: int) -> None:
    parser = Parser()
    assert parser.feed(data[:cut]) + parser.feed(data[cut:]) == keys(data)
    assert all(key.pitch < 128 and key.velocity < 128 for key in keys(data))


def track(data: bytes, kind: bytes = b"MTrk") -> bytes:
    return kind + len(data).to_bytes(4, "big") + data


def midi_file(*tracks: bytes, form: int = 1) -> bytes:
    """480 ticks a quarter; without a tempo a quarter lasts half a second."""
    head = form.to_bytes(2, "big") + len(tracks).to_bytes(2, "big") + (480).to_bytes(2, "big")
    return track(head, b"MThd") + b"".join(track(data + b"\x00\xff\x2f\x00") for data in tracks)


RIGHT = (
    b"\x00\xb0\x40\x7f"  # pedal down
    b"\x83\x60\x90\x3c\x40"  # 480 ticks on: C
    b"\x83\x60\x3c\x00"  # running status: up
    b"\x00\x3e\x41"  # and D at once
)
LEFT = b"\x83\x60\x91\x30\x50\x83\x60\x81\x30\x40"


def test_a_file_with_two_tracks(tmp_path: Path) -> None:
    pytest.importorskip("mido")
    path = tmp_path / "a.mid"
    path.write_bytes(midi_file(RIGHT, LEFT))
    found = sorted(read_midi(path), key=lambda note: (note.time, -note.pitch))
    assert found == [Heard(60, 0.5, 64), Heard(48, 0.5, 80), Heard(62, 1.0, 65)]


def test_a_tempo_in_the_file_counts(tmp_path: Path) -> None:
    pytest.importorskip("mido")
    path = tmp_path / "a.mid"
    slow = b"\x00\xff\x51\x03\x0f\x42\x40"  # a quarter in a second
    path.write_bytes(midi_file(slow + RIGHT, form=0))
    assert [note.time for note in read_midi(path)] == [1.0, 2.0]


@pytest.mark.parametrize(
    "data",
    [b"", b"MThd", b"no midi at all" * 9, midi_file(RIGHT)[:-9], midi_file(RIGHT, LEFT, form=2)],
    ids=["empty", "head", "text", "cut", "form 2"],
)
def test_a_bad_file_is_one_sentence(tmp_path: Path, data: bytes) -> None:
    pytest.importorskip("mido")
    path = tmp_path / "bad.mid"
    path.write_bytes(data)
    with pytest.raises(TrainerError, match=r"^bad\.mid .*\.$"):
        read_midi(path)


def test_no_file_is_one_sentence(tmp_path: Path) -> None:
    pytest.importorskip("mido")
    with pytest.raises(TrainerError, match=r"^none\.mid cannot be read"):
        read_midi(tmp_path / "none.mid")


def nothing(_: str) -> None:
    return None


def anything(_: str) -> object:
    return object()


def test_without_the_libraries_it_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(midi, "find_spec", nothing)
    with pytest.raises(TrainerError, match="pip install mido"):
        inputs()
    with pytest.raises(TrainerError, match=r"No MIDI file can be heard.*pip install mido"):
        read_midi(tmp_path / "a.mid")
    monkeypatch.setattr(midi, "find_spec", lambda name: None if name == "rtmidi" else object())
    with pytest.raises(TrainerError, match="pip install python-rtmidi"):
        inputs()


Backend = Callable[..., SimpleNamespace]


@pytest.fixture
def backend(monkeypatch: pytest.MonkeyPatch) -> Backend:
    """Puts a library in the place of mido, with these instruments; it keeps the callback."""

    def put(*names: str, fails: type[BaseException] | None = None) -> SimpleNamespace:
        made = SimpleNamespace(names=names, callback=None, closed=False)

        def listed() -> list[str]:
            if fails is not None:
                raise fails("no such thing")
            return list(made.names)

        def opened(_: str, callback: Callable[[object], None]) -> SimpleNamespace:
            made.callback = callback
            return SimpleNamespace(close=lambda: setattr(made, "closed", True))

        library = ModuleType("mido")
        library.__dict__.update(get_input_names=listed, open_input=opened)
        monkeypatch.setitem(sys.modules, "mido", library)
        monkeypatch.setattr(midi, "find_spec", anything)
        return made

    return put


@pytest.mark.parametrize("error", [SystemError, RuntimeError, OSError, ModuleNotFoundError])
def test_a_machine_without_a_midi_system_is_one_sentence(
    backend: Backend, error: type[BaseException]
) -> None:
    backend(fails=error)
    with pytest.raises(TrainerError, match="No instrument can be heard"):
        inputs()


def test_keys_are_stamped_as_they_come(backend: Backend) -> None:
    made = backend("Piano", "Organ")
    now = iter([10.5, 10.75, 11.0, 12.0])
    with pytest.raises(TrainerError, match="'Harp' is not connected; there is Piano, Organ"):
        Instrument("Harp")
    instrument = Instrument("Organ", clock=lambda: next(now))
    for kind, note, velocity in (
        ("note_on", 60, 64),
        ("note_on", 60, 0),
        ("control_change", 0, 0),
        ("note_on", 62, 65),
    ):
        made.callback(SimpleNamespace(type=kind, note=note, velocity=velocity))
    assert instrument.take(since=10) == (Heard(60, 0.5, 64), Heard(62, 2.0, 65))
    assert instrument.take() == ()
    assert instrument.connected
    made.names = ("Piano",)
    assert not instrument.connected
    instrument.close()
    assert made.closed


def test_no_instrument_is_one_sentence(backend: Backend) -> None:
    backend()
    with pytest.raises(TrainerError, match="none is connected"):
        Instrument()
