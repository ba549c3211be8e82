"""Lists of students and of recitals."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.document.model import Column, Document, Table, listed
from trainer.record.people import Student
from trainer.record.separate import Share
from trainer.reports.today import countdown
from trainer.reports.view import View

STUDENTS = (
    Column("number", kind="figure"),
    Column("student"),
    Column("level"),
    Column("minutes", "minutes a day", "figure"),
    Column("id", hidden=True),
)
MACHINES = (
    Column("machine"),
    Column("attempts", kind="figure"),
    Column("first"),
    Column("last"),
    Column("id", hidden=True),
)
RECITALS = (
    Column("recital"),
    Column("day"),
    Column("when"),
    Column("programme", kind="sentence"),
    Column("id", hidden=True),
)


def students(found: Sequence[Student]) -> Document:
    rows = tuple((n, one.name, one.level, one.minutes, one.id) for n, one in enumerate(found, 1))
    none = "No student yet: `trainer student add NAME`; initials are enough."
    return listed("students", "Students", Table(STUDENTS, rows), () if found else (none,))


def machines(student: Student, shares: Sequence[Share]) -> Document:
    """A student's attempts by the machine on which they were made."""
    rows = tuple(
        (one.machine[:8], one.attempts, one.first, one.last, one.machine) for one in shares
    )
    how = (
        f"`trainer records separate {student.name} --machine MACHINE --name NAME` gives the"
        " attempts of one machine to another student."
    )
    notes = (how,) if len(rows) > 1 else ()
    title = f"The attempts of {student.name} by machine"
    return listed("machines", title, Table(MACHINES, rows), notes)


def recitals(view: View) -> Document:
    """Each recital with its countdown and its programme."""
    rows = tuple(
        (
            one.name,
            one.day,
            countdown(view.day, one.day) if one.day >= view.day else "over",
            ", ".join(
                view.decks[item.deck].title + (" (with music)" if item.from_memory == "no" else "")
                for item in one.programme
                if item.deck in view.decks
            ),
            one.id,
        )
        for one in sorted(view.recitals, key=lambda recital: (recital.day, recital.id))
    )
    none = "No recital yet: `trainer recital set NAME 2026-06-21 PIECE ...`."
    title = f"Recitals of {view.student.name}"
    return listed("recitals", title, Table(RECITALS, rows), () if rows else (none,))
