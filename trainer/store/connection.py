"""One connection to the database file: opening, migrating, writing, and what went wrong in
words. Only this module and the schema know sqlite_utils; it is imported when a file is opened.

A connection belongs to the thread that opened it.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from trainer.errors import TrainerError
from trainer.store.place import default_path

if TYPE_CHECKING:
    from sqlite_utils import Database

OLDEST = (3, 37)  # the first SQLite with STRICT tables

_READ_ONLY = ("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM")

_IN_USE = "{path} is in use by another copy of the program: close that one or try again."
_SHUT = (
    "{path} cannot be opened: see whether you may read and write the file and its folder, or"
    " name another file with --db."
)
_FOREIGN = "{path} is not a database of this program: name another file with --db."
_NOT_WRITABLE = (
    "{path} can only be read: ask for permission to write it, or copy it to a folder of your own"
    " and name that copy with --db."
)

# What to say of the file {path}, by the beginning of SQLite's own name of the error.
_SENTENCES = {
    "SQLITE_BUSY": _IN_USE,
    "SQLITE_LOCKED": _IN_USE,
    "SQLITE_NOTADB": _FOREIGN,
    "SQLITE_CORRUPT": "{path} is damaged ({error}): keep it as it is, and go on with a backup.",
    "SQLITE_FULL": "The disk is full and {path} did not take the last entry: make room, then"
    " enter it again.",
    "SQLITE_READONLY": _NOT_WRITABLE,
    "SQLITE_CANTOPEN": _SHUT,
    "SQLITE_PERM": _SHUT,
    "SQLITE_IOERR": "The disk failed to read or write {path} ({error}): see whether it is full or"
    " faulty, then try again.",
    "SQLITE_CONSTRAINT_FOREIGNKEY": "{path} does not know the student or the piece that the entry"
    " belongs to: add that one first.",
    "SQLITE_CONSTRAINT": "{path} refused what does not fit ({error}): nothing was changed, put"
    " the entry right.",
}


def _name(error: sqlite3.Error) -> str:
    return getattr(error, "sqlite_errorname", None) or ""


def _in_words(error: sqlite3.Error, path: Path) -> TrainerError:
    for name, sentence in _SENTENCES.items():
        if _name(error).startswith(name):
            return TrainerError(sentence.format(path=path, error=error))
    return TrainerError(f"{path} could not be used ({error}): try again, or go on with a backup.")


@contextmanager
def _explained(path: Path) -> Iterator[None]:
    """Turns what SQLite says of the file into one sentence; a fault of ours stays as it is."""
    try:
        yield
    except sqlite3.Error as error:
        if not _name(error):
            raise
        raise _in_words(error, path) from error
    except UnicodeEncodeError as error:
        raise TrainerError(
            f"{path} cannot take a text with a broken character: write the text again."
        ) from error


class Connection:
    """An open database. `read_only` where the file or its folder cannot be written."""

    def __init__(self, db: Database, path: Path, *, read_only: bool) -> None:
        self._db = db
        self.path = path
        self.read_only = read_only

    @classmethod
    def open(cls, path: Path, *, patience: float) -> Connection:
        """Open or make the database and bring it up to date.

        `patience` is how many seconds to wait for another copy. Where the file can be read
        but not written, the connection is for reading. Raises TrainerError.
        """
        if sqlite3.sqlite_version_info < OLDEST:
            raise TrainerError(
                f"SQLite {sqlite3.sqlite_version} is too old, 3.37 or newer is needed:"
                " use a Python that brings a newer one."
            )
        _prepare(path)
        with _explained(path):
            try:
                db = _connect(path, "mode=rw", patience)
            except sqlite3.Error as error:
                if not _name(error).startswith(_READ_ONLY):
                    raise
                return cls(_connect_to_read(path, patience), path, read_only=True)
        return cls(db, path, read_only=False)

    def close(self) -> None:
        self._db.close()

    def rows(self, sql: str, parameters: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
        """The rows of a question, one after the other."""
        with _explained(self.path):
            yield from self._db.execute(sql, parameters)

    def row(self, sql: str, parameters: tuple[Any, ...] = ()) -> tuple[Any, ...] | None:
        """The first row of a question, or None."""
        with _explained(self.path):
            found: tuple[Any, ...] | None = self._db.execute(sql, parameters).fetchone()
        return found

    def execute(self, sql: str, parameters: tuple[Any, ...] = ()) -> sqlite3.Cursor:
        """Run one statement of a transaction; only inside `writing`."""
        return self._db.execute(sql, parameters)

    @contextmanager
    def writing(self) -> Iterator[Callable[..., sqlite3.Cursor]]:
        """One transaction: all of it is on the disk when the block has ended, or none of it.

        Gives `execute`. The write lock is taken at once, so what is read inside the block
        stays true until its end.
        """
        if self.read_only:
            raise TrainerError(_NOT_WRITABLE.format(path=self.path))
        with _explained(self.path):
            try:
                self._db.execute("BEGIN IMMEDIATE")
                yield self.execute
                self._db.commit()
            except BaseException:
                self._db.rollback()
                raise


def _prepare(path: Path) -> None:
    """See that there is a file to open; a new one is for its owner only."""
    try:
        if path == default_path():
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if path.is_dir():
            raise TrainerError(f"{path} is a folder: name a file in it with --db.")
        if path.exists() and not path.is_file():
            raise TrainerError(f"{path} is not a file: name another one with --db.")
        if not path.parent.is_dir():
            raise TrainerError(f"The folder {path.parent} does not exist: make it first.")
        if not path.exists():
            path.touch(mode=0o600)
    except OSError as error:
        raise TrainerError(
            f"{path} cannot be reached ({error.strerror}): see whether you may read and write"
            " there, or name another file with --db."
        ) from error


def _connect(path: Path, query: str, patience: float) -> Database:
    """Raises sqlite3.Error, and TrainerError for a file that is not for this program."""
    from sqlite_utils import Database

    # Without an isolation level a statement outside of `writing` commits by itself.
    uri = f"{path.absolute().as_uri()}?{query}"
    raw = sqlite3.connect(uri, uri=True, timeout=patience, isolation_level=None)
    db = Database(raw, execute_plugins=False, recursive_triggers=True, strict=True)
    try:
        db.execute("PRAGMA foreign_keys = ON")
        db.execute("PRAGMA synchronous = FULL")
        db.execute("PRAGMA secure_delete = ON")
        if _up_to_date(db, path):
            return db
        if query != "mode=rw":
            raise TrainerError(
                f"{path} is from an older version and can only be read: copy it to a folder of"
                " your own, where it can be brought up to date, and name that copy with --db."
            )
        _migrate(db, patience)
    except BaseException:
        db.close()
        raise
    return db


def _connect_to_read(path: Path, patience: float) -> Database:
    try:
        return _connect(path, "mode=ro", patience)
    except sqlite3.Error:
        # SQLite cannot make its side files in a read-only folder; where no other copy has
        # left any, nobody writes and it can do without them.
        if path.with_name(path.name + "-wal").exists():
            raise
        return _connect(path, "mode=ro&immutable=1", patience)


def _up_to_date(db: Database, path: Path) -> bool:
    """Whether no migration is pending. Raises TrainerError for another program's file."""
    from trainer.store.schema import APPLICATION, STEPS, migrations

    # One statement, so that another copy that makes the tables is seen whole or not at all.
    question = "SELECT application_id, (SELECT count(*) FROM sqlite_master) FROM"
    mark, tables = db.execute(f"{question} pragma_application_id").fetchone()
    if tables and mark != APPLICATION:
        raise TrainerError(_FOREIGN.format(path=path))
    known = {name for name, _ in STEPS}
    applied = {migration.name for migration in migrations.applied(db)}
    if not applied <= known:
        raise TrainerError(
            f"{path} is from a newer version of the program: install that version, or name"
            " another file with --db."
        )
    return applied == known


def _migrate(db: Database, patience: float) -> None:
    """Bring the tables up to date; of several processes at once, one does and the others wait."""
    from trainer.store.schema import migrations

    _enable_wal(db, patience)
    try:
        db.execute("BEGIN IMMEDIATE")
        migrations.apply(db)
        db.commit()
    except BaseException:
        db.rollback()
        raise


def _enable_wal(db: Database, patience: float) -> None:
    """SQLite does not wait for others here, so this does."""
    deadline = time.monotonic() + patience
    while True:
        try:
            return db.enable_wal()
        except sqlite3.OperationalError as error:
            if not _name(error).startswith("SQLITE_BUSY") or time.monotonic() > deadline:
                raise
            time.sleep(0.01)
