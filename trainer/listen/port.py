"""Where keys come from, and all that listening wants of it: what went down, and when.

A port stamps what comes as it comes and keeps it until it is taken; to take never waits. A key
that goes up, how long it was held and where a pedal stands are of no interest, so that neither a
note that never ends nor a stuck pedal does harm.

`MemoryPort` is played by a program. `RawPort` reads the bytes of MIDI from a pipe or a device, and
`WirePort` from another computer, both in a thread of their own and with no library. Instruments
that the system knows are in `midi.py`.
"""

from __future__ import annotations

import errno
import os
import re
import select
import socket
import stat
from collections import deque
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from threading import Event as Flag
from threading import Thread
from time import perf_counter
from typing import Protocol

from trainer.errors import TrainerError
from trainer.listen.model import Heard
from trainer.listen.wire import Key, Parser, Pedal
from trainer.values import Frozen

MOST = 20_000  # events that wait to be taken; of more the oldest are lost
DOWN = 64  # a pedal's value from which on it is down
PORTION = 4096  # bytes read at once
WAIT = 0.1  # seconds a reader waits for bytes before it looks whether it is to stop
AGAIN = 0.03  # seconds until it looks for a writer again
LATER = 0.5  # seconds until it looks again for what was lost
REACH = 2.0  # seconds within which another computer has to answer

Clock = Callable[[], float]


_HOST = re.compile(
    r"localhost|(\d{1,3}\.){3}\d{1,3}|[\w-]+(\.[\w-]+)*\.(local|lan|home|net|com|org)"
)


def refuse_portless(text: str) -> None:
    """Raises TrainerError for the name or number of another computer without a port: no instrument
    is called so, and nothing would ever come from there."""
    if _HOST.fullmatch(text.strip().casefold().rstrip(":")):
        host = text.strip().rstrip(":")
        raise TrainerError(f"{host!r} has no port; write it with one, such as {host}:5004.")


class Event(Frozen, frozen=True):
    """A key that went down (`pitch`, a MIDI note number), or a pedal (`pedal`, its controller: 64,
    66 or 67; else 0). `time` is in seconds on the port's clock, `velocity` 1 to 127, `chance` how
    likely it is that it went down."""

    pitch: int
    time: float
    velocity: int = 64
    pedal: int = 0
    chance: float = 1.0

    def since(self, zero: float) -> Heard:
        """The key as a listener takes it, in seconds since `zero`."""
        return Heard(self.pitch, self.time - zero, self.velocity, self.chance)


class Port(Protocol):
    """An instrument, or what stands for one."""

    @property
    def name(self) -> str: ...

    @property
    def delay(self) -> float:
        """How many seconds old a key may be when it comes."""

    @property
    def note(self) -> str:
        """How well it is heard, in a sentence; "" where that is no question."""

    @property
    def connected(self) -> bool:
        """Whether something can come; costs nothing to ask. Where it was lost and comes back, it
        is heard again."""

    def take(self) -> tuple[Event, ...]:
        """All that went down since the last taking, in order. To be called often: this is also
        where a port looks whether its instrument is still there."""

    def close(self) -> None:
        """Let go of it. What still waits can be taken."""


class Inbox:
    """Events that wait to be taken, from whatever thread they came. A pedal counts as it passes
    the middle on its way down."""

    def __init__(self) -> None:
        self._waiting: deque[Event] = deque(maxlen=MOST)
        self._down: set[int] = set()

    def key(self, pitch: int, velocity: int, time: float) -> None:
        """A key moved; only one that went down is kept."""
        if velocity > 0:
            self._waiting.append(Event(pitch, time, velocity))

    def stroke(self, pitch: int, chance: float, time: float) -> None:
        """A key seems to have gone down."""
        self._waiting.append(Event(pitch, time, chance=chance))

    def pedal(self, controller: int, value: int, time: float) -> None:
        """A pedal moved."""
        if value < DOWN:
            self._down.discard(controller)
        elif controller not in self._down:
            self._down.add(controller)
            self._waiting.append(Event(0, time, min(127, value), controller))

    def lost(self) -> None:
        """The instrument has gone: no pedal is down."""
        self._down.clear()

    def take(self) -> tuple[Event, ...]:
        """All that waits, the oldest first."""
        found = []
        with suppress(IndexError):
            for _ in range(MOST):  # what comes meanwhile can wait
                found.append(self._waiting.popleft())
        return tuple(found)


class Cable:
    """What is the same of all ports whose keys are told as such."""

    delay = 0.0
    note = ""


class MemoryPort(Cable):
    """A port that is played by a program, on the clock that it is given."""

    def __init__(self, clock: Clock = perf_counter, name: str = "memory") -> None:
        self.name = name
        self._clock = clock
        self._inbox = Inbox()
        self._plugged, self._open = True, True

    @property
    def connected(self) -> bool:
        return self._plugged and self._open

    def play(self, pitch: int, velocity: int = 64) -> None:
        """Press a key now. Nothing comes through a pulled cable."""
        if self.connected:
            self._inbox.key(pitch, velocity, self._clock())

    def pedal(self, controller: int, value: int = 127) -> None:
        """Move a pedal now: 64 and more is down."""
        if self.connected:
            self._inbox.pedal(controller, value, self._clock())

    def pull(self) -> None:
        self._plugged = False
        self._inbox.lost()

    def plug(self) -> None:
        self._plugged = True

    def take(self) -> tuple[Event, ...]:
        return self._inbox.take()

    def close(self) -> None:
        self._open = False


class Source(Protocol):
    """Where bytes come from."""

    def read(self) -> bytes | None:
        """Bytes, after waiting at most WAIT seconds; None where none came, b"" where nobody is
        there to send any. Opens what is not open. Raises OSError where it is lost."""

    def close(self) -> None: ...


class InThread:
    """A port that a thread of its own fills, by `_read`, until it is told to stop."""

    def __init__(self, name: str, clock: Clock, *, there: bool) -> None:
        self.name = name
        self._clock, self._inbox = clock, Inbox()
        self._there, self._stop = there, Flag()
        self._thread = Thread(target=self._read, name=f"listen to {name}", daemon=True)
        self._thread.start()

    def _read(self) -> None:
        raise NotImplementedError

    @property
    def connected(self) -> bool:
        return self._there and not self._stop.is_set()

    def take(self) -> tuple[Event, ...]:
        return self._inbox.take()

    def close(self) -> None:
        self._stop.set()
        self._thread.join(2 * WAIT)


class _Reader(InThread, Cable):
    """A port over a source of bytes: stamps what it reads, and goes on when the other side has
    gone and comes back."""

    def __init__(self, name: str, source: Source, clock: Clock, *, there: bool) -> None:
        self._source = source
        super().__init__(name, clock, there=there)

    def _read(self) -> None:
        parser = Parser()
        while not self._stop.is_set():
            pause = AGAIN
            try:
                data = self._source.read()
            except OSError:
                self._source.close()
                data, pause = b"", LATER
            now = self._clock()
            self._there = data != b""
            if data:
                self._put(parser.feed(data), now)
            elif not self._there:
                parser = Parser()
                self._inbox.lost()
                self._stop.wait(pause)
        self._source.close()

    def _put(self, moved: Iterable[Key | Pedal], now: float) -> None:
        for one in moved:
            if isinstance(one, Key):
                self._inbox.key(one.pitch, one.velocity, now)
            else:
                self._inbox.pedal(one.controller, one.value, now)


class _Pipe:
    """A named pipe or a character device, read without waiting for it. A pipe without a writer is
    kept open, so that one who comes finds somebody who reads."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._file = -1

    def open(self) -> None:
        """Raises OSError where it cannot be opened, or is neither a pipe nor a device."""
        file = os.open(self._path, os.O_RDONLY | os.O_NONBLOCK | os.O_NOCTTY)
        mode = os.fstat(file).st_mode
        if not (stat.S_ISFIFO(mode) or stat.S_ISCHR(mode)):
            os.close(file)
            raise OSError(errno.ENOTSUP, "neither a pipe nor a device")
        self._file = file

    def read(self) -> bytes | None:
        if self._file < 0:
            self.open()
        try:
            data = os.read(self._file, PORTION)
        except BlockingIOError:
            if not select.select([self._file], [], [], WAIT)[0]:
                return None
            try:
                data = os.read(self._file, PORTION)
            except BlockingIOError:
                return None
        if not data and not self._stands():
            raise OSError(errno.ENODEV, "gone")
        return data

    def _stands(self) -> bool:
        """Whether it is a pipe, and still the one at that path."""
        here = os.fstat(self._file)
        return stat.S_ISFIFO(here.st_mode) and os.path.samestat(here, self._path.stat())

    def close(self) -> None:
        if self._file >= 0:
            with suppress(OSError):
                os.close(self._file)
        self._file = -1


class RawPort(_Reader):
    """Raw MIDI bytes from a pipe or a character device, stamped as they are read.

    A writer that goes away is not connected, and one that comes back is. Raises TrainerError where
    there is no such pipe or device, unless it `waits` for one to be there.
    """

    def __init__(self, path: Path, clock: Clock = perf_counter, *, waits: bool = False) -> None:
        if not hasattr(os, "O_NONBLOCK"):
            raise TrainerError(
                f"{path} cannot be heard on this system; name an instrument, or HOST:PORT."
            )
        source = _Pipe(path)
        try:
            source.open()
        except OSError as error:
            if not waits or error.errno == errno.ENOTSUP:
                reason = error.strerror or "no reason given"
                raise TrainerError(
                    f"{path} cannot be heard ({reason}); name a pipe or a MIDI device."
                ) from error
        super().__init__(str(path), source, clock, there=False)


class _Wire:
    """A connection to another program that sends MIDI bytes."""

    def __init__(self, host: str, number: int) -> None:
        self._address = (host, number)
        self._socket: socket.socket | None = None

    def open(self) -> None:
        try:
            self._socket = socket.create_connection(self._address, REACH)
        except UnicodeError as error:  # a name that no host can have
            raise OSError(errno.EINVAL, "no name of a host") from error
        self._socket.settimeout(WAIT)

    def read(self) -> bytes | None:
        if self._socket is None:
            self.open()
        assert self._socket is not None
        try:
            data = self._socket.recv(PORTION)
        except TimeoutError:
            return None
        if not data:
            raise ConnectionResetError
        return data

    def close(self) -> None:
        if self._socket is not None:
            self._socket.close()
        self._socket = None


class WirePort(_Reader):
    """Raw MIDI bytes from a program that serves them at `host` and `number`, as mido's
    `PortServer` does; it is called again where it has gone. Raises TrainerError where nobody
    answers, unless it `waits` for somebody."""

    def __init__(
        self, host: str, number: int, clock: Clock = perf_counter, *, waits: bool = False
    ) -> None:
        source = _Wire(host, number)
        try:
            if not waits:
                source.open()
        except OSError as error:
            raise TrainerError(
                f"Nothing answers at {host}:{number}; start the program that serves the "
                "instrument there."
            ) from error
        super().__init__(f"{host}:{number}", source, clock, there=not waits)
