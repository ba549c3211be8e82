"""A watched folder: which files in it are worth a look.

Others write into it at any moment: people, and programs that keep folders alike. Such a program
may write a file under another name first, or in its place, block by block; in between the file
can be half of it, or the beginning of its new form with the end of the old one, which may well
read as a whole. So a file counts as written when nothing has changed in it for a while, and only
when nothing changes in it while it is read.
"""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Iterator
from pathlib import Path
from stat import S_ISREG

from trainer.cli.files import PART
from trainer.deck.exchange import MAX_BYTES, kind
from trainer.errors import TrainerError
from trainer.record.file import FORMAT

QUIET = 1.0  # seconds without a change after which a file counts as written
LOOKS = 20  # at files that are being written, before they are left for another time
# A part of ours, and what SQLite keeps beside a database that is open: it changes at every look.
# https://www.sqlite.org/tempfiles.html
PASSED = (PART, "-wal", "-shm", "-journal")
_MARK = f'"{FORMAT}"'.encode()
_LEAD = 4_000  # bytes in which a record that is not whole yet still says what it is


class Watch:
    """Remembers what it has seen, so that a file is told of once, and again when it changes.
    `waiting` are the names of files that were being written at the last look. No link is followed
    and no folder below is entered."""

    def __init__(self, folder: Path) -> None:
        self.waiting: list[str] = []
        self._folder = folder
        self._seen: dict[str, tuple[int, ...]] = {}
        self._read: dict[bytes, str] = {}  # by digest, the name under which it was read
        self._refused: dict[str, str] = {}  # by name, the reason that was told

    def new(self) -> Iterator[tuple[str, bytes | TrainerError]]:
        """The records that have appeared or changed since the last look or were refused then, by
        name: their bytes, or why they cannot be read."""
        try:
            names = sorted(path.name for path in self._folder.iterdir())
        except OSError as error:
            raise TrainerError(f"{self._folder.name} cannot be read: {error.strerror}.") from error
        self.waiting = []
        for name in self._refused:
            self._seen.pop(name, None)
        self._read = {one: name for one, name in self._read.items() if name not in self._refused}
        for name in names:
            if not name.startswith(".") and not name.endswith(PASSED):
                yield from self._look(name)

    def taken(self, name: str) -> None:
        """Say that what was found under a name is taken in."""
        self._refused.pop(name, None)

    def refused(self, name: str, why: str) -> bool:
        """Say that what was found under a name is not taken in; whether that is news. It is
        looked at again the next time, for the reason may pass."""
        news = self._refused.get(name) != why
        self._refused[name] = why
        return news

    def _look(self, name: str) -> Iterator[tuple[str, bytes | TrainerError]]:
        path = self._folder / name
        try:
            state = path.lstat()
            mark = _mark(state)
            if not S_ISREG(state.st_mode) or self._seen.get(name) == mark:
                return
            if state.st_size > MAX_BYTES:
                self._seen[name] = mark
                return
            data = b"" if _changing(state) else path.read_bytes()
            if _changing(state) or _mark(path.lstat()) != mark:
                self.waiting.append(name)
                return
        except FileNotFoundError:
            return  # it has gone meanwhile
        except OSError as error:
            yield name, TrainerError(f"{name} cannot be read: {error.strerror}.")
            return
        self._seen[name] = mark
        digest = hashlib.sha256(data).digest()
        if digest in self._read:
            return
        self._read[digest] = name
        if kind(data) == FORMAT:
            yield name, data
        elif not kind(data) and _MARK in data[:_LEAD]:
            yield (
                name,
                TrainerError(f"{name} is incomplete; it will be read again when it changes."),
            )


def _mark(state: os.stat_result) -> tuple[int, ...]:
    """What cannot stay the same while a file changes: some programs set a file's time back, but
    not that at which it was set."""
    return state.st_size, state.st_mtime_ns, state.st_ctime_ns, state.st_ino


def _changing(state: os.stat_result) -> bool:
    """Whether a file was changed just now. A time ahead of the clock says nothing."""
    return any(abs(time.time() - at) < QUIET for at in (state.st_mtime, state.st_ctime))
