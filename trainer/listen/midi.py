"""Keys from a file, and from an instrument that the system knows: the one import of mido, which
reads files, and of rtmidi2, which hears instruments.

Both come with the extra `listen`; pipes, devices and connections (`port.py`) need no library.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator, Sequence
from contextlib import suppress
from importlib.util import find_spec
from pathlib import Path
from time import perf_counter
from typing import Any

from trainer.errors import TrainerError
from trainer.extras import advice
from trainer.listen import microphone as microphones
from trainer.listen.model import Heard
from trainer.listen.port import (
    Cable,
    Clock,
    Event,
    Inbox,
    Port,
    RawPort,
    WirePort,
    refuse_portless,
)
from trainer.listen.wire import Key, Parser

WITHOUT = "A MIDI device's path or HOST:PORT needs no library."
NO_LIBRARY = advice("No instrument can be heard by its name", "listen")
NO_PORTS = f"{NO_LIBRARY} {WITHOUT}"
NO_SYSTEM = (
    "No instrument can be heard by its name, because this machine has no MIDI system that the "
    f"library finds. {WITHOUT}"
)
NO_DEVICE = (
    "No instrument can be heard, because none is connected: connect one and try again, or hear "
    "a recorded file."
)
LARGEST = 4_000_000  # bytes of a file
LONGEST = 50_000  # keys in a file
THROUGH = "Midi Through"  # a port of the system's own that nobody plays
LOOK = 1.5  # seconds until the names of what is connected are read again
SEQUENCER = Path("/dev/snd/seq")  # where Linux has its MIDI system
_FAILS = (ImportError, OSError, RuntimeError, SystemError)  # what a system without MIDI raises
_ADDRESS = re.compile(r"([\w.-]+|\[[0-9a-fA-F:.]+\]):-?[0-9]{1,20}")
_COUNTED = re.compile(r" \d+:\d+$")  # "Piano 20:0": a number that the next plug may change


def trouble() -> str:
    """Why no instrument can be heard, as far as that can be known beforehand, or ""."""
    return "" if find_spec("rtmidi2") else NO_PORTS


def read_midi(path: Path) -> tuple[Heard, ...]:
    """The keys that go down in a MIDI file, in order, in seconds from its beginning; of all its
    tracks. Raises TrainerError for every file that gives none."""
    if not find_spec("mido"):
        raise TrainerError(advice("No MIDI file can be heard", "listen"))
    import mido

    try:
        if path.stat().st_size > LARGEST:
            raise TrainerError(f"{path.name} is too large for one attempt; shorten it.")
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
        raise TrainerError(f"{path.name} is too long for one attempt; shorten it.")
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
    if sys.platform == "linux" and not SEQUENCER.exists():
        raise TrainerError(NO_SYSTEM)  # the library would write lines of its own over the screen
    try:
        import rtmidi2

        return tuple(rtmidi2.get_in_ports())
    except _FAILS as error:
        raise TrainerError(NO_SYSTEM) from error


class Instrument(Cable):
    """A port over an instrument that the system knows. Keys are stamped as they come.

    `name` is one of `inputs()`, or the beginning of one, by default the first there is; no other
    is listened to. Raises TrainerError where it is not there, unless it `waits` for it to be
    connected, and where it cannot be opened. The names are read again every LOOK seconds as
    `take` is called: an instrument that has gone is let go of, and opened again when it is back.
    """

    def __init__(self, name: str = "", clock: Clock = perf_counter, *, waits: bool = False) -> None:
        self.name = name
        self._clock, self._inbox = clock, Inbox()
        self._port: Any = None
        self._others: frozenset[str] = frozenset()  # what was connected beside it
        names = inputs()
        self._looked = clock()
        found = _found(name, names)
        if found:
            self._open(found, names)
        elif not waits:
            raise TrainerError(_missing(name, names))

    def _open(self, name: str, names: tuple[str, ...]) -> None:
        try:
            import rtmidi2

            port = rtmidi2.MidiIn()
            port.callback = self._came
            port.open_port(names.index(name))
            self._port = port
        except _FAILS as error:
            raise TrainerError(
                f"{name} cannot be opened; close any other program that uses it and try again."
            ) from error
        self.name, self._others = name, frozenset(names) - {name}

    def _came(self, message: Sequence[int], _: float) -> None:
        """The bytes of one message, from a thread of the library's."""
        now = self._clock()
        for moved in Parser().feed(bytes(message)):
            if isinstance(moved, Key):
                self._inbox.key(moved.pitch, moved.velocity, now)
            else:
                self._inbox.pedal(moved.controller, moved.value, now)

    def take(self) -> tuple[Event, ...]:
        if self._clock() - self._looked >= LOOK:
            self._look()
        return self._inbox.take()

    def _look(self) -> None:
        """Whether it is still there; if it was not, whether it is now."""
        self._looked = self._clock()
        try:
            names = inputs()
        except TrainerError:
            names = ()
        if self._port is not None:
            if self.name in names:
                self._others = frozenset(names) - {self.name}
                return
            self.close()
        found = _found(self.name, tuple(name for name in names if name not in self._others))
        if found:
            with suppress(TrainerError):  # another look will come
                self._open(found, names)

    @property
    def connected(self) -> bool:
        return self._port is not None

    def close(self) -> None:
        port, self._port = self._port, None
        self._inbox.lost()
        if port is not None:
            with suppress(*_FAILS):  # of what is no longer there
                port.close_port()


def _found(wanted: str, names: tuple[str, ...]) -> str:
    """The instrument that is meant by a name, "" where none is, or more than one could be."""
    if not wanted:
        return next((name for name in names if not name.startswith(THROUGH)), "")
    if wanted in names:
        return wanted
    bare = _COUNTED.sub("", wanted).casefold()
    for means in (
        [name for name in names if _COUNTED.sub("", name).casefold() == bare],
        [name for name in names if name.casefold().startswith(bare)],
    ):
        if means:
            return means[0] if len(means) == 1 else ""
    return ""


def _missing(wanted: str, names: tuple[str, ...]) -> str:
    """The sentence for an instrument that is not found."""
    if not names or not wanted:
        return NO_DEVICE
    there = ", ".join(names)
    if any(name.casefold().startswith(_COUNTED.sub("", wanted).casefold()) for name in names):
        return f"{wanted!r} is the beginning of more than one name; there is {there}."
    return f"{wanted!r} is not connected; there is {there}."


def open_port(text: str = "", clock: Clock = perf_counter, *, waits: bool = False) -> Port:
    """The port that a text names: "" for the first instrument there is, the name of one, the path
    of a pipe or a device, HOST:PORT of a program that serves one, or "microphone", with the name
    of one if wanted.

    Raises TrainerError where it cannot be opened. With `waits` it need not be there yet, and is
    heard as soon as it is.
    """
    text = text.strip()
    if (microphone := microphones.named(text)) is not None:
        return microphones.Microphone(microphone, clock)
    host, _, number = text.rpartition(":")
    if "/" in text or "\\" in text:
        return RawPort(Path(text).expanduser(), clock, waits=waits)
    if _ADDRESS.fullmatch(text):
        if not 0 < int(number) < 65536:
            raise TrainerError(
                f"{number} is not a port; write HOST:PORT with a port from 1 to 65535."
            )
        return WirePort(host.strip("[]"), int(number), clock, waits=waits)
    if text and (Path(text).is_fifo() or Path(text).is_char_device()):
        return RawPort(Path(text), clock, waits=waits)
    refuse_portless(text)
    return Instrument(text, clock, waits=waits)
