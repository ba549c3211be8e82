"""The store: everything that is kept, as the values of the rooms below, never as rows.

What a writing method has returned for is on the disk: it survives the end of the process at
any moment, and a power cut as far as the disk keeps its word on what it was asked to sync.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager, suppress
from datetime import datetime
from pathlib import Path
from types import TracebackType

from trainer.errors import TrainerError
from trainer.store import trouble
from trainer.store.base import Part
from trainer.store.caches import Caches
from trainer.store.care import Backups, Erasing
from trainer.store.check import Faults
from trainer.store.connection import Connection
from trainer.store.drafts import Drafts
from trainer.store.log import Log
from trainer.store.people import Recitals, Settings, Students
from trainer.store.pieces import PieceEntry, Pieces
from trainer.store.records import Records
from trainer.store.studio import Studio

__all__ = ["PieceEntry", "Store"]


class Store(Part):
    """One open database, for the thread that opened it. Every method raises TrainerError where
    the file does not do what was asked."""

    def __init__(
        self, connection: Connection, now: Callable[[], datetime], new_id: Callable[[], str]
    ) -> None:
        super().__init__(connection, now, new_id)
        edges = (connection, now, new_id)
        self.log = Log(*edges)
        self.students = Students(*edges, self.log)
        self.recitals = Recitals(*edges, self.log)
        self.settings = Settings(*edges, self.log)
        self.caches = Caches(*edges)
        self.studio = Studio(*edges, self.log, self.students)
        self.pieces = Pieces(*edges)
        self.drafts = Drafts(*edges)
        self.records = Records(*edges, self.log, self.students, self.recitals)
        self.backups = Backups(*edges)
        self.erasing = Erasing(*edges, self.log, self.backups)
        self.faults = Faults(
            *edges, self.pieces, self.log, self.students, self.recitals, self.backups, self.erasing
        )

    @classmethod
    def open(
        cls,
        path: Path,
        *,
        now: Callable[[], datetime],
        new_id: Callable[[], str],
        patience: float = 5.0,
    ) -> Store:
        """Open a database and bring it up to date, or make it where there is none.

        `now` gives the aware instant and `new_id` a fresh global id wherever the store itself
        writes something down; `patience` is how many seconds to wait for another copy of the
        program. A folder is made only for the usual place.
        """
        store = cls(Connection.open(path, patience=patience, now=now), now, new_id)
        if not store.read_only:
            store._know_machine()
            with suppress(TrainerError):  # traces that are left are found by a check
                store.erasing.finish()
        return store

    @property
    def path(self) -> Path:
        return self._connection.path

    @property
    def read_only(self) -> bool:
        """Whether the file can only be read here; every writing method then raises."""
        return self._connection.read_only

    @property
    def why_not_written(self) -> str:
        """What to do where the file can only be read; "" where it can be written."""
        return str(trouble.say(trouble.NOT_WRITABLE, self.path)) if self.read_only else ""

    def must_write(self) -> None:
        """Raises TrainerError where the file can only be read: before somebody plays, not after."""
        if self.read_only:
            raise TrainerError(self.why_not_written)

    def together(self) -> AbstractContextManager[object]:
        """One transaction: what is kept inside the block is kept all of it, or none of it."""
        return self._connection.writing()

    def close(self) -> None:
        self._connection.close()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
