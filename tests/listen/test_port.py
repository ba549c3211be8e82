"""Ports: played by a program, through a real pipe, a real terminal device and real sockets."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import threading
import tty
from collections.abc import Callable, Iterator
from pathlib import Path
from time import monotonic, perf_counter, sleep

import pytest

from tests.listen.test_wire import CLOCK, SENSING
from trainer.errors import TrainerError
from trainer.listen.midi import open_port
from trainer.listen.port import (
    MOST,
    Event,
    MemoryPort,
    Port,
    RawPort,
    WirePort,
    refuse_portless,
)

DEADLINE = 10.0


def until(there: Callable[[], bool]) -> None:
    """Waits for something, and fails where it does not come."""
    end = monotonic() + DEADLINE
    while not there():
        assert monotonic() < end, "it did not come"
        sleep(0.001)


def taken(port: Port, count: int) -> list[Event]:
    """That many events, as they come."""
    found: list[Event] = []

    def come() -> bool:
        found.extend(port.take())
        return len(found) >= count

    until(come)
    return found


def pitches(port: Port, count: int) -> list[int]:
    return [event.pitch for event in taken(port, count)]


class Clock:
    def __init__(self) -> None:
        self.now = 5.0

    def __call__(self) -> float:
        return self.now


# memory


def test_what_is_played_is_taken_once_with_its_time() -> None:
    clock = Clock()
    port = MemoryPort(clock)
    port.play(60, 80)
    clock.now = 6.0
    port.play(62, 0)  # goes up
    port.pedal(64, 100)
    port.pedal(64, 127)
    port.pedal(64, 10)
    port.pedal(64, 64)
    assert port.take() == (
        Event(60, 5.0, 80),
        Event(0, 6.0, 100, pedal=64),
        Event(0, 6.0, 64, pedal=64),
    )
    assert port.take() == ()


def test_a_pulled_cable() -> None:
    port = MemoryPort(Clock())
    port.play(60)
    port.pedal(67)
    port.pull()
    port.play(61)
    assert not port.connected
    port.plug()
    assert port.connected
    port.play(62)
    port.pedal(67)
    assert [(event.pitch, event.pedal) for event in port.take()] == [
        (60, 0), (0, 67), (62, 0), (0, 67),
    ]  # fmt: skip
    port.close()
    assert not port.connected


def test_what_is_never_taken_does_not_pile_up() -> None:
    port = MemoryPort(Clock())
    for i in range(MOST + 100):
        port.play(i % 128)
    found = port.take()
    assert len(found) == MOST
    assert found[0].pitch == 100


# a pipe


@pytest.fixture
def pipe(tmp_path: Path) -> Path:
    path = tmp_path / "keys"
    os.mkfifo(path)
    return path


@pytest.fixture
def raw(pipe: Path) -> Iterator[RawPort]:
    port = RawPort(pipe)
    yield port
    port.close()


def write(path: Path, *portions: bytes) -> None:
    """Opens the pipe, writes, and goes away."""
    with path.open("wb", buffering=0) as writer:
        for portion in portions:
            writer.write(portion)


def test_bytes_through_a_pipe(raw: RawPort, pipe: Path) -> None:
    """Running status, clock and active sensing in between, keys that go up, a pedal, and a cut in
    the middle of a message."""
    before = perf_counter()
    write(
        pipe,
        b"\x90\x3c" + CLOCK + b"\x40" + SENSING + b"\x3e\x41\x3c\x00" + CLOCK,
        b"\x40",
        b"\x42\x80\x3e\x40\xb0\x43\x7f\x91\x41\x01",
    )
    found = taken(raw, 5)
    assert [(event.pitch, event.velocity, event.pedal) for event in found] == [
        (60, 64, 0), (62, 65, 0), (64, 66, 0), (0, 127, 67), (65, 1, 0),
    ]  # fmt: skip
    times = [before, *(event.time for event in found), perf_counter()]
    assert times == sorted(times)


def test_a_writer_that_goes_away_and_comes_back(raw: RawPort, pipe: Path) -> None:
    assert not raw.connected
    for pitch in (60, 61, 62):
        with pipe.open("wb", buffering=0) as writer:
            until(lambda: raw.connected)
            writer.write(bytes([0x90, pitch, 64]))
            assert pitches(raw, 1) == [pitch]
            assert raw.connected
            writer.write(b"\x90\x20")  # and is cut off
        until(lambda: not raw.connected)
    write(pipe, b"\x40\x90\x3f\x40")  # its first byte belongs to nothing
    assert pitches(raw, 1) == [63]


def test_a_pipe_that_is_made_anew(raw: RawPort, pipe: Path) -> None:
    write(pipe, b"\x90\x3c\x40")
    assert pitches(raw, 1) == [60]
    pipe.unlink()
    until(lambda: not raw.connected)
    os.mkfifo(pipe)
    write(pipe, b"\x90\x3d\x40")
    assert pitches(raw, 1) == [61]


def test_another_process_plays(raw: RawPort, pipe: Path) -> None:
    code = "import sys; open(sys.argv[1], 'wb').write(bytes(b for p in range(100) for b in "
    code += "(0x90, p, 64, 0x80, p, 64)))"
    subprocess.run([sys.executable, "-c", code, str(pipe)], check=True, timeout=DEADLINE)
    assert pitches(raw, 100) == list(range(100))


def test_a_pipe_that_is_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "later"
    with pytest.raises(TrainerError, match=r"later cannot be heard \(No such file"):
        RawPort(path)
    port = RawPort(path, waits=True)
    try:
        assert not port.connected
        os.mkfifo(path)
        write(path, b"\x90\x3c\x40")
        assert pitches(port, 1) == [60]
    finally:
        port.close()


@pytest.mark.parametrize("waits", [False, True])
def test_a_file_or_a_folder_is_no_instrument(tmp_path: Path, waits: bool) -> None:
    (tmp_path / "a.mid").write_bytes(b"MThd")
    for path in (tmp_path, tmp_path / "a.mid"):
        with pytest.raises(TrainerError, match=r"neither a pipe nor a device.*\.$"):
            RawPort(path, waits=waits)


def test_a_closed_port_leaves_no_thread(pipe: Path) -> None:
    port = RawPort(pipe)
    with pipe.open("wb", buffering=0) as writer:
        until(lambda: port.connected)
        port.close()
        assert not port.connected
        until(lambda: not any("listen to" in one.name for one in threading.enumerate()))
        with pytest.raises(BrokenPipeError):
            writer.write(b"\x90\x3c\x40")
    assert port.take() == ()


def test_ten_thousand_events_a_second_through_a_pipe(raw: RawPort, pipe: Path) -> None:
    count = 0
    data = b"\x90" + bytes(byte for i in range(1000) for byte in (i % 128, 64))
    with pipe.open("wb", buffering=0) as writer:
        for _ in range(10):
            writer.write(data)
            count += len(taken(raw, 1000))
    assert count == 10_000


# a device


def test_a_device_that_is_unplugged(tmp_path: Path) -> None:
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    link = tmp_path / "device"
    link.symlink_to(os.ttyname(theirs))
    port = RawPort(link)
    again: tuple[int, int] | None = None
    try:
        until(lambda: port.connected)
        os.write(ours, b"\x90\x3c\x40\x3e\x41")
        assert pitches(port, 2) == [60, 62]
        os.close(ours)
        os.close(theirs)
        until(lambda: not port.connected)
        again = os.openpty()
        tty.setraw(again[1])
        link.unlink()
        link.symlink_to(os.ttyname(again[1]))
        until(lambda: port.connected)
        os.write(again[0], b"\x90\x3f\x40")
        assert pitches(port, 1) == [63]
    finally:
        port.close()
        for end in again or ():
            os.close(end)


# another program


def free() -> int:
    """The number of a port that nobody uses."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        number: int = server.getsockname()[1]
    return number


def test_a_server_of_mido_is_heard_and_heard_again() -> None:
    pytest.importorskip("mido")
    from mido import Message
    from mido.sockets import PortServer

    number = free()
    with pytest.raises(TrainerError, match=f"Nothing answers at 127.0.0.1:{number}"):
        WirePort("127.0.0.1", number)
    port = WirePort("127.0.0.1", number, waits=True)
    try:
        for pitch in (60, 70):
            server = PortServer("127.0.0.1", number)
            one = server.accept()  # waits for it to call
            until(lambda: port.connected)
            one.send(Message("note_on", note=pitch, velocity=40))
            one.send(Message("note_off", note=pitch))
            one.send(Message("control_change", control=67, value=127))
            one.send(Message("note_on", note=pitch + 1, velocity=0))
            one.send(Message("note_on", note=pitch + 2))
            assert [(event.pitch, event.pedal) for event in taken(port, 3)] == [
                (pitch, 0), (0, 67), (pitch + 2, 0),
            ]  # fmt: skip
            hang_up(one)
            hang_up(server)
            until(lambda: not port.connected)
    finally:
        port.close()


def hang_up(mine: object) -> None:
    """Closes a port of mido with its socket: mido leaves the latter to the files made of it."""
    for name in ("_rfile", "_wfile"):
        if hasattr(mine, name):
            getattr(mine, name).close()
    mine.close()  # type: ignore[attr-defined]


def test_bytes_from_a_socket_in_any_portions() -> None:
    """Also those that mido's own parser loses: running status with clock in between."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = WirePort("127.0.0.1", server.getsockname()[1])
        try:
            assert port.connected
            ours, _ = server.accept()
            with ours:
                for byte in b"\x90\x3c" + CLOCK + b"\x40\x3e" + SENSING + b"\x41\x40\x42":
                    ours.sendall(bytes([byte]))
                assert pitches(port, 3) == [60, 62, 64]
        finally:
            port.close()


@pytest.mark.parametrize(
    "text", ["192.168.0.5", "localhost", "piano.local", " Piano.Local: ", "10.0.0.1:"]
)
def test_an_address_without_a_port_is_refused_kindly(text: str) -> None:
    with pytest.raises(TrainerError, match=r"has no port; write it with one, such as .*:5004"):
        refuse_portless(text)
    with pytest.raises(TrainerError, match="has no port"):
        open_port(text, waits=True)


@pytest.mark.parametrize(
    "text", ["Piano 20:0", "any", "P-45", "Dig. Piano", "piano.local:5004", ""]
)
def test_a_name_or_a_whole_address_is_no_address_without_a_port(text: str) -> None:
    refuse_portless(text)
