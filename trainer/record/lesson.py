"""What a teacher writes down of a lesson."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from trainer.values import Frozen


class LessonNote(Frozen, frozen=True):
    """A teacher's words on a student and a day. It is the teacher's own: it stays in the
    database where it was written and goes into no record file.

    Nothing is changed: `replaces` is the id of the note that this one stands for, or empty; a
    note with an empty text takes that one away.
    """

    id: str
    student: str
    day: date  # the practice day that it is of
    text: str
    machine: str
    at: datetime
    replaces: str = ""


def standing_notes(notes: Iterable[LessonNote]) -> tuple[LessonNote, ...]:
    """The notes that no other one stands for, the newest day first."""
    notes = tuple(notes)
    gone = {note.replaces for note in notes if note.replaces}
    kept = [note for note in notes if note.id not in gone and note.text]
    return tuple(sorted(kept, key=lambda note: (note.day, note.at, note.id), reverse=True))
