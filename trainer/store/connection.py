"""One connection to the database file: opening it, bringing it up to date, reading, writing.

Only this module and the schema know sqlite_utils; it is imported when a file is opened.
Several threads may share a connection: one reads or writes at a time.
"""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

from trainer.errors import TrainerError
from trainer.store import backup, trouble
from trainer.store.place import default_path
from trainer.store.settle import AGAIN, Settler, settled

if TYPE_CHECKING:
    from sqlite_utils import Database

Row: TypeAlias = tuple[Any, ...]
T = TypeVar("T")

OLDEST = (3, 37)  # the first SQLite with STRICT tables
SOON = 1.0  # seconds that closing waits for another copy of the program that reads

_SETTINGS = (
    "foreign_keys = ON",
    "synchronous = FULL",  # a commit waits until the disk says that it has it
    "wal_autocheckpoint = 0",  # that is done a moment later, see `settle`
    "fullfsync = ON",  # and on a Mac, until the disk's own cache has been written
    "secure_delete = ON",  # what is erased is overwritten
    "cache_size = -32000",  # 32 MB: a record's ids reach far and wide in the index of ids
)


class Connection:
    """An open database. `read_only` where the file or its folder cannot be written."""

    def __init__(self, db: Database, path: Path, *, read_only: bool, patience: float = 5.0) -> None:
        self._db = db
        self._patience = patience
        self.path = path
        self.read_only = read_only
        self._turn = RLock()  # a transaction is one turn
        self._settler = Settler(path)

    @classmethod
    def open(cls, path: Path, *, patience: float, now: Callable[[], datetime]) -> Connection:
        """Open or make the database and bring it up to date, after a backup.

        `patience` is how many seconds to wait for another copy. Where the file can be read
        but not written, the connection is for reading. Raises TrainerError.
        """
        if sqlite3.sqlite_version_info < OLDEST:
            raise TrainerError(
                f"SQLite {sqlite3.sqlite_version} is too old, 3.37 or newer is needed:"
                " use a Python that brings a newer one."
            )
        _prepare(path)
        with trouble.explained(path):
            try:
                db = _connect(path, "mode=rw", patience, now)
            except sqlite3.Error as error:
                if not trouble.name(error).startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN")):
                    raise
                return cls(_connect_to_read(path, patience), path, read_only=True)
        made = cls(db, path, read_only=not _may(path, os.W_OK), patience=patience)
        if not made.read_only:
            made._settle(0.0)  # what one that was killed has left in the journal
        return made

    def close(self) -> None:
        """Let go of the file, which then holds all that was committed."""
        self._settler.close()
        if not self.read_only:
            self._settle(SOON)
        self._db.close()

    def _settle(self, within: float) -> None:
        """Bring all that was committed into the file itself; somebody who reads is waited for so
        many seconds. What cannot be now is safe in the journal, for the next commit or close."""
        deadline = time.monotonic() + within
        with suppress(sqlite3.Error):
            while not settled(self._db.conn) and time.monotonic() < deadline:
                time.sleep(AGAIN)

    def read(
        self,
        values: Callable[[Iterable[Row]], T],
        sql: str,
        parameters: tuple[Any, ...] = (),
    ) -> T:
        """What `values` makes of the rows of a question. Rows it cannot understand are damage."""
        with self._turn, trouble.explained(self.path):
            found = self._db.execute(sql, parameters)
            try:
                return values(found)
            except (ValueError, TypeError, KeyError, ArithmeticError) as error:
                raise trouble.say(trouble.DAMAGED, self.path, error) from error

    def row(self, sql: str, parameters: tuple[Any, ...] = ()) -> Row | None:
        """The first row of a question, or None."""
        with self._turn, trouble.explained(self.path):
            found: Row | None = self._db.execute(sql, parameters).fetchone()
        return found

    def execute(self, sql: str, parameters: tuple[Any, ...] = ()) -> sqlite3.Cursor:
        """Run one statement of a transaction; only inside `writing`."""
        return self._db.execute(sql, parameters)

    def execute_all(self, sql: str, rows: Sequence[Row]) -> None:
        """Run one statement of a transaction for every row; only inside `writing`."""
        self._db.conn.executemany(sql, rows)

    def become(self, source: Path) -> None:
        """Let the database become what another file holds, all of it or nothing. Raises
        TrainerError."""
        if self.read_only:
            raise trouble.say(trouble.NOT_WRITABLE, self.path)
        with trouble.explained(self.path):
            try:
                backup.pour(source, self._db.conn, self._patience)
            except TimeoutError as error:
                raise trouble.say(trouble.IN_USE, self.path) from error
        self._settler.tell()

    def squeeze(self) -> None:
        """Write the file anew without what was removed, and empty the journal. Raises
        sqlite3.Error where another copy of the program holds either."""
        self._db.execute("VACUUM")
        deadline = time.monotonic() + self._patience
        # SQLite waits here for one who reads, and not for another checkpoint.
        while self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]:
            if time.monotonic() > deadline:
                raise sqlite3.OperationalError("the journal is in use by another copy")
            time.sleep(AGAIN)

    @contextmanager
    def writing(self) -> Iterator[Callable[..., sqlite3.Cursor]]:
        """One transaction: all of it is on the disk when the block has ended, or none of it.

        Gives `execute`. The write lock is taken at once, so what is read inside the block
        stays true until its end. Within a transaction of this thread it is part of that one.
        """
        if self.read_only:
            raise trouble.say(trouble.NOT_WRITABLE, self.path)
        with self._turn, trouble.explained(self.path):
            if self._db.conn.in_transaction:
                yield self.execute
                return
            try:
                self._db.execute("BEGIN IMMEDIATE")
                yield self.execute
                self._db.commit()
            except BaseException:
                self._db.rollback()
                raise
            self._settler.tell()


def _may(path: Path, right: int) -> bool:
    return os.access(path, right, effective_ids=os.access in os.supports_effective_ids)


def _prepare(path: Path) -> None:
    """See that there is a file to open; a new one is for its owner only."""
    try:
        if path == default_path():
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if path.is_dir():
            raise trouble.say("{path} is a folder: name a file in it with --db.", path)
        if path.exists() and not path.is_file():
            raise trouble.say("{path} is not a file: name another one with --db.", path)
        if not path.parent.is_dir():
            raise trouble.say("The folder {path} does not exist: make it first.", path.parent)
        if _lost(path):
            raise trouble.say(trouble.LOST, path)
        if not path.exists():
            path.touch(mode=0o600)
        if not _may(path, os.R_OK):
            raise trouble.say(trouble.SHUT, path)
    except OSError as error:
        raise trouble.say(trouble.SHUT, path) from error


def _lost(path: Path) -> bool:
    """Whether nothing is in a file in which something was. SQLite would drop its journal."""
    if path.exists() and path.stat().st_size:
        return False
    journal = path.with_name(path.name + "-wal")
    return (journal.exists() and journal.stat().st_size > 0) or bool(backup.listed(path))


def _connect(
    path: Path, mode: str, patience: float, now: Callable[[], datetime] | None = None
) -> Database:
    """Raises sqlite3.Error, and TrainerError for a file that is not for this program."""
    from sqlite_utils import Database

    # Without an isolation level a statement outside of `writing` commits by itself.
    uri = f"{path.absolute().as_uri()}?{mode}"
    raw = sqlite3.connect(
        uri, uri=True, timeout=patience, isolation_level=None, check_same_thread=False
    )
    db = Database(raw, execute_plugins=False, recursive_triggers=True, strict=True)
    try:
        for setting in _SETTINGS:
            db.execute(f"PRAGMA {setting}")
        ready = _up_to_date(db, path)
        if mode == "mode=rw" and _may(path, os.W_OK):
            _enable_wal(db, patience)
        if not ready and mode != "mode=rw":
            raise trouble.say(trouble.OLD_TO_READ, path)
        if not ready:
            _migrate(db, path, now)
    except BaseException:
        db.close()
        raise
    return db


def _connect_to_read(path: Path, patience: float) -> Database:
    """For a file or folder that cannot be written."""
    try:
        return _connect(path, "mode=ro", patience)
    except sqlite3.Error as error:
        # SQLite needs a file of its own beside a database that is in use. In a folder where it
        # cannot make one it can do without where nothing waits in the journal.
        journal = path.with_name(path.name + "-wal")
        if journal.exists():
            raise trouble.say(trouble.LEFT_OPEN, path) from error
        return _connect(path, "mode=ro&immutable=1", patience)


def _up_to_date(db: Database, path: Path) -> bool:
    """Whether no migration is pending. Raises TrainerError for another program's file."""
    from trainer.store.schema import APPLICATION, STEPS, migrations

    # One statement, so that another copy that makes the tables is seen whole or not at all.
    question = "SELECT application_id, (SELECT count(*) FROM sqlite_master) FROM"
    mark, tables = db.execute(f"{question} pragma_application_id").fetchone()
    if tables and mark != APPLICATION:
        raise trouble.say(trouble.FOREIGN, path)
    known = {name for name, _ in STEPS}
    applied = {migration.name for migration in migrations.applied(db)}
    if not applied <= known:
        raise trouble.say(trouble.NEWER, path)
    return applied == known


def _enable_wal(db: Database, patience: float) -> None:
    """Ask for the journal that lets others read meanwhile. SQLite does not wait here."""
    deadline = time.monotonic() + patience
    while True:
        try:
            return db.enable_wal()
        except sqlite3.OperationalError as error:
            if not trouble.name(error).startswith("SQLITE_BUSY") or time.monotonic() > deadline:
                raise
            time.sleep(0.01)


def _migrate(db: Database, path: Path, now: Callable[[], datetime] | None) -> None:
    """Bring the tables up to date; of several processes at once, one does and the others wait.
    A file with something in it is backed up first, while nobody can write it."""
    from trainer.store.schema import migrations

    try:
        db.execute("BEGIN IMMEDIATE")
        applied = migrations.applied(db)
        if now and applied and migrations.pending(db):
            backup.make(path, now(), "before a new version")
        migrations.apply(db)
        db.commit()
    except BaseException:
        db.rollback()
        raise
