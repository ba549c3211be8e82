"""Who learns and for when: students, what is open to them, and recitals."""

from __future__ import annotations

from datetime import date, datetime
from typing import Literal

from trainer.values import Frozen

Level = Literal["child", "adult", "advanced"]
FromMemory = Literal["yes", "no", "optional"]

UNNAMED = "me"  # the student who is there where nobody was added


class DaysOff(Frozen, frozen=True):
    """Practice days, first and last included, without a drill."""

    first: date
    last: date


class Student(Frozen, frozen=True):
    """`name` may be initials. `minutes` is the drill time of a day, unless `week` gives it for
    Monday to Sunday (seven numbers)."""

    id: str
    name: str
    level: Level = "adult"
    minutes: float = 8.0
    week: tuple[float, ...] = ()
    off: tuple[DaysOff, ...] = ()

    def minutes_on(self, day: date) -> float:
        """The drill time of one practice day, 0 on a day off."""
        if any(free.first <= day <= free.last for free in self.off):
            return 0.0
        return self.week[day.weekday()] if len(self.week) == 7 else self.minutes


class Opening(Frozen, frozen=True):
    """Says that a start was opened (its phrase has been learned) or closed for a student.
    The last one counts."""

    id: str
    student: str
    deck: str
    start: str
    open: bool
    machine: str
    at: datetime


class ProgrammeItem(Frozen, frozen=True):
    deck: str
    from_memory: FromMemory = "yes"


class Recital(Frozen, frozen=True):
    id: str
    student: str
    name: str
    day: date
    programme: tuple[ProgrammeItem, ...] = ()


def open_starts(openings: tuple[Opening, ...]) -> frozenset[str]:
    """The ids of starts that are open, by the last word said on each."""
    last: dict[str, Opening] = {}
    for opening in sorted(openings, key=lambda o: (o.at, o.id)):
        last[opening.start] = opening
    return frozenset(start for start, opening in last.items() if opening.open)
