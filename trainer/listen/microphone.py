"""A microphone as a port: keys struck with a chance each, from `sound/capture.py` in a process of
its own. No pedal is heard, and nothing is recorded."""

from __future__ import annotations

import json
import subprocess
from contextlib import suppress
from time import perf_counter
from typing import TYPE_CHECKING, Any

from trainer.child import command
from trainer.listen.port import InThread

if TYPE_CHECKING:
    from trainer.listen.port import Clock

WORD = "microphone"  # what it is called among the instruments; "microphone NAME" is one of them
LATER = 2.0  # seconds until a microphone that has gone is looked for again
SILENT, LOUD, FAINT = -100.0, -35.0, -48.0  # decibels of full scale
CLEAR = 8.0  # decibels that the playing stands above the room
PATIENCE = 5.0  # seconds until the sound system has to answer
STRIKES = 6  # keys that have to be heard before it is said how well

_START = "from trainer.sound.capture import child; child(sys.argv[2])"


def named(text: str) -> str | None:
    """Which microphone a text names, "" for any; None where it names none."""
    word, _, name = text.strip().partition(" ")
    return name.strip() if word.casefold().rstrip(":") == WORD else None


class Microphone(InThread):
    """Keys that a microphone hears. What comes is up to `delay` seconds old."""

    delay = 0.4

    def __init__(self, name: str = "", clock: Clock = perf_counter) -> None:
        self.note = ""  # how well it hears, in a sentence
        self._wanted, self._struck = name, 0
        self._ahead = clock() - perf_counter()
        self._process: subprocess.Popen[bytes] | None = None
        super().__init__(f"{WORD} {name}".strip(), clock, there=False)

    def _read(self) -> None:
        while not self._stop.is_set():
            with suppress(OSError, ValueError):
                self._process = subprocess.Popen(
                    command(_START, self._wanted),
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    stderr=subprocess.DEVNULL,
                )
                assert self._process.stdout is not None
                for line in self._process.stdout:
                    self._told(json.loads(line))
            if self._there:
                self._there, self.note = False, ""
            self._stop.wait(LATER)

    def _told(self, what: dict[str, Any]) -> None:
        self.note = what.get("trouble", self.note)
        self._there = self._there or "hears" in what
        for seconds, pitch, chance in what.get("struck", ()):
            self._struck += 1
            self._inbox.stroke(pitch, chance, seconds + self._ahead)
        if "level" in what:
            self.note = sentence(what["level"], what["room"], self._struck)

    def close(self) -> None:
        self._stop.set()
        if self._process is not None:
            self._process.kill()
            self._process.wait()
        super().close()


def names() -> tuple[str, ...]:
    """The microphones that are there; asked in another process, which takes some tenths of a
    second."""
    words = command("from trainer.sound.capture import names; print(json.dumps(names()))")
    try:
        done = subprocess.run(words, capture_output=True, timeout=PATIENCE, check=True)
        return tuple(json.loads(done.stdout.splitlines()[-1]))
    except (OSError, ValueError, IndexError, subprocess.SubprocessError):
        return ()


def sentence(level: float, room: float, struck: int) -> str:
    """How well a microphone hears, from the decibels of what is loud and of what is soft, and how
    many keys were heard so far. The limits are chosen, without a source."""
    if level <= SILENT:
        return "Nothing comes from the microphone: is it muted, or not allowed?"
    if struck < STRIKES:
        return "The room is loud; wait for quiet." if room > LOUD else "Play a few notes."
    if level < FAINT or level - room < CLEAR:
        return "Too quiet: put the microphone nearer to the piano."
    return "I hear you well."
