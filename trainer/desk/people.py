"""Students: who is meant, and their settings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.desk.base import Part
from trainer.errors import TrainerError
from trainer.record.attempt import practice_day
from trainer.record.people import UNNAMED, Student
from trainer.reports import settings as choices

if TYPE_CHECKING:
    from trainer.document.model import Document


class Students(Part):
    def find(self, text: str = "") -> Student:
        """The student meant: the one named, else the one last chosen, else the only one. Where
        there is no student yet it is one called "me", who is only written to the database when
        something of theirs is first saved."""
        students = self.store.students.all()
        if not students and text in ("", UNNAMED):
            return self.store.log.expect(UNNAMED)
        if text:
            return self.store.students.find(text)
        chosen = self.store.students.head_of(self.store.settings.get("student") or "")
        known = {student.id: student for student in students}
        if chosen in known:
            return known[chosen]
        if len(students) == 1:
            return students[0]
        names = ", ".join(student.name for student in students)
        raise TrainerError(f"There are several students ({names}). Say which with --student.")

    def several(self, text: str) -> list[Student]:
        """The students meant: all of the group of that name, else the one that `find` finds."""
        every = self.store.students.all()
        wanted = text.strip().casefold()
        found = [one for one in every if wanted and wanted in self._groups(one)]
        named = any(one.name.casefold() == wanted for one in every)
        return found if found and not named else [self.find(text)]

    def _groups(self, student: Student) -> list[str]:
        kept = self.store.settings.get("group", student.id) or ""
        return [name.casefold() for name in choices.groups_of(kept)]

    def choose(self, student: Student) -> None:
        """Make a student the one meant where none is named."""
        self.store.settings.set("student", student.id)

    def add(self, name: str, **fields: object) -> Student:
        """A new student; initials are enough for a name."""
        if not name.strip():
            raise TrainerError("A student needs a name; initials are enough.")
        if any(known.name == name for known in self.store.students.all()):
            raise TrainerError(f"There is already a student called {name}; choose another name.")
        student = Student(self.new_id(), name, **fields)  # type: ignore[arg-type]
        self.store.students.save(student)
        return student


class Settings(Part):
    """What was set for one student or for all of them."""

    def report(self, student: Student) -> Document:
        """All settings as they stand for a student."""
        return choices.report(student, self.kept(student))

    def get(self, student: Student, name: str) -> str:
        """How one setting stands for a student."""
        return choices.setting(name).told(student, self.kept(student)(name))

    def change(self, student: Student, name: str, text: str) -> Student:
        """Change a setting; gives the student as they are then. Raises TrainerError."""
        chosen = choices.setting(name)
        made = choices.changed(chosen, student, text, practice_day(self.clock()))
        if isinstance(made, Student):
            self.store.students.save(made)
            return made
        self.store.settings.set(chosen.name, made, student.id if chosen.alone else "")
        return student

    def kept(self, student: Student) -> choices.Kept:
        """What was kept under a setting's name: this student's own, else everyone's."""
        get = self.store.settings.get
        return lambda name: get(name, student.id) or get(name) or ""
