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
import tempfile
import termios
import time
from collections.abc import Sequence
from types import TracebackType

ROOT = os.path.dirname(os.path.dirname(os.path.dirname(os.path.abspath(__file__))))  # noqa: PTH100, PTH120
PATIENCE = 60.0  # seconds

# An installed program is compiled once. So are both sides here, by a first round that does not
# count, into a folder that is left to the next run.
COMPILED = os.path.join(tempfile.gettempdir(), "trainer-benchmarks-compiled")  # noqa: PTH118

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
        env = {name: value for name, value in os.environ.items() if name not in _LEFT_OUT}
        env |= {"TERM": "xterm-256color", "PYTHONPATH": ROOT, "LC_ALL": "C.UTF-8"}
        env |= {"PYTHONPYCACHEPREFIX": COMPILED}
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

    def peak(self) -> int:
        """Wait for the process's end: the most memory it had at once, in bytes."""
        while select.select([self._master], [], [], PATIENCE)[0]:
            try:
                if not os.read(self._master, 65536):
                    break
            except OSError:
                break
        _, status, usage = os.wait4(self._process.pid, 0)
        self._process.returncode = os.waitstatus_to_exitcode(status)
        return usage.ru_maxrss * (1 if sys.platform == "darwin" else 1024)

    def press(self, keys: str) -> None:
        os.write(self._master, keys.encode())


_LEFT_OUT = ("COLUMNS", "LINES", "NO_COLOR", "PYTHONDONTWRITEBYTECODE")
