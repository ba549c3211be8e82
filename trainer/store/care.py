"""Care of the data: backups at the right moments, a way back, and erasing a student for good.

Erasing is one transaction in the database itself. What is left then, the backups made by us and
the pages of the journal, is noted in that same transaction and done at once, or by whoever opens
the database next: no moment shows a student half erased.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from shutil import copyfile

from trainer.errors import TrainerError
from trainer.record.people import Student
from trainer.store import backup, trouble
from trainer.store.backup import Backup
from trainer.store.base import Part, marks
from trainer.store.connection import Row
from trainer.store.log import Log
from trainer.store.rows import instant
from trainer.values import Frozen

SOON = timedelta(minutes=10)  # a second backup for the same reason can wait so long
UNFINISHED = (
    "{path}: the student was erased, but traces are left in the journal or in a backup ({error})."
    " Close other copies of the program and run `trainer check --repair`."
)


class Erased(Frozen, frozen=True):
    """What was erased: how many attempts, and in how many backups, which were cleaned or, where
    they are damaged or of an older version, removed."""

    attempts: int
    cleaned: int
    removed: int


class Backups(Part):
    def make(self, why: str, *, unless_recent: bool = False) -> Backup | None:
        """Make a backup, and remove those that are too many. With `unless_recent` none is made
        where one was made for the same reason a few minutes ago."""
        path, now = self._connection.path, self._now()
        recent = [one for one in backup.listed(path) if one.why == why]
        if unless_recent and recent and now - recent[0].at < SOON:
            return None
        # While nobody writes, so that no copy of an erased student is finished after the erasing.
        with self._connection.writing():
            made = backup.make(path, now, why)
        backup.rotate(path)
        return made

    def all(self) -> tuple[Backup, ...]:
        """The backups made by us, the newest first."""
        return backup.listed(self._connection.path)

    def restore(self, source: Path) -> None:
        """Go back to a backup. What is here now is backed up first, and who was erased since
        stays erased. Another copy of the program sees all of it or nothing.

        Raises TrainerError for a file that is not a whole database of this program.
        """
        from trainer.store.schema import APPLICATION, STEPS

        names = {name for name, _ in STEPS}
        backup.checked(source, APPLICATION, lambda steps: steps <= names)
        path = self._connection.path
        with backup.prepared(path, source) as part, trouble.explained(path):
            self.make("before going back")  # which may rotate the source away
            tombs = self._connection.read(list, "SELECT id, machine, at FROM tombstone ORDER BY id")
            if tombs and _steps(part) == names:
                erase_in_file(part, tombs)
            elif _knows(part, [row[0] for row in tombs]):
                raise TrainerError(
                    f"{source.name} is from an older version and contains a student who was "
                    "erased since, so it cannot be restored; choose another backup."
                )
            self._connection.become(part)
            if _steps(part) == names:  # else when it is brought up to date
                self._know_machine()


@dataclass
class Erasing(Part):
    log: Log
    backups: Backups

    def erase(self, student: Student) -> Erased:
        """Erase a student for good, with every entry that was joined to theirs, from the
        database, its journal and the backups made by us. A tombstone without personal data
        stays, so that no record brings them back.

        When this has returned all is gone. Killed before, nothing is gone or all of it will be
        when the database is next opened. Raises TrainerError, with the student erased, where
        another copy of the program still holds the journal.
        """
        ids = self.log.entries_of(student.id)
        at = instant(self._now())[0]
        with self._connection.writing() as run:
            sql = f"SELECT count(*) FROM attempt WHERE student IN {marks(ids)}"
            attempts = int(run(sql, ids).fetchone()[0])
            tombs = [(id_, self.machine, at) for id_ in ids]
            for statement, values in _erasing(tombs, _student_tables(run)):
                run(statement, values)
            for id_ in ids:
                run("INSERT OR IGNORE INTO erasing_left (student) VALUES (?)", (id_,))
        cleaned, removed = self.finish()
        return Erased(attempts, cleaned, removed)

    def finish(self) -> tuple[int, int]:
        """Do what an erasing has left to do; how many backups were cleaned and removed. Does
        nothing where nothing is left. Raises TrainerError where it cannot be done now."""
        tombs = self._connection.read(
            list,
            "SELECT id, machine, at FROM erasing_left JOIN tombstone ON id = student ORDER BY id",
        )
        if not tombs:
            return 0, 0
        path = self._connection.path
        try:
            for part in backup.unfinished(path):
                part.unlink(missing_ok=True)
            done = [_clean(backup.folder(path) / one.name, tombs) for one in self.backups.all()]
            done += [_removed(file, tombs) for file in backup.put_aside(path)]
            self._connection.squeeze()
            with self._connection.writing() as run:
                for id_, *_ in tombs:
                    run("DELETE FROM erasing_left WHERE student = ?", (id_,))
            return done.count("cleaned"), done.count("removed")
        except (OSError, sqlite3.Error) as error:
            raise trouble.say(UNFINISHED, path, error) from error


def rescue(path: Path, source: Path, at: datetime) -> Path:
    """Go back to a backup where the database itself cannot be opened any more. The damaged file
    is kept under another name, which is given back. Raises TrainerError."""
    from trainer.store.schema import APPLICATION, STEPS

    names = {name for name, _ in STEPS}
    backup.checked(source, APPLICATION, lambda steps: steps <= names)
    aside = path.with_name(f"{path.name}{backup.ASIDE}{at:%Y%m%dT%H%M%S}")
    with backup.prepared(path, source) as part, trouble.explained(path):
        tombs = _tombs(path)
        if tombs and _steps(part) == names:
            erase_in_file(part, tombs)
        try:
            for end in ("", "-wal", "-shm"):
                if (file := path.with_name(path.name + end)).exists():
                    copyfile(file, aside.with_name(aside.name + end))
            for end in ("-wal", "-shm"):  # a journal must not meet another file than its own
                path.with_name(path.name + end).unlink(missing_ok=True)
            part.replace(path)
        except OSError as error:
            raise trouble.say(trouble.SHUT, path) from error
    return aside


def _tombs(file: Path) -> list[Row]:
    """The tombstones of a damaged file, as far as they can be read."""
    with suppress(sqlite3.Error), closing(sqlite3.connect(file)) as raw:
        return raw.execute("SELECT id, machine, at FROM tombstone").fetchall()
    return []


def _clean(file: Path, tombs: Sequence[Row]) -> str:
    """Take students out of one backup; what was done to it."""
    from trainer.store.schema import STEPS

    known = _knows(file, [row[0] for row in tombs])
    if _steps(file) == {name for name, _ in STEPS}:
        try:
            erase_in_file(file, tombs)
        except sqlite3.DatabaseError as error:
            if trouble.name(error) not in ("SQLITE_CORRUPT", "SQLITE_NOTADB"):
                raise
            known = True
        else:
            return "cleaned" if known else ""
    if known:
        file.unlink()
    return "removed" if known else ""


def _removed(file: Path, tombs: Sequence[Row]) -> str:
    """Remove a file that nobody can clean, if a student is in it; what was done to it."""
    data = file.read_bytes()
    if not any(str(row[0]).encode() in data for row in tombs):
        return ""
    file.unlink()
    return "" if file.name.endswith(("-wal", "-shm")) else "removed"


def _steps(file: Path) -> set[str]:
    """The migrations of a file; none where it is no whole database."""
    with suppress(sqlite3.Error), closing(sqlite3.connect(file)) as raw:
        return {row[0] for row in raw.execute("SELECT name FROM _sqlite_migrations")}
    return set()


def _knows(file: Path, ids: Sequence[str]) -> bool:
    """Whether a file has any of these students; what cannot be read may have."""
    with suppress(sqlite3.Error), closing(sqlite3.connect(file)) as raw:
        sql = f"SELECT 1 FROM student WHERE id IN {marks(ids)}"
        return raw.execute(sql, tuple(ids)).fetchone() is not None
    return True


def erase_in_file(file: Path, tombs: Sequence[Row]) -> None:
    """Erase students, given as rows of tombstones, from a database that nobody else uses, down
    to the bytes of its file. Raises sqlite3.Error."""
    with closing(sqlite3.connect(file, isolation_level=None)) as raw:
        for setting in ("foreign_keys = ON", "secure_delete = ON", "recursive_triggers = ON"):
            raw.execute(f"PRAGMA {setting}")
        raw.execute("BEGIN IMMEDIATE")
        try:
            for statement, values in _erasing(tombs, _student_tables(raw.execute)):
                raw.execute(statement, values)
            raw.execute("COMMIT")
        except BaseException:
            raw.execute("ROLLBACK")
            raise
        raw.execute("VACUUM")


def _student_tables(run: Callable[..., sqlite3.Cursor]) -> tuple[str, ...]:
    """Every table with a column `student`, so that one that a later version adds is not
    forgotten."""
    sql = (
        "SELECT m.name FROM sqlite_master AS m, pragma_table_info(m.name) AS c"
        " WHERE m.type = 'table' AND c.name = 'student'"
        " AND m.name NOT IN ('erasing', 'erasing_left') ORDER BY m.name"
    )
    return tuple(str(row[0]) for row in run(sql).fetchall())


def _erasing(
    tombs: Sequence[Row], tables: Sequence[str]
) -> Iterator[tuple[str, tuple[object, ...]]]:
    """The statements of one transaction that erases students and sets their tombstones."""
    ids = tuple(row[0] for row in tombs)
    some = marks(ids)
    yield "PRAGMA defer_foreign_keys = ON", ()
    for id_ in ids:
        yield "INSERT OR IGNORE INTO erasing (student) VALUES (?)", (id_,)
    by_attempt = f"attempt IN (SELECT id FROM attempt WHERE student IN {some})"
    yield f"DELETE FROM retraction WHERE {by_attempt}", ids
    yield f"DELETE FROM joining WHERE target IN {some}", ids
    for table in tables:
        yield f"DELETE FROM {table} WHERE student IN {some}", ids
    yield f"DELETE FROM setting WHERE value IN {some}", ids
    yield f"DELETE FROM student WHERE id IN {some}", ids
    for tomb in tombs:
        yield (
            "INSERT INTO tombstone (id, machine, at) SELECT ?1, ?2, ?3"
            " WHERE NOT EXISTS (SELECT 1 FROM tombstone WHERE id = ?1)",
            tuple(tomb),
        )
    yield "DELETE FROM erasing", ()
