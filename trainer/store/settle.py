"""The database file holds all that was committed: a copy of it alone is whole.

A commit goes into the journal beside the file (`-wal`), one wait for the disk, and is safe there
from a kill and from a power cut. A moment after the last commit a thread brings it into the file
itself (a checkpoint), so that nobody who waits for the next call waits for that. Readers and
writers go on meanwhile. Source: sqlite.org/wal.html, "Checkpointing" and "Performance
Considerations"; sqlite.org/pragma.html on `synchronous` and `wal_checkpoint`.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from threading import Event, Thread

QUIET = 0.2  # seconds without a commit before the file is brought up to date
LATEST = 2.0  # seconds after which it is, though commits go on
AGAIN = 0.05  # seconds until the next look, where another copy of the program reads


def settled(raw: sqlite3.Connection) -> bool:
    """Bring what is in the journal into the file, as far as nobody reads what was before; whether
    that is all of it. Waits for nobody. Raises sqlite3.Error where the disk does not do it."""
    busy, logged, done = raw.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchone()
    return not busy and logged == done


class Settler:
    """Brings the file at `path` up to date after each commit that it is told of."""

    def __init__(self, path: Path) -> None:
        self._uri = f"{path.absolute().as_uri()}?mode=rw"
        self._thread: Thread | None = None
        self._told, self._end = Event(), Event()

    def tell(self) -> None:
        """Something was committed."""
        self._told.set()
        if self._thread is None:
            self._thread = Thread(target=self._run, name="settler", daemon=True)
            self._thread.start()

    def close(self) -> None:
        """End the thread. What it has not brought into the file is left to the one who closes."""
        self._end.set()
        self._told.set()
        if self._thread is not None:
            self._thread.join()

    def _run(self) -> None:
        try:
            with closing(sqlite3.connect(self._uri, uri=True, timeout=0.0)) as raw:
                raw.execute("PRAGMA fullfsync = ON")
                while not self._end.is_set():
                    self._told.wait()
                    self._wait_for_quiet()
                    while not self._end.is_set() and not settled(raw):
                        self._end.wait(AGAIN)
        except sqlite3.Error:
            return  # all is safe in the journal; whoever closes or opens the file tries again

    def _wait_for_quiet(self) -> None:
        for _ in range(int(LATEST / QUIET)):
            self._told.clear()
            if self._end.wait(QUIET) or not self._told.is_set():
                return
