"""A watched folder: which files in it are worth a look."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from pathlib import Path
from stat import S_ISREG

from trainer.cli.files import PART
from trainer.deck.exchange import MAX_BYTES, kind
from trainer.errors import TrainerError
from trainer.record.file import FORMAT

_MARK = f'"{FORMAT}"'.encode()
_LEAD = 4_000  # bytes in which a record that is not whole yet still says what it is


class Watch:
    """Remembers what it has seen, so that a file is told of once, and again when it changes.
    No link is followed and no folder below is entered."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._seen: dict[str, tuple[int, int]] = {}
        self._read: set[bytes] = set()

    def new(self) -> Iterator[tuple[str, bytes | TrainerError]]:
        """The records that have appeared or changed since the last look, by name: their bytes,
        or why they cannot be read."""
        try:
            names = sorted(path.name for path in self._folder.iterdir())
        except OSError as error:
            raise TrainerError(f"{self._folder.name} cannot be read: {error.strerror}.") from error
        for name in names:
            if not name.startswith(".") and not name.endswith(PART):
                yield from self._look(name)

    def _look(self, name: str) -> Iterator[tuple[str, bytes | TrainerError]]:
        path = self._folder / name
        try:
            state = path.lstat()
            mark = (state.st_size, state.st_mtime_ns)
            if not S_ISREG(state.st_mode) or self._seen.get(name) == mark:
                return
            self._seen[name] = mark
            if state.st_size > MAX_BYTES:
                return
            data = path.read_bytes()
        except OSError as error:
            if self._seen.get(name) != (-1, -1):
                self._seen[name] = (-1, -1)
                yield name, TrainerError(f"{name} cannot be read: {error.strerror}.")
            return
        digest = hashlib.sha256(data).digest()
        if digest in self._read:
            return
        self._read.add(digest)
        if kind(data) == FORMAT:
            yield name, data
        elif not kind(data) and _MARK in data[:_LEAD]:
            yield (
                name,
                TrainerError(f"{name} is incomplete; it will be read again when it changes."),
            )
