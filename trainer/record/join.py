"""Two entries that are one person: a pupil who began alone, and the teacher's entry for them."""

from __future__ import annotations

from collections.abc import Container, Iterable
from datetime import datetime

from trainer.values import Frozen


class Joining(Frozen, frozen=True):
    """Says that the student `student` is the one that `into` means, or, where not `joined`, that
    they are two after all. The last word on `student` counts; no attempt is rewritten."""

    id: str
    student: str
    into: str
    joined: bool
    machine: str
    at: datetime


def in_order(joinings: Iterable[Joining]) -> list[Joining]:
    """The oldest first; the last one on a student counts."""
    return sorted(joinings, key=lambda one: (one.at, one.id))


def joined_into(joinings: Iterable[Joining], known: Container[str]) -> dict[str, str]:
    """Which student each joined one counts as; who is not joined to another is left out.

    `known` are the ids of the entries that are there: one that has not arrived yet stands for
    nobody. A function of the sets alone, so that every machine that knows the same agrees.
    Where joinings go round in a circle, the least id stands for all of it.
    """
    last = {one.student: one for one in in_order(joinings)}
    step = {
        one.student: one.into
        for one in last.values()
        if one.joined and one.into != one.student and one.into in known
    }
    found = {student: _end(student, step) for student in step}
    return {student: end for student, end in found.items() if end != student}


def _end(student: str, step: dict[str, str]) -> str:
    """Where the joinings lead from one student."""
    seen: list[str] = []
    while student in step and student not in seen:
        seen.append(student)
        student = step[student]
    return min(seen[seen.index(student) :]) if student in seen else student
