"""Lines that are typed while an instrument is listened to."""

from __future__ import annotations

import os
import sys
from queue import Empty, Queue
from threading import Thread

LOOK = 1 / 30  # seconds between two looks at an instrument


class Lines:
    """Lines of the input, read in a thread of their own while something else is looked at."""

    def __init__(self) -> None:
        self._found: Queue[str] = Queue()
        self._over = False
        Thread(target=self._read, args=(sys.stdin.fileno(),), daemon=True).start()

    def _read(self, file: int) -> None:
        rest = b""
        while data := os.read(file, 4096):
            *lines, rest = (rest + data).split(b"\n")
            for line in lines:
                self._found.put(line.decode(errors="replace") + "\n")
        self._found.put(rest.decode(errors="replace"))
        self._found.put("")

    def typed(self, seconds: float) -> str | None:
        """The next line, "" at the end of the input; None where none came within so many
        seconds."""
        if self._over:
            return ""
        try:
            line = self._found.get(timeout=seconds)
        except Empty:
            return None
        self._over = not line
        return line
