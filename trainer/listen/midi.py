"""Keys from a file, from a port, or from raw bytes: the one import of mido.

Files and ports need the extra `listen`; the parser of raw bytes is our own. The pedal and all
else that is no key is passed over: only where a note begins counts.

Source for the bytes: The Complete MIDI 1.0 Detailed Specification, 1996, "Running Status" and
"System Real Time Messages".
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path
from time import perf_counter
from typing import Any

from trainer.errors import TrainerError
from trainer.listen.model import Heard
from trainer.values import Frozen

NO_LIBRARY = (
    "No instrument can be heard, because the library mido is missing: install it with "
    "`pip install mido`."
)
NO_PORTS = (
    "No instrument can be heard, because the library python-rtmidi is missing or finds no MIDI "
    "system: install it with `pip install python-rtmidi`, or hear a recorded file."
)
NO_DEVICE = (
    "No instrument can be heard, because none is connected: connect one and try again, or hear "
    "a recorded file."
)
LARGEST = 4_000_000  # bytes of a file
LONGEST = 50_000  # keys in a file


class Key(Frozen, frozen=True):
    """A key that went down, or up where `velocity` is 0."""

    pitch: int
    velocity: int


class Parser:
    """Raw MIDI bytes to keys; bytes may come in any portions.

    A message without a status byte of its own has that of the one before (running status).
    Clock and active sensing may stand anywhere, even inside a message, and change nothing; any
    other system message ends the running status. A note on with velocity 0 is a note off.
    """

    def __init__(self) -> None:
        self._status = 0  # 0: none is running, and data is passed over
        self._data: list[int] = []

    def feed(self, data: bytes) -> tuple[Key, ...]:
        """The keys that these bytes complete."""
        return tuple(key for byte in data for key in self._byte(byte))

    def _byte(self, byte: int) -> Iterator[Key]:
        if byte >= 0xF8:  # real time
            return
        if byte >= 0x80:
            self._status = byte if byte < 0xF0 else 0
            self._data = []
            return
        if not self._status:
            return
        self._data.append(byte)
        if len(self._data) < _length(self._status):
            return
        data, self._data = self._data, []
        kind = self._status & 0xF0
        if kind in (0x80, 0x90):
            yield Key(data[0], data[1] if kind == 0x90 else 0)


def _length(status: int) -> int:
    """The data bytes of a channel message."""
    return 1 if status & 0xF0 in (0xC0, 0xD0) else 2


def trouble() -> str:
    """Why no instrument can be heard, as far as that can be known beforehand, or ""."""
    if not find_spec("mido"):
        return NO_LIBRARY
    return "" if find_spec("rtmidi") else NO_PORTS


def read_midi(path: Path) -> tuple[Heard, ...]:
    """The keys that go down in a MIDI file, in order, in seconds from its beginning; of all its
    tracks. Raises TrainerError for every file that gives none."""
    if not find_spec("mido"):
        raise TrainerError(NO_LIBRARY.replace("No instrument can", "No MIDI file can"))
    import mido

    try:
        if path.stat().st_size > LARGEST:
            raise TrainerError(f"{path.name} is too large for one attempt; cut it shorter.")
        file = mido.MidiFile(path, clip=True)
        notes = tuple(_keys(file))
    except OSError as error:
        reason = error.strerror or "it is cut off or no MIDI file"
        raise TrainerError(
            f"{path.name} cannot be read ({reason}); choose a .mid file with the attempt."
        ) from error
    except TrainerError:
        raise
    except Exception as error:  # mido lets through what its own decoding stumbles over
        raise TrainerError(
            f"{path.name} is not a MIDI file that can be read; export it again."
        ) from error
    if len(notes) > LONGEST:
        raise TrainerError(f"{path.name} is too long for one attempt; cut it shorter.")
    return notes


def _keys(file: Any) -> Iterator[Heard]:
    seconds = 0.0
    for message in file:
        seconds += message.time
        if message.type == "note_on" and message.velocity > 0:
            yield Heard(message.note, round(seconds, 6), message.velocity)


def inputs() -> tuple[str, ...]:
    """The names of the instruments that are connected. Raises TrainerError where none can be."""
    if problem := trouble():
        raise TrainerError(problem)
    import mido

    try:
        return tuple(mido.get_input_names())
    except (ImportError, OSError, RuntimeError, SystemError) as error:
        raise TrainerError(NO_PORTS) from error


class Instrument:
    """An open instrument. Keys are stamped as they come, and wait until they are taken.

    `name` is one of `inputs()`, by default the first; raises TrainerError where it cannot be
    opened. `clock` gives seconds.
    """

    def __init__(self, name: str = "", clock: Callable[[], float] = perf_counter) -> None:
        names = inputs()
        if not names:
            raise TrainerError(NO_DEVICE)
        if name and name not in names:
            raise TrainerError(f"{name!r} is not connected; there is {', '.join(names)}.")
        import mido

        self.name = name or names[0]
        self._clock = clock
        self._waiting: deque[tuple[float, int, int]] = deque(maxlen=LONGEST)
        try:
            self._port = mido.open_input(self.name, callback=self._came)
        except (ImportError, OSError, RuntimeError, SystemError) as error:
            raise TrainerError(
                f"{self.name} cannot be opened; close what else uses it and try again."
            ) from error

    def _came(self, message: Any) -> None:
        now = self._clock()
        if message.type == "note_on" and message.velocity > 0:
            self._waiting.append((now, message.note, message.velocity))

    def take(self, since: float = 0.0) -> tuple[Heard, ...]:
        """The keys that went down since the last taking, in seconds since `since`."""
        found = []
        while self._waiting:
            at, pitch, velocity = self._waiting.popleft()
            found.append(Heard(pitch, at - since, velocity))
        return tuple(found)

    @property
    def connected(self) -> bool:
        """Whether it is still there; ask every second or two, not more often."""
        try:
            return self.name in inputs()
        except TrainerError:
            return False

    def close(self) -> None:
        self._port.close()
