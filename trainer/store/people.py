"""Students, their recitals, and settings: plain rows that may be edited."""

from __future__ import annotations

from datetime import date

from trainer.record.people import ProgrammeItem, Recital, Student
from trainer.store.base import Base, find
from trainer.store.rows import instant

_STUDENT = "id, name, level, minutes"


class People(Base):
    def students(self) -> tuple[Student, ...]:
        """All students, in the order in which they were added."""
        found = self._connection.rows(f"SELECT {_STUDENT} FROM student ORDER BY seq")
        return tuple(Student(*row) for row in found)

    def student(self, text: str) -> Student:
        """The student that a number, a name, or the beginning of a name or id means."""
        return find("student", text, [(one.id, one.name, one) for one in self.students()])

    def save_student(self, student: Student) -> None:
        """Add a student, or change the one with that id."""
        with self._connection.writing() as run:
            run(
                f"INSERT INTO student ({_STUDENT}, edited) VALUES (?, ?, ?, ?, ?)"
                " ON CONFLICT (id) DO UPDATE SET name = excluded.name, level = excluded.level,"
                " minutes = excluded.minutes, edited = excluded.edited",
                (student.id, student.name, student.level, student.minutes, self._edited()),
            )

    def recitals(self, student: str) -> tuple[Recital, ...]:
        """A student's recitals, the earliest first."""
        programmes: dict[str, list[ProgrammeItem]] = {}
        for recital, deck, from_memory in self._connection.rows(
            "SELECT recital, deck, from_memory FROM programme JOIN recital ON id = recital"
            " WHERE student = ? ORDER BY recital, position",
            (student,),
        ):
            programmes.setdefault(recital, []).append(ProgrammeItem(deck, from_memory))
        return tuple(
            Recital(id_, student, name, date.fromisoformat(day), tuple(programmes.get(id_, ())))
            for id_, name, day in self._connection.rows(
                "SELECT id, name, day FROM recital WHERE student = ? ORDER BY day, id", (student,)
            )
        )

    def save_recital(self, recital: Recital) -> None:
        """Add a recital, or change the one with that id, its programme included."""
        with self._connection.writing() as run:
            run(
                "INSERT INTO recital (id, student, name, day, edited) VALUES (?, ?, ?, ?, ?)"
                " ON CONFLICT (id) DO UPDATE SET student = excluded.student,"
                " name = excluded.name, day = excluded.day, edited = excluded.edited",
                (
                    recital.id,
                    recital.student,
                    recital.name,
                    recital.day.isoformat(),
                    self._edited(),
                ),
            )
            run("DELETE FROM programme WHERE recital = ?", (recital.id,))
            for position, item in enumerate(recital.programme):
                run(
                    "INSERT INTO programme (recital, position, deck, from_memory)"
                    " VALUES (?, ?, ?, ?)",
                    (recital.id, position, item.deck, item.from_memory),
                )

    def remove_recital(self, recital_id: str) -> None:
        """Forget a recital; one that is not there is forgotten already."""
        with self._connection.writing() as run:
            run("DELETE FROM recital WHERE id = ?", (recital_id,))

    def setting(self, key: str, student: str = "") -> str | None:
        """A setting of a student, or of everyone; None where it was never made."""
        row = self._connection.row(
            "SELECT value FROM setting WHERE key = ? AND ifnull(student, '') = ?", (key, student)
        )
        return None if row is None else str(row[0])

    def set_setting(self, key: str, value: str, student: str = "") -> None:
        with self._connection.writing() as run:
            run(
                "INSERT INTO setting (key, student, value, edited)"
                " VALUES (?, nullif(?, ''), ?, ?) ON CONFLICT (key, ifnull(student, ''))"
                " DO UPDATE SET value = excluded.value, edited = excluded.edited",
                (key, student, value, self._edited()),
            )

    def _edited(self) -> int:
        return instant(self._now())[0]
