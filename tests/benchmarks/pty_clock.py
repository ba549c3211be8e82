"""Processes in a pseudo-terminal, timed by what they write to it."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Sequence
from types import TracebackType

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))  # noqa: PTH100, PTH120
PATIENCE = 60.0  # seconds

BARE = """
from textual.app import App
from textual.widgets import Static

class Bare(App):
    def compose(self):
        yield Static("bare-first-frame")
        for text in ("two", "three", "four", "five"):
            yield Static(text)

Bare().run()
"""
OURS = "from trainer.cli.main import main; main()"


class Process:
    """Python code in a terminal of 80 columns and 24 lines, from its very start. Ends with the
    block."""

    def __init__(self, code: str, *words: str) -> None:
        self._command = [sys.executable, "-c", code, *words]
        self._seen = b""

    def __enter__(self) -> Process:
        self._master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        env = {name: value for name, value in os.environ.items() if name not in _OWN_SIZE}
        env |= {"TERM": "xterm-256color", "PYTHONPATH": ROOT, "LC_ALL": "C.UTF-8"}
        self.begin = time.perf_counter()
        self._process = subprocess.Popen(
            self._command, stdin=slave, stdout=slave, stderr=slave, env=env, close_fds=True,
            start_new_session=True,
        )  # fmt: skip
        os.close(slave)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._process.poll() is None:
            self._process.send_signal(signal.SIGKILL)
        self._process.wait()
        os.close(self._master)

    @property
    def pid(self) -> int:
        return self._process.pid

    def until(self, words: Sequence[str]) -> float:
        """Seconds from the process's start until one of the words is written, after what was
        waited for before."""
        wanted = [word.encode() for word in words]
        while not any(word in self._seen for word in wanted):
            ready, _, _ = select.select([self._master], [], [], PATIENCE)
            try:
                more = os.read(self._master, 65536) if ready else b""
            except OSError:
                more = b""
            if not more:
                raise RuntimeError(f"none of {words} came; written was {self._seen[-2000:]!r}")
            self._seen += more
        self._seen = b""
        return time.perf_counter() - self.begin

    def press(self, keys: str) -> None:
        os.write(self._master, keys.encode())


_OWN_SIZE = ("COLUMNS", "LINES", "NO_COLOR")
