"""The record file: one student's attempts and what belongs to them, to carry to another machine.

A record is a set of events, so that taking records in is a union: the same again changes
nothing, and the order does not matter. Of what can be edited (the student's own entry, a
recital) the last edit counts, by its instant and then by its content.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Final, Literal

from trainer.deck.exchange import canonical, counted, opened, texts, whole
from trainer.deck.sound import MOST_TEXT, sound_ids
from trainer.errors import TrainerError
from trainer.record.attempt import Attempt, Retraction, Witness
from trainer.record.join import Joining, joined_into
from trainer.record.layer import LayerEdit, fault
from trainer.record.people import Opening, Recital, Student
from trainer.values import Frozen

FORMAT: Final = "trainer record"
VERSION = 3  # 2 since there are layers, 3 since tries are heard
MOST_OWN = 2_000  # starts with something of a student's own
MOST_EVENTS = 200_000
MOST_NOTES = 100_000  # of one try, as an instrument counts them
_YEARS = range(1900, 2201)


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
    """The text of a record file. Equal records give equal text, one line an event. Older programs
    can read a record without a layer or without heard tries, so it says so."""
    heard = any(one.heard for one in record.attempts)
    return canonical(RecordFile(FORMAT, VERSION if heard else 2 if record.layer else 1, record))


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


def _ids(record: Record) -> Iterator[tuple[str, Iterator[str]]]:
    yield "record.students", (kept.student.id for kept in record.students)
    yield "record.joinings", (i for e in record.joinings for i in (e.id, e.student, e.into))
    yield "record.recitals", (kept.recital.id for kept in record.recitals)
    yield "record.openings", (i for e in record.openings for i in (e.id, e.deck, e.start))
    yield "record.layer", (i for e in record.layer for i in (e.id, e.deck, e.start))
    yield "record.retractions", (i for e in record.retractions for i in (e.id, e.attempt))
    yield "record.attempts", (i for e in record.attempts for i in (e.id, e.deck, e.start))


def _words(record: Record) -> Iterator[tuple[str, Iterator[str]]]:
    yield "record.students", (kept.student.name for kept in record.students)
    yield (
        "record.recitals",
        (
            text
            for kept in record.recitals
            for text in (kept.recital.name, *(item.deck for item in kept.recital.programme))
        ),
    )
    yield "record.layer", (edit.value for edit in record.layer)
    yield "record", (event.machine for event in (*record.joinings, *_events(record)))
    yield (
        "record.attempts",
        (
            text
            for one in record.attempts
            for text in (one.revision, one.drill, one.elsewhere, one.amends, *one.hints)
        ),
    )
    heard = (one.heard.elsewhere for one in record.attempts if one.heard)
    yield "record.attempts", heard


def _events(record: Record) -> Iterator[Attempt | Retraction | Opening | LayerEdit]:
    yield from record.openings
    yield from record.layer
    yield from record.retractions
    yield from record.attempts


def _faults(record: Record) -> Iterator[str]:
    ids = record.ids
    if len(ids) < len(record.students):
        yield "record.students names a student twice"
    for place, kept in enumerate(record.students):
        if wrong := _student_fault(kept.student) or _instant_fault(kept.edited):
            yield f"record.students[{place}] {wrong}"
    for place, joining in enumerate(record.joinings):
        if joining.student not in ids or joining.student == joining.into:
            yield f"record.joinings[{place}] is not of a student in record.students and another"
        if wrong := _instant_fault(joining.at):
            yield f"record.joinings[{place}] {wrong}"
    for place, held in enumerate(record.recitals):
        if held.recital.student not in ids or len(held.recital.programme) > 200:
            yield f"record.recitals[{place}] is of nobody in record.students, or too long"
        if wrong := _instant_fault(held.edited):
            yield f"record.recitals[{place}] {wrong}"
    for event in _events(record):
        name = _LISTS[type(event)]
        if event.student not in ids:
            yield f"{event.id} in record.{name} is of nobody in record.students"
        if wrong := _instant_fault(event.at):
            yield f"{event.id} in record.{name} {wrong}"
    for place, edit in enumerate(record.layer):
        if wrong := fault(edit):
            yield f"record.layer[{place}] {wrong}"
    for place, one in enumerate(record.attempts):
        if wrong := _attempt_fault(one):
            yield f"record.attempts[{place}] {wrong}"


_LISTS: dict[type, str] = {
    Attempt: "attempts",
    Retraction: "retractions",
    Opening: "openings",
    LayerEdit: "layer",
}


def _instant_fault(at: datetime) -> str:
    if at.utcoffset() is None:
        return "has an instant without its offset from UTC, such as +01:00"
    return "" if at.year in _YEARS else "has an instant that is not from 1900 to 2200"


def _student_fault(student: Student) -> str:
    days = student.week
    if not student.name.strip():
        return "has no name; initials will do"
    if days and len(days) != 7:
        return "has a week of other than seven days"
    if not all(0 <= minutes <= 1440 for minutes in (student.minutes, *days)):
        return "has minutes that are not from 0 to 1440"
    return "has more than 1000 times off" if len(student.off) > 1000 else ""


def _attempt_fault(one: Attempt) -> str:
    if abs(one.day - one.at.date()) > timedelta(days=2):
        return "has a practice day that is not the day of its instant"
    if one.tempo is not None and not 0 < one.tempo <= 1000:
        return "has a tempo that is not over 0 and at most 1000"
    if any(s is not None and not 0 <= s <= 86_400 for s in (one.seconds, one.latency)):
        return "has seconds that are not from 0 to 86400"
    if not _in_a_score(one.broke_at):
        return "broke off at no place of a score"
    if len(one.hints) > 50:
        return "has more than 50 hints"
    return _witness_fault(one.heard) if one.heard else ""


def _in_a_score(place: Fraction | None) -> bool:
    return place is None or (0 <= place <= 10**8 and place.denominator <= 10**6)


def _witness_fault(heard: Witness) -> str:
    counts = (heard.wrong, heard.missed, heard.extra, heard.notes)
    if not all(0 <= count <= MOST_NOTES for count in counts):
        return f"was heard with counts that are not from 0 to {MOST_NOTES}"
    if not 0 <= heard.sure <= 1:
        return "was heard with a sureness that is not from 0 to 1"
    return "" if _in_a_score(heard.broke_at) else "was heard to break off at no place of a score"
