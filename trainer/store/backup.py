"""Backups: whole copies of the database, made while it is in use, and the way back.

They lie in a folder beside the database, each a file of its own named after the instant it was
made and why. A copy is made under another name and takes its own only when it is whole.
"""

from __future__ import annotations

import glob
import os
import sqlite3
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from uuid import uuid4

from trainer.errors import TrainerError
from trainer.store import trouble
from trainer.values import Frozen

NEWEST, MONTHS = 6, 6
"""How many backups are kept: the newest, and of those before them the last one of each of so
many months."""

ASIDE = ".damaged-"  # in the name of a file that a backup has taken the place of
_STAMP = "%Y%m%dT%H%M%SZ"
_PART = ".part"
_PAGES = 2_000  # copied between two looks at the clock
PATIENCE = 10.0  # seconds
NO_ROOM = (
    "No backup of {path} could be made ({error}), so nothing was changed: make room beside it,"
    " then try again."
)


class Backup(Frozen, frozen=True):
    """One backup: its file's name, the instant it was made (UTC), why, and its bytes."""

    name: str
    at: datetime
    why: str
    size: int


def folder(path: Path) -> Path:
    """Where the backups of a database lie."""
    return path.with_name(f"{path.name}.backups")


def listed(path: Path) -> tuple[Backup, ...]:
    """The backups of a database, the newest first. Files of other names are passed over."""
    found = []
    with suppress(FileNotFoundError, NotADirectoryError):
        for file in folder(path).iterdir():
            stamp, _, why = file.stem.partition("-")
            with suppress(ValueError, OSError):
                at = datetime.strptime(stamp, _STAMP).replace(tzinfo=UTC)
                if file.suffix == ".db" and file.is_file() and not file.is_symlink():
                    size = file.stat().st_size
                    found.append(Backup(file.name, at, why.replace("-", " "), size))
    return tuple(sorted(found, key=lambda one: (one.at, one.name), reverse=True))


def make(path: Path, at: datetime, why: str) -> Backup:
    """Copy a database as it stands, others may go on using it. `why` is a few plain words.

    Raises TrainerError where there is no room or no right; then nothing was changed.
    """
    home = folder(path)
    try:
        home.mkdir(mode=0o700, exist_ok=True)
        part = home / f"{uuid4().hex}{_PART}"
        try:
            copy(path, part)
            name = _name(home, at, why)
            part.replace(home / name)
            _sync(home)
        finally:
            _remove(part)
    except (OSError, sqlite3.Error) as error:
        raise trouble.say(NO_ROOM, path, error) from error
    return next(one for one in listed(path) if one.name == name)


def rotate(path: Path) -> None:
    """Remove the backups that are not to be kept, and what an interrupted one left behind."""
    every = listed(path)
    for one in set(every) - set(kept(every)):
        with suppress(OSError):
            (folder(path) / one.name).unlink()


def kept(backups: Sequence[Backup]) -> tuple[Backup, ...]:
    """Which backups are kept, given newest first: see NEWEST and MONTHS."""
    newest, older = backups[:NEWEST], backups[NEWEST:]
    months: dict[tuple[int, int], Backup] = {}
    for one in older:
        months.setdefault((one.at.year, one.at.month), one)
    return (*newest, *list(months.values())[:MONTHS])


def unfinished(path: Path) -> tuple[Path, ...]:
    """What copies left behind that were interrupted."""
    with suppress(OSError):
        return tuple(sorted(folder(path).glob(f"*{_PART}*")))
    return ()


def put_aside(path: Path) -> tuple[Path, ...]:
    """Damaged databases that a backup has taken the place of, and the journals beside them."""
    found = path.parent.glob(f"{glob.escape(path.name)}{ASIDE}*")
    return tuple(sorted(file for file in found if file.is_file()))


@contextmanager
def prepared(path: Path, source: Path) -> Iterator[Path]:
    """A copy of a backup beside a database, to be made ready before it takes its place."""
    home = folder(path)
    try:
        home.mkdir(mode=0o700, exist_ok=True)
        part = home / f"{uuid4().hex}{_PART}"
        copy(source, part)
    except (OSError, sqlite3.Error) as error:
        raise trouble.say(NO_ROOM, path, error) from error
    try:
        yield part
    finally:
        _remove(part)


def copy(source: Path, target: Path) -> None:
    """Copy a database to a new file and see it on the disk. The copy does not know its place, so
    that it takes an id of its own before anything is written. Raises OSError, sqlite3.Error."""
    target.touch(mode=0o600, exist_ok=False)
    with closing(_open(source, "ro")) as read, closing(_open(target, "rw")) as write:
        read.backup(write, progress=_patient(PATIENCE))
        with suppress(sqlite3.DatabaseError):  # an older version has no such table
            write.execute("DELETE FROM place")
        write.execute("PRAGMA journal_mode = DELETE")  # one file, without a journal beside it
    with target.open("rb+") as file:
        os.fsync(file.fileno())


def missing(path: Path, source: Path) -> dict[str, int]:
    """How many entries of each log a backup holds that the database does not, by the log's name;
    those of erased students do not count. Raises TrainerError where either is damaged."""
    from trainer.store.schema import LOGS

    found: dict[str, int] = {}
    with trouble.explained(source), closing(_open(path, "ro")) as raw:
        raw.execute("ATTACH ? AS old", (f"{source.absolute().as_uri()}?mode=ro",))
        had = {row[0] for row in raw.execute("SELECT name FROM old.sqlite_master")}
        for log in LOGS:
            if log not in had:
                continue
            columns = [row[1] for row in raw.execute(f"PRAGMA old.table_info({log})")]
            erased = (
                " AND (student IS NULL OR student NOT IN (SELECT id FROM main.tombstone))"
                if "student" in columns
                else ""
            )
            sql = f"SELECT count(*) FROM old.{log} WHERE id NOT IN (SELECT id FROM main.{log})"
            if count := raw.execute(sql + erased).fetchone()[0]:
                found[log] = int(count)
    return found


def pour(source: Path, target: sqlite3.Connection, patience: float) -> None:
    """Let a database become what another file holds, in one transaction: killed at any moment,
    it is the one or the other. Raises sqlite3.Error, and TimeoutError after `patience` seconds
    in which somebody else has held it."""
    with closing(_open(source, "ro")) as read:
        read.backup(target, pages=_PAGES, progress=_patient(patience), sleep=0.05)


def _patient(patience: float) -> Callable[[int, int, int], None]:
    """What looks at the clock while a copy waits for somebody else."""
    deadline = time.monotonic() + patience

    def look(status: int, _left: int, _pages: int) -> None:
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) and time.monotonic() > deadline:
            raise TimeoutError("it is in use by another copy of the program")

    return look


def checked(source: Path, application: int, known: Callable[[set[str]], bool]) -> None:
    """See that a file is a whole database of this program whose steps are `known`. Raises
    TrainerError."""
    try:
        if not source.is_file():
            raise TrainerError(
                f"There is no file {source.name}: list the backups with `trainer backup list`."
            )
        with trouble.explained(source), closing(_open(source, "ro")) as raw:
            if raw.execute("PRAGMA application_id").fetchone() != (application,):
                raise trouble.say(trouble.FOREIGN, source)
            if raw.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
                raise trouble.say(trouble.DAMAGED, source, ValueError("its pages do not agree"))
            steps = {row[0] for row in raw.execute("SELECT name FROM _sqlite_migrations")}
            if not known(steps):
                raise trouble.say(trouble.NEWER, source)
    except OSError as error:
        raise trouble.say(trouble.SHUT, source) from error


def _open(path: Path, mode: str) -> sqlite3.Connection:
    raw = sqlite3.connect(f"{path.absolute().as_uri()}?mode={mode}", uri=True, timeout=5.0)
    raw.isolation_level = None
    return raw


def _name(home: Path, at: datetime, why: str) -> str:
    """A name that no backup has yet."""
    stamp = at.astimezone(UTC).strftime(_STAMP)
    words = "-".join(why.split())
    number = 1
    while (home / (name := f"{stamp}-{words}{f'-{number}' if number > 1 else ''}.db")).exists():
        number += 1
    return name


def _remove(part: Path) -> None:
    for file in (part, *(part.with_name(part.name + end) for end in ("-journal", "-wal", "-shm"))):
        with suppress(OSError):
            file.unlink(missing_ok=True)


def _sync(home: Path) -> None:
    """See a renamed file's name on the disk, where the system lets folders be synced."""
    with suppress(OSError):
        handle = os.open(home, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
