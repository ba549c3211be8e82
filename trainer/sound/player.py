"""Samples to a loudspeaker, through miniaudio, in a process of its own.

The libraries of a sound system write to the terminal as they look for devices, and may hang or
fall: in a process of their own they spoil no screen and stop no drill. The parent writes the
count of bytes and the samples to the child's standard input and keeps it open; the child answers
with a line when the sound begins, or with one that says why it cannot. When its input is closed,
because the parent has gone, it stops.
"""

from __future__ import annotations

import os
import subprocess
import sys
from array import array
from collections.abc import Callable, Generator
from contextlib import suppress
from importlib.util import find_spec
from threading import Event, Thread, Timer

from trainer.child import command
from trainer.errors import TrainerError
from trainer.extras import advice
from trainer.sound.tones import RATE

LIBRARY = "miniaudio"
NO_LIBRARY = advice("Nothing can be heard", "sound")
NO_DEVICE = (
    "Nothing can be heard, because no device that plays was found: connect one and try again."
)
NO_ANSWER = "Nothing can be heard, because the sound system does not answer: try again later."
PATIENCE = 5.0  # seconds until the sound has to begin
BUFFER = 60  # milliseconds; the sound is behind what is seen by about as much
TAIL = 0.3  # seconds of silence after the last sample, for what is still on its way

_START = "from trainer.sound.player import child; child(sys.argv[2])"

Made = Callable[[], "array[int]"]
Told = Callable[[str], None]


def trouble() -> str:
    """Why nothing can be heard, as far as that can be known beforehand; "" where nothing is in
    the way. No device is looked for."""
    return "" if find_spec(LIBRARY) else NO_LIBRARY


class Player:
    """Plays one sound at a time. `backend` is miniaudio's name of a sound system to use, such as
    "NULL", which swallows the sound; by default the first that works."""

    def __init__(self, backend: str = "") -> None:
        self._backend = backend
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def plays(self) -> bool:
        """Whether something is heard, or will be in a moment."""
        return self._process is not None and self._process.poll() is None

    def play(self, made: Made, told: Told = lambda _: None) -> None:
        """Play what `made` makes, and return at once; what was heard before stops.

        From another thread `made` is called, and `told` as soon as the sound begins, with "", or
        with the sentence that says why nothing is heard. A sound that is stopped tells nothing.
        """
        self.stop()
        if problem := trouble():
            told(problem)
            return
        try:
            process = self._process = self._begin()
        except OSError:
            told(NO_ANSWER)
            return

        def tell(why: str) -> None:
            if self._process is process:
                told(why)

        Thread(target=_follow, args=(process, made, tell), daemon=True).start()

    def play_to_end(self, made: Made) -> None:
        """Play what `made` makes, and return when it is over. Raises TrainerError with the
        sentence that says why nothing is heard."""
        why = [problem] if (problem := trouble()) else []
        if not why:
            with suppress(OSError):
                _follow(self._begin(), made, why.append)
        if not why or why[0]:
            raise TrainerError(why[0] if why else NO_ANSWER)

    def stop(self) -> None:
        """Be silent at once."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()

    def _begin(self) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            command(_START, self._backend),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )


def _follow(process: subprocess.Popen[bytes], made: Made, tell: Told) -> None:
    """Give the child its samples, tell how it began, and wait until it is done."""
    assert process.stdin is not None
    assert process.stdout is not None
    timer = Timer(PATIENCE, process.kill)
    with suppress(OSError), process.stdin, process.stdout:
        data = made().tobytes()
        timer.start()
        with suppress(BrokenPipeError):  # the child fell; its silence says so
            process.stdin.write(len(data).to_bytes(8, "big") + data)
            process.stdin.flush()
        answer = process.stdout.readline().decode().strip()
        timer.cancel()
        tell("" if answer == "plays" else answer or NO_ANSWER)
        process.wait()


def child(backend: str = "") -> None:
    """What the process does: read the samples, say how it goes, play."""
    data = sys.stdin.buffer.read(int.from_bytes(sys.stdin.buffer.read(8), "big"))
    over = Event()
    Thread(target=_until_closed, args=(over,), daemon=True).start()
    print(_play(data, backend, over), flush=True)


def _until_closed(over: Event) -> None:
    os.read(0, 1)  # not the buffered one, whose lock would hold up the end
    over.set()


def _play(data: bytes, backend: str, over: Event) -> str:
    """Play the bytes to their end, or until `over` is set; why that cannot be, or ""."""
    try:
        import miniaudio
    except ImportError:
        return NO_LIBRARY
    backends = [miniaudio.Backend[backend]] if backend else []
    try:
        device = miniaudio.PlaybackDevice(
            miniaudio.SampleFormat.SIGNED16, 1, RATE, BUFFER, backends=backends, app_name="trainer"
        )
        frames = _frames(data + bytes(2 * round(TAIL * RATE)), over)
        next(frames)
        device.start(frames)
    except miniaudio.MiniaudioError:
        return NO_DEVICE
    over.wait()
    device.close()
    return ""


def _frames(data: bytes, over: Event) -> Generator[bytes, int, None]:
    """Gives as many frames as it is sent for; says that it plays when it is first asked."""
    asked = yield b""
    print("plays", flush=True)
    place = 0
    while place < len(data):
        part = data[place : place + 2 * asked]
        place += len(part)
        asked = yield part
    over.set()
