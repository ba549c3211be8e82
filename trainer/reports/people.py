"""Lists of students and of recitals."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.record.people import Student
from trainer.reports.table import Table
from trainer.reports.today import countdown
from trainer.reports.view import View


def students(found: Sequence[Student]) -> Table:
    return Table(
        "students",
        "Students",
        ("student", "level", "minutes a day", "id"),
        tuple((one.name, one.level, one.minutes, one.id) for one in found),
        () if found else ("No student yet: `trainer student add NAME`; initials will do.",),
        figures=("minutes a day",),
        hidden=("id",),
    )


def recitals(view: View) -> Table:
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
    return Table(
        "recitals",
        f"Recitals of {view.student.name}",
        ("recital", "day", "when", "programme", "id"),
        rows,
        () if rows else ("No recital yet: `trainer recital set NAME 2026-06-21 PIECE ...`.",),
        told="programme",
        hidden=("id",),
    )
