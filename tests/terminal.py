"""A real terminal for tests and benchmarks: a command in tmux, its keys and its screen."""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from tempfile import gettempdir
from types import TracebackType
from uuid import uuid4

import pytest

needs_tmux = pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")

PATIENCE = 20.0  # seconds until what was waited for counts as missing


class Terminal:
    """A command that runs in a tmux server of its own, at a size, until the block ends.

    `env` is added to this process's environment. The screen stays readable after the command
    has ended.
    """

    def __init__(
        self,
        command: Sequence[str],
        size: tuple[int, int] = (80, 24),
        env: Mapping[str, str] | None = None,
    ) -> None:
        self._command = command
        self._size = size
        self._env = dict(env or {})
        self._name = f"trainer-test-{uuid4().hex[:12]}"
        self._code = Path(gettempdir()) / self._name

    def __enter__(self) -> Terminal:
        wide, high = (str(number) for number in self._size)
        sets = [f"{name}={value}" for name, value in self._env.items()]
        # Readline puts these two into the environment of a process that imports it.
        run = shlex.join(["env", "-u", "COLUMNS", "-u", "LINES", *sets, *self._command])
        # tmux itself loses an exit code now and then.
        run += f"; echo $? > {shlex.quote(str(self._code))}"
        self._tmux("-f", os.devnull, "new-session", "-d", "-s", "t", "-x", wide, "-y", high, "cat")
        self._tmux("set-option", "-g", "remain-on-exit", "on")
        self._tmux("set-option", "-g", "status", "off")
        self._tmux("set-option", "-s", "escape-time", "0")
        self._tmux("respawn-pane", "-k", "-t", "t", run)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        subprocess.run(["tmux", "-L", self._name, "kill-server"], capture_output=True, check=False)
        self._code.unlink(missing_ok=True)

    def _tmux(self, *words: str) -> str:
        done = subprocess.run(
            ["tmux", "-L", self._name, *words], capture_output=True, text=True, check=True
        )
        return done.stdout

    def keys(self, *keys: str) -> None:
        """Press keys by tmux's names: "t", "Enter", "Escape", "Down", "C-c"."""
        self._tmux("send-keys", "-t", "t", *keys)

    def type(self, text: str) -> None:
        """Type a text as it is."""
        self._tmux("send-keys", "-t", "t", "-l", text)

    def resize(self, wide: int, high: int) -> None:
        self._tmux("resize-window", "-t", "t", "-x", str(wide), "-y", str(high))

    def screen(self, *, colour: bool = False) -> str:
        """What stands on the screen now, trailing spaces left out."""
        return self._tmux("capture-pane", "-p", *(["-e"] if colour else []), "-t", "t")

    def wait_for(self, text: str) -> str:
        """The screen, as soon as the text stands on it."""
        return self._wait(lambda screen: text in screen, f"{text!r} to appear")

    def wait_gone(self, text: str) -> str:
        """The screen, as soon as the text does not stand on it any more."""
        return self._wait(lambda screen: text not in screen, f"{text!r} to go")

    def wait_change(self, before: str) -> str:
        """The screen, as soon as it shows something else than `before`."""
        return self._wait(lambda screen: screen != before, "the screen to change")

    def wait_until(self, met: Callable[[str], bool], what: str) -> str:
        """The screen, as soon as it is as it should be."""
        return self._wait(met, what)

    def wait_end(self) -> int:
        """The command's exit code, once it has ended; 128 more than a signal that ended it."""
        self._wait(lambda _: self._ended(), "the command to end")
        return int(self._code.read_text())

    def _ended(self) -> bool:
        return self._code.exists() and self._code.read_text().endswith("\n")

    @property
    def pid(self) -> int:
        """The process that was started, a child of the shell in the pane."""
        shell = self._pane("pane_pid")
        listed = subprocess.run(
            ["ps", "-A", "-o", "ppid=,pid="], capture_output=True, text=True, check=True
        ).stdout
        pairs = (line.split() for line in listed.splitlines())
        return next(int(pid) for parent, pid in pairs if parent == shell)

    def _pane(self, what: str) -> str:
        return self._tmux("display-message", "-p", "-t", "t", f"#{{{what}}}").strip()

    def _wait(self, met: Callable[[str], bool], what: str) -> str:
        deadline = time.monotonic() + PATIENCE
        while not met(screen := self.screen()):
            if time.monotonic() > deadline:
                raise AssertionError(f"Waited in vain for {what}; the screen shows:\n{screen}")
            time.sleep(0.02)
        return screen
