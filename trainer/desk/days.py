"""Days of a student: the recitals, and the teacher's notes of lessons."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from trainer.deck.sound import MOST_TEXT
from trainer.desk.base import Part
from trainer.draw.text import clean
from trainer.errors import TrainerError
from trainer.record.attempt import practice_day
from trainer.record.lesson import LessonNote, standing_notes
from trainer.record.people import ProgrammeItem, Recital, Student
from trainer.reports.view import View


class Recitals(Part):
    def set(
        self, student: Student, name: str, day: date, programme: Sequence[ProgrammeItem]
    ) -> Recital:
        """Set a student's recital of that name, or change the one there is. Raises TrainerError
        for a name that is empty and for a day that is over."""
        name = name.strip()
        if not name:
            raise TrainerError("A recital needs a name, such as School concert.")
        today = practice_day(self.clock())
        if day < today:
            raise TrainerError(f"{day} is in the past (today is {today}). Give a future date.")
        known = {one.name: one.id for one in self.store.recitals.of(student.id)}
        recital = Recital(known.get(name) or self.new_id(), student.id, name, day, tuple(programme))
        self.store.recitals.save(recital)
        return recital

    @staticmethod
    def usual(view: View, name: str) -> tuple[ProgrammeItem, ...]:
        """The programme of a student's recital of that name; where there is none yet, all pieces
        in which a start is open."""
        known = [one.programme for one in view.recitals if one.name == name.strip()]
        if known:
            return known[0]
        return tuple(
            ProgrammeItem(deck.id)
            for deck in view.decks.values()
            if any(start.id in view.open for start in deck.starts)
        )


class Notes(Part):
    """The teacher's notes of lessons."""

    def write(self, student: Student, text: str, *, day: date | None = None) -> LessonNote:
        """Write the teacher's note of a lesson, by default today's; it stands for the one there
        was of that day, and an empty text takes that away. It never leaves this database.

        Raises TrainerError for a text that is too long, and where there is nothing to take away.
        """
        now = self.clock()
        day = day or practice_day(now)
        plain = clean(text)
        if len(plain) > MOST_TEXT:
            raise TrainerError(f"A note has at most {MOST_TEXT} characters; this has {len(plain)}.")
        before = self.of(student, day)
        if not plain and before is None:
            raise TrainerError(f"There is no note of {day} to delete.")
        machine, replaced = self.store.machine, before.id if before else ""
        note = LessonNote(self.new_id(), student.id, day, plain, machine, now, replaced)
        self.store.log.append(note)
        return note

    def of(self, student: Student, day: date | None = None) -> LessonNote | None:
        """The teacher's note of a day, by default today; None where there is none."""
        day = day or practice_day(self.clock())
        notes = standing_notes(self.store.log.lesson_notes(student.id))
        return next((note for note in notes if note.day == day), None)
