"""The record file: one student's attempts and what belongs to them, to carry to another machine.

A record is a set of events, so that taking records in is a union: the same again changes
nothing, and the order does not matter. Of what can be edited (the student's own entry, a
recital) the last edit counts, by its instant and then by its content.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Final, Literal, TypeAlias

from trainer.deck.exchange import canonical, counted, opened, quoted, texts, whole
from trainer.deck.sound import MOST_TEXT, sound_ids, twice
from trainer.errors import TrainerError
from trainer.record.attempt import Attempt, Retraction, Witness
from trainer.record.join import Joining, joined_into
from trainer.record.layer import LayerEdit, fault
from trainer.record.people import Opening, Recital, Student
from trainer.values import Frozen

FORMAT: Final = "trainer record"
# 2 since there are layers, 3 since tries are heard, 4 since starts are worked on, 5 with homework
VERSION = 5
MOST_OWN = 2_000  # starts with something of a student's own
MOST_EVENTS = 200_000
MOST_NOTES = 100_000  # of one try, as an instrument counts them
MOST_SECONDS = 100_000_000  # of one try: a call that was left standing counted in full before
MOST_PIECES = 200  # of one programme
_YEARS = range(1900, 2201)
_Field: TypeAlias = tuple[str, Iterable[str]]  # its path, and its value in each entry


class KeptStudent(Frozen, frozen=True):
    """A student's entry and the instant of its last edit."""

    student: Student
    edited: datetime


class KeptRecital(Frozen, frozen=True):
    """A recital and the instant of its last edit, which may have been to remove it."""

    recital: Recital
    edited: datetime
    removed: bool = False


class Record(Frozen, frozen=True):
    """All that is kept of one student. `students` are the entries that were joined to one
    person, in the order of their ids; everything else belongs to one of them."""

    students: tuple[KeptStudent, ...]
    joinings: tuple[Joining, ...] = ()
    recitals: tuple[KeptRecital, ...] = ()
    openings: tuple[Opening, ...] = ()
    layer: tuple[LayerEdit, ...] = ()
    retractions: tuple[Retraction, ...] = ()
    attempts: tuple[Attempt, ...] = ()

    @property
    def ids(self) -> frozenset[str]:
        return frozenset(kept.student.id for kept in self.students)

    @property
    def name(self) -> str:
        """The name of the entry that the others were joined to."""
        into = joined_into(self.joinings, self.ids)
        heads = [kept.student.name for kept in self.students if kept.student.id not in into]
        return heads[0] if heads else self.students[0].student.name


class RecordFile(Frozen, frozen=True):
    format: Literal["trainer record"]
    version: int
    record: Record


def write_record(record: Record) -> str:
    """The text of a record file. Equal records give equal text, one line an event. It names the
    oldest version that has all that is in it, so that older programs can read the others."""
    said = {edit.what for edit in record.layer}
    if "homework" in said:
        version = VERSION
    elif "worked on" in said:
        version = 4
    elif any(one.heard for one in record.attempts):
        version = 3
    else:
        version = 2 if record.layer else 1
    return canonical(RecordFile(FORMAT, version, record))


def parse_record(data: bytes, what: str) -> Record:
    """The record in the bytes of a record file; `what` names the file in errors."""
    opened(data, what, format=FORMAT, version=VERSION, form="record file")
    record = whole(data, RecordFile, what).record
    _bounded(record, what)
    for sentence in _faults(record):
        raise TrainerError(f"{what}: {sentence}.")
    return record


def _bounded(record: Record, what: str) -> None:
    """Counts, lengths of texts, and forms of ids."""
    if not record.students:
        raise TrainerError(f"{what} names no student in record.students.")
    counted(what, "record.students", record.students, 100)
    counted(what, "record.joinings", record.joinings, 1_000)
    counted(what, "record.recitals", record.recitals, 1_000)
    for path, events in (
        ("record.openings", record.openings),
        ("record.layer", record.layer),
        ("record.retractions", record.retractions),
        ("record.attempts", record.attempts),
    ):
        counted(what, path, events, MOST_EVENTS)
    counted(what, "record.layer (starts)", [*{(e.deck, e.start) for e in record.layer}], MOST_OWN)
    for path, ids in _ids(record):
        sound_ids(what, path, ids)
    for path, words in _words(record):
        texts(what, path, words, MOST_TEXT)


def _fields(path: str, entries: Sequence[Frozen], *names: str) -> Iterator[_Field]:
    """One field after the other of all entries of a list."""
    for name in names:
        yield f"{path}[].{name}", [getattr(entry, name) for entry in entries]


def _ids(record: Record) -> Iterator[_Field]:
    students = [kept.student for kept in record.students]
    recitals = [kept.recital for kept in record.recitals]
    yield "record.students[].student.id", [student.id for student in students]
    yield from _fields("record.joinings", record.joinings, "id", "student", "into")
    yield "record.recitals[].recital.id", [recital.id for recital in recitals]
    yield from _fields("record.openings", record.openings, "id", "deck", "start")
    yield from _fields("record.layer", record.layer, "id", "deck", "start")
    yield from _fields("record.retractions", record.retractions, "id", "attempt")
    yield from _fields("record.attempts", record.attempts, "id", "deck", "start")


def _words(record: Record) -> Iterator[_Field]:
    yield "record.students[].student.name", [kept.student.name for kept in record.students]
    yield "record.recitals[].recital.name", [kept.recital.name for kept in record.recitals]
    for place, kept in enumerate(record.recitals):
        path = f"record.recitals[{place}].recital.programme[].deck"
        yield path, [item.deck for item in kept.recital.programme]
    yield from _fields("record.layer", record.layer, "value")
    for name, events in (("joinings", record.joinings), *_events(record).items()):
        yield from _fields(f"record.{name}", events, "machine")
    attempts = record.attempts
    yield from _fields("record.attempts", attempts, "revision", "drill", "elsewhere", "amends")
    yield "record.attempts[].hints", (max(one.hints, key=len, default="") for one in attempts)
    heard = (one.heard.elsewhere if one.heard else "" for one in attempts)
    yield "record.attempts[].heard.elsewhere", heard


def _events(record: Record) -> Mapping[str, Sequence[Attempt | Retraction | Opening | LayerEdit]]:
    """The lists of what happened at one instant to one student."""
    return {
        "openings": record.openings,
        "layer": record.layer,
        "retractions": record.retractions,
        "attempts": record.attempts,
    }


def _faults(record: Record) -> Iterator[str]:
    """What is wrong, each from the path of the field on."""
    ids = record.ids
    yield from twice("record.students[].student.id", [kept.student.id for kept in record.students])
    for place, kept in enumerate(record.students):
        path = f"record.students[{place}]"
        if wrong := _student_fault(kept.student):
            yield f"{path}.student.{wrong}"
        if wrong := _instant_fault(kept.edited):
            yield f"{path}.edited {wrong}"
    for place, joining in enumerate(record.joinings):
        path = f"record.joinings[{place}]"
        if joining.student not in ids:
            yield f"{path}.student {_nobody(joining.student)}"
        if joining.student == joining.into:
            yield f"{path}.into is the same student: a joining is of two"
        if wrong := _instant_fault(joining.at):
            yield f"{path}.at {wrong}"
    for place, held in enumerate(record.recitals):
        path = f"record.recitals[{place}]"
        if held.recital.student not in ids:
            yield f"{path}.recital.student {_nobody(held.recital.student)}"
        if len(held.recital.programme) > MOST_PIECES:
            yield f"{path}.recital.programme has more than {MOST_PIECES} pieces"
        if wrong := _instant_fault(held.edited):
            yield f"{path}.edited {wrong}"
    for name, events in _events(record).items():
        for place, event in enumerate(events):
            if event.student not in ids:
                yield f"record.{name}[{place}].student {_nobody(event.student)}"
            if wrong := _instant_fault(event.at):
                yield f"record.{name}[{place}].at {wrong}"
    for place, edit in enumerate(record.layer):
        if wrong := fault(edit):
            yield f"record.layer[{place}] {wrong}"
    for place, one in enumerate(record.attempts):
        if wrong := _attempt_fault(one):
            yield f"record.attempts[{place}].{wrong}"


def _nobody(student: str) -> str:
    return f"is {quoted(student)}, who is not in record.students"


def _instant_fault(at: datetime) -> str:
    if at.utcoffset() is None:
        return "lacks its offset from UTC, such as +01:00"
    return "" if at.year in _YEARS else "is not from 1900 to 2200"


def _student_fault(student: Student) -> str:
    if not student.name.strip():
        return "name is empty; initials are enough"
    if student.week and len(student.week) != 7:
        return "week has other than seven days"
    if not 0 <= student.minutes <= 1440:
        return "minutes is not from 0 to 1440"
    if not all(0 <= minutes <= 1440 for minutes in student.week):
        return "week has minutes that are not from 0 to 1440"
    return "off has more than 1000 times" if len(student.off) > 1000 else ""


def _attempt_fault(one: Attempt) -> str:
    if abs(one.day - one.at.date()) > timedelta(days=2):
        return "day is not the practice day of its instant"
    if one.tempo is not None and not 0 < one.tempo <= 1000:
        return "tempo is not over 0 and at most 1000"
    for name, seconds in (("seconds", one.seconds), ("latency", one.latency)):
        if seconds is not None and not 0 <= seconds <= MOST_SECONDS:
            return f"{name} is not from 0 to {MOST_SECONDS}"
    if not _in_a_score(one.broke_at):
        return "broke_at is not a place in the score"
    if len(one.hints) > 50:
        return "hints has more than 50 entries"
    wrong = _witness_fault(one.heard) if one.heard else ""
    return f"heard.{wrong}" if wrong else ""


def _in_a_score(place: Fraction | None) -> bool:
    return place is None or (0 <= place <= 10**8 and place.denominator <= 10**6)


def _witness_fault(heard: Witness) -> str:
    for name in ("wrong", "missed", "extra", "notes"):
        if not 0 <= getattr(heard, name) <= MOST_NOTES:
            return f"{name} is not from 0 to {MOST_NOTES}"
    if not 0 <= heard.sure <= 1:
        return "sure is not from 0 to 1"
    return "" if _in_a_score(heard.broke_at) else "broke_at is not a place in the score"
