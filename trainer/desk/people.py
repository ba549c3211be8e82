"""Students: who is meant, their settings, the view of one, and what is kept of a view."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.desk.base import Base
from trainer.desk.shelf import Frames, Shelf
from trainer.errors import TrainerError
from trainer.memory.cache import Basis, Remembered
from trainer.record.attempt import practice_day
from trainer.record.layer import layers, worked_on
from trainer.record.log import Written
from trainer.record.people import UNNAMED, Student
from trainer.record.plan import KeptPlans
from trainer.reports import settings as choices
from trainer.reports.view import View
from trainer.values import decode, encode

if TYPE_CHECKING:
    from trainer.document.model import Document


class People(Base):
    def student(self, text: str = "") -> Student:
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

    def choose(self, student: Student) -> None:
        """Make a student the one meant where none is named."""
        self.store.settings.set("student", student.id)

    def add_student(self, name: str, **fields: object) -> Student:
        """A new student; initials are enough for a name."""
        if not name.strip():
            raise TrainerError("A student needs a name; initials are enough.")
        if any(known.name == name for known in self.store.students.all()):
            raise TrainerError(f"There is already a student called {name}; choose another name.")
        student = Student(self.new_id(), name, **fields)  # type: ignore[arg-type]
        self.store.students.save(student)
        return student

    def settings(self, student: Student) -> Document:
        """All settings as they stand for a student."""
        return choices.report(student, self._kept(student))

    def setting(self, student: Student, name: str) -> str:
        """How one setting stands for a student."""
        return choices.setting(name).told(student, self._kept(student)(name))

    def change_setting(self, student: Student, name: str, text: str) -> Student:
        """Change a setting; gives the student as they are then. Raises TrainerError."""
        chosen = choices.setting(name)
        made = choices.changed(chosen, student, text, practice_day(self.clock()))
        if isinstance(made, Student):
            self.store.students.save(made)
            return made
        self.store.settings.set(chosen.name, made, student.id if chosen.alone else "")
        return student

    def _kept(self, student: Student) -> choices.Kept:
        """What was kept under a setting's name: this student's own, else everyone's."""
        get = self.store.settings.get
        return lambda name: get(name, student.id) or get(name) or ""

    def view(self, student: Student, *, seconds: float | None = None, log: bool = True) -> View:
        """All that there is to know of a student now; without the `log`, as if nothing was ever
        tried."""
        masters = self.store.pieces.decks()
        edits = self.store.log.layer_edits(student.id)
        mine = layers(edits)
        left_out = {start_id for layer in mine.values() for start_id in layer.left_out}
        shelf = Shelf(self.store, masters, mine)
        return View(
            student=student,
            now=self.clock(),
            decks={deck_id: shelf.deck(deck_id) for deck_id in masters},
            pieces=shelf,
            frames=Frames(self.store, masters),
            log=self.store.log.of(student.id) if log else Written(),
            # A start that is left out counts as one that is not open.
            openings=tuple(
                o for o in self.store.log.openings(student.id) if o.start not in left_out
            ),
            recitals=self.store.recitals.of(student.id),
            names=choices.naming(self._kept(student)("names")),
            words=choices.words(self._kept(student)("words")),
            worked_on=worked_on(edits),
            kept=self._kept_beliefs(student) if log else None,
            kept_plans=self._kept_plans(student) if log else None,
            seconds=seconds,
            lesson_notes=self.store.log.lesson_notes(student.id),
            layers=mine,
            masters={deck_id: deck for deck_id, deck in masters.items() if deck_id in mine},
            revisions={entry.id: entry.revision for entry in self.store.pieces.all()},
            not_written=self.store.why_not_written,
        )

    def is_past(self, view: View) -> bool:
        """Whether a view's practice day is over: it has to be made again."""
        return practice_day(self.clock()) != view.day

    def remember(self, view: View) -> None:
        """Keep what a view has worked out, where that will save time the next time."""
        if self.store.read_only:
            return
        beliefs, plans = view.to_keep
        if beliefs:
            self._keep_beliefs(view.student, beliefs)
        if plans:
            self.store.caches.keep_plans(view.student.id, encode(plans))

    def _keep_beliefs(self, student: Student, found: Remembered) -> None:
        tries = found.basis.mark.attempts
        self.store.caches.keep_beliefs(student.id, tries, encode(found.basis), found.content)

    def _kept_beliefs(self, student: Student) -> Remembered | None:
        told = self.store.caches.beliefs(student.id)
        try:
            return Remembered(decode(told[0], Basis, "Kept beliefs"), told[1]) if told else None
        except TrainerError:
            return None  # written in another form: made anew

    def _kept_plans(self, student: Student) -> KeptPlans | None:
        told = self.store.caches.plans(student.id)
        try:
            return decode(told, KeptPlans, "The kept plans") if told else None
        except TrainerError:
            return None  # written in another form: made anew
