"""The screens driven through pipes, as the web driver of their library does it: each packet is
one letter (D for what a terminal would send or show, M for a message), four bytes with the length
of what follows (big-endian), and that."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import IO

from tests.ui.stage import small_desk
from trainer.record.attempt import Outcome

TABLET = {"COLUMNS": "90", "ROWS": "28"}
ESCAPES = re.compile(r"\x1b\[[0-9;?]*[a-zA-Z$]")


class Driven:
    """A program and what it has shown so far."""

    def __init__(self, *words: str) -> None:
        driver = {"TEXTUAL_DRIVER": "textual.drivers.web_driver:WebDriver", **TABLET}
        self.child = subprocess.Popen(
            [sys.executable, "-m", "trainer", *words],
            env=os.environ | driver,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        assert self.child.stdin
        assert self.child.stdout
        self.into: IO[bytes] = self.child.stdin
        self.out: IO[bytes] = self.child.stdout
        assert self.out.readline() == b"__GANGLION__\n"
        self.shown = ""

    def until(self, *words: str) -> None:
        """Read on until all these words have been shown since the last time."""
        while not all(word in self.shown for word in words):
            kind, length = self.out.read(1), int.from_bytes(self.out.read(4), "big")
            assert kind in (b"D", b"M"), f"{words} never shown: {self.shown[-500:]}"
            data = self.out.read(length).decode()
            if kind == b"D":
                self.shown += ESCAPES.sub("", data)
        self.shown = ""

    def send(self, kind: bytes, text: str) -> None:
        data = text.encode()
        self.into.write(kind + len(data).to_bytes(4, "big") + data)
        self.into.flush()


def test_a_drill_through_pipes(tmp_path: Path) -> None:
    desk = small_desk(tmp_path)
    driven = Driven("app", "--db", str(tmp_path / "a.db"))
    try:
        driven.until("Today for", "begin")
        driven.send(b"D", "\r")
        driven.until("through", "stopped")
        driven.send(b"D", "t")
        driven.until("undo")
        driven.send(b"M", json.dumps({"type": "quit"}))
        assert driven.child.wait(60) == 0
    finally:
        driven.child.kill()
    (made,) = desk.views.of(desk.students.find()).attempts
    assert made.outcome is Outcome.THROUGH
