"""Keys from files and from instruments. The bytes are worked out by hand from the Complete MIDI
1.0 Detailed Specification (1996), standard MIDI files."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from types import ModuleType

import pytest

from trainer.errors import TrainerError
from trainer.listen import midi
from trainer.listen.midi import LOOK, Instrument, inputs, open_port, read_midi
from trainer.listen.model import Heard
from trainer.listen.port import Event, RawPort, WirePort


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
    monkeypatch.setattr(midi, "find_spec", lambda name: None if name == "rtmidi2" else object())
    with pytest.raises(TrainerError, match="pip install mido rtmidi2"):
        inputs()


def test_a_linux_without_a_midi_system_is_not_asked(
    backend: Backend, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The library would write its own complaint onto the terminal."""
    made = backend("Organ")
    monkeypatch.setattr(midi, "SEQUENCER", tmp_path / "none")
    monkeypatch.setattr(sys, "platform", "linux")
    with pytest.raises(TrainerError, match="no MIDI system"):
        inputs()
    assert made.looks == 0


@dataclass
class System:
    """A library in the place of rtmidi2, with these instruments. It counts how often their names
    were read."""

    names: list[str]
    fails: type[BaseException] | None = None
    callbacks: dict[str, Callable[[list[int], float], None]] = field(default_factory=dict)
    closed: list[str] = field(default_factory=list)
    looks: int = 0
    busy: bool = False

    def get_in_ports(self) -> list[str]:
        self.looks += 1
        if self.fails is not None:
            raise self.fails("no such thing")
        return list(self.names)

    def open(self, port: Port, number: int) -> None:
        if self.busy:
            raise OSError("busy")
        port.name = self.names[number]
        self.callbacks[port.name] = port.callback

    def send(self, name: str, *message: int) -> None:
        """The bytes of one of them, whether anybody listens to it or not."""
        if name in self.callbacks:
            self.callbacks[name](list(message), 0.0)

    def press(self, name: str, note: int, velocity: int = 64) -> None:
        self.send(name, 0x90, note, velocity)

    def tread(self, name: str, control: int, value: int) -> None:
        self.send(name, 0xB0, control, value)


@dataclass
class Port:
    """A MidiIn of that library."""

    system: System
    callback: Callable[[list[int], float], None] = lambda *_: None
    name: str = ""

    def open_port(self, number: int) -> None:
        self.system.open(self, number)

    def close_port(self) -> None:
        self.system.closed.append(self.name)


Backend = Callable[..., System]


@pytest.fixture
def backend(monkeypatch: pytest.MonkeyPatch) -> Backend:
    """Puts a system with these instruments in the place of rtmidi2."""

    def put(*names: str, fails: type[BaseException] | None = None) -> System:
        made = System(list(names), fails)
        library = ModuleType("rtmidi2")
        library.__dict__.update(get_in_ports=made.get_in_ports, MidiIn=partial(Port, made))
        monkeypatch.setitem(sys.modules, "rtmidi2", library)
        monkeypatch.setattr(midi, "find_spec", anything)
        monkeypatch.setattr(midi, "SEQUENCER", Path.cwd())
        return made

    return put


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


@pytest.mark.parametrize("error", [SystemError, RuntimeError, OSError, ModuleNotFoundError])
def test_a_machine_without_a_midi_system_is_one_sentence(
    backend: Backend, error: type[BaseException]
) -> None:
    backend(fails=error)
    with pytest.raises(TrainerError, match="No instrument can be heard"):
        inputs()


def test_keys_and_pedals_are_stamped_as_they_come(backend: Backend) -> None:
    made, clock = backend("Piano", "Organ"), Clock()
    instrument = Instrument("Organ", clock)
    made.press("Organ", 60)
    clock.now += 0.25
    made.press("Organ", 60, 0)
    made.tread("Organ", 67, 30)
    made.tread("Organ", 7, 127)  # the volume
    made.tread("Organ", 67, 64)
    made.tread("Organ", 67, 127)  # further down
    clock.now += 0.25
    made.press("Organ", 62, 65)
    assert instrument.take() == (
        Event(60, 100.0, 64),
        Event(0, 100.25, 64, pedal=67),
        Event(62, 100.5, 65),
    )
    assert instrument.take() == ()
    instrument.close()
    assert made.closed == ["Organ"]
    assert not instrument.connected


def test_another_keyboard_is_not_listened_to(backend: Backend) -> None:
    made = backend("Piano", "Organ")
    instrument = Instrument("Organ", Clock())
    made.press("Piano", 50)
    made.press("Organ", 60)
    assert [event.pitch for event in instrument.take()] == [60]
    assert list(made.callbacks) == ["Organ"]


def test_it_is_opened_again_when_it_is_back(backend: Backend) -> None:
    """With another number after its name, as the system may give it; and a keyboard of the same
    make that was there all the time is not taken for it."""
    made, clock = backend("Organ 20:0", "Organ 24:0"), Clock()
    instrument = Instrument("Organ 24:0", clock)
    made.tread("Organ 24:0", 67, 127)
    made.names.remove("Organ 24:0")
    assert instrument.take()
    assert instrument.connected  # nobody has looked yet
    clock.now += LOOK
    assert instrument.take() == ()
    assert not instrument.connected
    assert made.closed == ["Organ 24:0"]
    made.press("Organ 20:0", 50)
    clock.now += LOOK
    assert instrument.take() == ()
    assert not instrument.connected
    made.names.append("Organ 28:0")
    clock.now += LOOK
    instrument.take()
    assert (instrument.connected, instrument.name) == (True, "Organ 28:0")
    made.press("Organ 28:0", 60)
    made.tread("Organ 28:0", 67, 127)  # a pedal that was down when it went is not down for ever
    assert [(event.pitch, event.pedal) for event in instrument.take()] == [(60, 0), (0, 67)]


def test_names_are_read_now_and_then_however_often_it_is_asked(backend: Backend) -> None:
    made, clock = backend("Organ"), Clock()
    instrument = Instrument("", clock)
    before = made.looks
    for _ in range(3000):
        clock.now += 0.01  # half a minute
        instrument.take()
        assert instrument.connected
    assert 15 <= made.looks - before <= 20


def test_a_system_that_fails_for_a_while_is_an_instrument_that_has_gone(backend: Backend) -> None:
    made, clock = backend("Organ"), Clock()
    instrument = Instrument("Organ", clock)
    made.fails = SystemError
    clock.now += LOOK
    assert instrument.take() == ()
    assert not instrument.connected
    made.fails = None
    clock.now += LOOK
    instrument.take()
    assert instrument.connected


def test_one_that_is_waited_for(backend: Backend) -> None:
    made, clock = backend("Midi Through Port-0 14:0"), Clock()
    first = Instrument("", clock, waits=True)
    named = Instrument("harp", clock, waits=True)
    assert not first.connected
    made.names += ["Organ 20:0", "Harp 24:0"]
    clock.now += LOOK
    assert first.take() == named.take() == ()
    assert (first.connected, first.name) == (True, "Organ 20:0")
    assert (named.connected, named.name) == (True, "Harp 24:0")


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ("", "Piano P-1 20:0"),
        ("Piano P-1 20:0", "Piano P-1 20:0"),
        ("Piano P-1 32:0", "Piano P-1 20:0"),
        ("organ", "Organ"),
        ("piano p-1", "Piano P-1 20:0"),
        ("Piano P-12 20:0", "Piano P-12 28:0"),
    ],
)
def test_what_a_name_means(backend: Backend, wanted: str, found: str) -> None:
    backend("Midi Through Port-0 14:0", "Piano P-1 20:0", "Piano P-12 28:0", "Organ")
    assert Instrument(wanted).name == found


@pytest.mark.parametrize(
    ("names", "wanted", "told"),
    [
        ((), "", "none is connected"),
        (("Midi Through Port-0 14:0",), "", "none is connected"),
        (("Piano", "Organ"), "Harp", "'Harp' is not connected; there is Piano, Organ"),
        (("Piano 1", "Piano 2"), "Pia", "'Pia' is the beginning of more than one"),
    ],
)
def test_no_instrument_is_one_sentence(
    backend: Backend, names: tuple[str, ...], wanted: str, told: str
) -> None:
    backend(*names)
    with pytest.raises(TrainerError, match=rf"{told}.*\.$"):
        Instrument(wanted)


def test_one_that_cannot_be_opened_is_one_sentence(backend: Backend) -> None:
    backend("Organ").busy = True
    with pytest.raises(TrainerError, match=r"^Organ cannot be opened; .*\.$"):
        Instrument("Organ")


def test_a_text_names_a_port(backend: Backend, tmp_path: Path) -> None:
    backend("Organ", "Piano 20:0")
    assert open_port().name == "Organ"
    assert open_port(" Piano 20:0 ").name == "Piano 20:0"
    pipe = tmp_path / "keys"
    os.mkfifo(pipe)
    raw = open_port(str(pipe))
    assert isinstance(raw, RawPort)
    raw.close()
    wire = open_port("127.0.0.1:9", waits=True)
    assert isinstance(wire, WirePort)
    wire.close()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("/none/such", "/none/such cannot be heard (No such file or directory)"),
        ("127.0.0.1:1", "Nothing answers at 127.0.0.1:1"),
        ("a..b:9080", "Nothing answers at a..b:9080"),
        ("Harp", "'Harp' is not connected; there is Organ."),
        ("Harp:99999", "99999 is not a port; write HOST:PORT with a port from 1 to 65535."),
    ],
)
def test_what_cannot_be_opened_is_one_sentence(backend: Backend, text: str, told: str) -> None:
    backend("Organ")
    with pytest.raises(TrainerError) as caught:
        open_port(text)
    assert str(caught.value).startswith(told)
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)


def test_a_machine_without_midi_is_not_told_to_install_a_library(backend: Backend) -> None:
    backend(fails=SystemError)
    with pytest.raises(TrainerError, match="no MIDI system") as raised:
        inputs()
    assert "install" not in str(raised.value)
    assert "HOST:PORT" in str(raised.value)
