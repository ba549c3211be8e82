"""Students, their recitals, and settings: plain rows that may be edited."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from trainer.record.file import KeptRecital, KeptStudent
from trainer.record.people import ProgrammeItem, Recital, Student
from trainer.store.base import Part, find, marks
from trainer.store.connection import Row
from trainer.store.log import Log
from trainer.store.rows import moment
from trainer.values import decode, encode


@dataclass
class Students(Part):
    """A student that was joined to another entry is no entry of their own until they are parted
    again."""

    log: Log

    def all(self) -> tuple[Student, ...]:
        """All students, in the order in which they were added."""
        into = self.log.joined_into()
        return tuple(one for one in self.entries() if one.id not in into)

    def entries(self) -> tuple[Student, ...]:
        """Every entry of a student, those included that were joined to another one."""
        what = f"A student in {self._connection.path}"
        return self._connection.read(
            lambda rows: tuple(decode(content, Student, what) for (content,) in rows),
            "SELECT content FROM student ORDER BY seq",
        )

    def find(self, text: str) -> Student:
        """The student that a number, a name, or the beginning of a name or id means."""
        return find("student", text, [(one.id, one.name, one) for one in self.all()])

    def find_entry(self, text: str) -> Student:
        """As `find`, among all entries, those included that were joined to another one."""
        return find("entry", text, [(one.id, one.name, one) for one in self.entries()])

    def head_of(self, student: str) -> str:
        """The id of the entry that this one counts as: its own where it was not joined."""
        return self.log.joined_into().get(student, student)

    def save(self, student: Student) -> None:
        """Add a student, or change the one with that id."""
        with self._connection.writing() as run:
            self.log.enter(student.id)
            # Later than the edit before it, even where the clock was put back meanwhile.
            run(
                "INSERT INTO student (id, content, edited) VALUES (?, ?, ?) ON CONFLICT (id)"
                " DO UPDATE SET content = excluded.content,"
                " edited = max(excluded.edited, edited + 1)",
                (student.id, encode(student), self._edited()),
            )

    def kept(self) -> tuple[KeptStudent, ...]:
        what = f"A student in {self._connection.path}"
        return self._connection.read(
            lambda found: tuple(
                KeptStudent(decode(content, Student, what), moment(edited, 0))
                for content, edited in found
            ),
            "SELECT content, edited FROM student ORDER BY id",
        )


@dataclass
class Recitals(Part):
    log: Log

    def of(self, student: str) -> tuple[Recital, ...]:
        """A student's recitals, the earliest first."""
        return tuple(kept.recital for kept in self.kept(student) if not kept.removed)

    def kept(self, student: str) -> tuple[KeptRecital, ...]:
        ids = self.log.entries_of(student)
        return self._connection.read(
            _recitals,
            "SELECT recital.id, student, name, day, edited, removed, deck, from_memory"
            " FROM recital LEFT JOIN programme ON recital = recital.id"
            f" WHERE student IN {marks(ids)} ORDER BY day, recital.id, position",
            ids,
        )

    def save(self, recital: Recital) -> None:
        """Add a recital, or change the one with that id, its programme included."""
        with self._connection.writing() as run:
            known = run("SELECT edited FROM recital WHERE id = ?", (recital.id,)).fetchone()
            self.put(recital, max(self._edited(), known[0] + 1 if known else 0))

    def remove(self, recital_id: str) -> None:
        """Forget a recital; one that is not there is forgotten already. That it was removed is
        kept, so that no record brings it back."""
        with self._connection.writing() as run:
            run("DELETE FROM programme WHERE recital = ?", (recital_id,))
            run(
                "UPDATE recital SET removed = 1, edited = max(?, edited + 1)"
                " WHERE id = ? AND NOT removed",
                (self._edited(), recital_id),
            )

    def put(self, recital: Recital, edited: int, *, removed: bool = False) -> None:
        """Put a recital down as it is. Inside a transaction."""
        run = self._connection.execute
        self.log.enter(recital.student)
        row = (recital.id, recital.student, recital.name, recital.day.isoformat(), edited, removed)
        run(
            "INSERT INTO recital (id, student, name, day, edited, removed)"
            " VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO UPDATE SET"
            " student = excluded.student, name = excluded.name, day = excluded.day,"
            " edited = excluded.edited, removed = excluded.removed",
            row,
        )
        run("DELETE FROM programme WHERE recital = ?", (recital.id,))
        for position, item in enumerate(recital.programme):
            run(
                "INSERT INTO programme (recital, position, deck, from_memory) VALUES (?, ?, ?, ?)",
                (recital.id, position, item.deck, item.from_memory),
            )


def _recitals(rows: Iterable[Row]) -> tuple[KeptRecital, ...]:
    """From one row for each piece of a programme, or one without a piece."""
    recitals = []
    for head, lines in groupby(rows, key=lambda row: row[:6]):
        items = tuple(ProgrammeItem(deck, how) for *_, deck, how in lines if deck is not None)
        id_, student, name, day, edited, removed = head
        recital = Recital(id_, student, name, date.fromisoformat(day), items)
        recitals.append(KeptRecital(recital, moment(edited, 0), bool(removed)))
    return tuple(recitals)


@dataclass
class Settings(Part):
    log: Log

    def get(self, key: str, student: str = "") -> str | None:
        """A setting of a student, or of everyone; None where it was never made."""
        row = self._connection.row(
            "SELECT value FROM setting WHERE key = ? AND ifnull(student, '') = ?", (key, student)
        )
        return None if row is None else str(row[0])

    def set(self, key: str, value: str, student: str = "") -> None:
        with self._connection.writing() as run:
            self.log.enter(student)
            run(
                "INSERT INTO setting (key, student, value, edited)"
                " VALUES (?, nullif(?, ''), ?, ?) ON CONFLICT (key, ifnull(student, ''))"
                " DO UPDATE SET value = excluded.value, edited = excluded.edited",
                (key, student, value, self._edited()),
            )
