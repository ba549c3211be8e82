"""Values to rows of the log's tables and back, one column a field."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime, timedelta, timezone
from fractions import Fraction
from functools import lru_cache
from hashlib import sha256
from typing import Any, TypeAlias

from trainer.errors import TrainerError
from trainer.record.attempt import Attempt, Outcome, Retraction, Witness
from trainer.record.join import Joining
from trainer.record.layer import LayerEdit
from trainer.record.lesson import LessonNote
from trainer.record.people import Opening
from trainer.store.connection import Row
from trainer.values import Frozen, decode, encode

Event: TypeAlias = Attempt | Retraction | Opening | LayerEdit | Joining | LessonNote

_EPOCH = datetime(1970, 1, 1)
_GREENWICH = _EPOCH.replace(tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)

ATTEMPT = (
    "id, student, deck, revision, start, machine, at, utc_offset, day, outcome, drill, judge,"
    " hands, tempo, hints, elsewhere, broke_at, seconds, latency, amends, heard"
)
RETRACTION = "id, attempt, machine, at, utc_offset, student"
OPENING = "id, student, deck, start, open, machine, at, utc_offset"
LAYER = "id, student, deck, start, what, value, machine, at, utc_offset"
JOINING = "id, student, target, joined, machine, at, utc_offset"
NOTE = "id, student, day, text, machine, at, utc_offset, replaces"


def instant(at: datetime) -> tuple[int, int]:
    """Microseconds since 1970 in UTC, and minutes east of UTC, of an aware instant."""
    offset = at.utcoffset()
    if offset is None:
        raise TrainerError(f"The time {at.isoformat()} lacks its offset from UTC: add one.")
    local = (at.replace(tzinfo=None) - _EPOCH) // _MICROSECOND
    return local - offset // _MICROSECOND, round(offset.total_seconds() / 60)


@lru_cache(maxsize=2048)
def _epoch(minutes: int) -> datetime:
    """The beginning of 1970 in UTC, by clocks so far east."""
    return _GREENWICH.astimezone(timezone(timedelta(minutes=minutes))) if minutes else _GREENWICH


def moment(at: int, utc_offset: int) -> datetime:
    """The aware instant that `instant` took apart."""
    return _epoch(utc_offset) + timedelta(0, 0, at)


_OUTCOMES = {outcome.value: outcome for outcome in Outcome}
_day = lru_cache(maxsize=65536)(date.fromisoformat)
_broke_at = lru_cache(maxsize=65536)(Fraction)


@lru_cache(maxsize=4096)
def _hints(text: str) -> tuple[str, ...]:
    return decode(text, tuple[str, ...], "an attempt's list of hints in the database")


def _heard(text: str) -> Witness:
    return decode(text, Witness, "what was heard of an attempt in the database")


def attempt_row(value: Attempt) -> Row:
    return (
        value.id,
        value.student,
        value.deck,
        value.revision,
        value.start,
        value.machine,
        *instant(value.at),
        value.day.isoformat(),
        value.outcome.value,
        value.drill,
        value.judge,
        value.hands,
        value.tempo,
        encode(value.hints) if value.hints else "[]",
        value.elsewhere,
        None if value.broke_at is None else str(value.broke_at),
        value.seconds,
        value.latency,
        value.amends,
        None if value.heard is None else encode(value.heard),
    )


def attempts(rows: Iterable[Row]) -> tuple[Attempt, ...]:
    return tuple(
        [
            Attempt(
                id_, student, deck, revision, start, machine, moment(at, offset), _day(day),
                _OUTCOMES[outcome], drill, judge, hands, tempo,
                _hints(hints) if hints != "[]" else (), elsewhere,
                None if broke_at is None else _broke_at(broke_at), seconds, latency, amends,
                None if heard is None else _heard(heard),
            )
            for (
                id_, student, deck, revision, start, machine, at, offset, day, outcome, drill,
                judge, hands, tempo, hints, elsewhere, broke_at, seconds, latency, amends, heard,
            ) in rows
        ]
    )  # fmt: skip


def retraction_row(value: Retraction) -> Row:
    return (value.id, value.attempt, value.machine, *instant(value.at), value.student)


def retractions(rows: Iterable[Row]) -> tuple[Retraction, ...]:
    return tuple(
        Retraction(id_, attempt, machine, moment(at, utc_offset), student)
        for id_, attempt, machine, at, utc_offset, student in rows
    )


def opening_row(value: Opening) -> Row:
    return (
        value.id,
        value.student,
        value.deck,
        value.start,
        int(value.open),
        value.machine,
        *instant(value.at),
    )


def openings(rows: Iterable[Row]) -> tuple[Opening, ...]:
    return tuple(
        Opening(id_, student, deck, start, bool(is_open), machine, moment(at, utc_offset))
        for id_, student, deck, start, is_open, machine, at, utc_offset in rows
    )


def layer_row(value: LayerEdit) -> Row:
    head = (value.id, value.student, value.deck, value.start, value.what, value.value)
    return (*head, value.machine, *instant(value.at))


def layer_edits(rows: Iterable[Row]) -> tuple[LayerEdit, ...]:
    return tuple(
        LayerEdit(id_, student, deck, start, what, value, machine, moment(at, utc_offset))
        for id_, student, deck, start, what, value, machine, at, utc_offset in rows
    )


def joining_row(value: Joining) -> Row:
    head = (value.id, value.student, value.into, int(value.joined), value.machine)
    return (*head, *instant(value.at))


def joinings(rows: Iterable[Row]) -> tuple[Joining, ...]:
    return tuple(
        Joining(id_, student, into, bool(joined), machine, moment(at, utc_offset))
        for id_, student, into, joined, machine, at, utc_offset in rows
    )


def note_row(value: LessonNote) -> Row:
    head = (value.id, value.student, value.day.isoformat(), value.text, value.machine)
    return (*head, *instant(value.at), value.replaces)


def notes(rows: Iterable[Row]) -> tuple[LessonNote, ...]:
    return tuple(
        LessonNote(id_, student, _day(day), text, machine, moment(at, utc_offset), replaces)
        for id_, student, day, text, machine, at, utc_offset, replaces in rows
    )


def _statements(table: str, columns: str) -> tuple[str, str]:
    marks = ", ".join("?" for _ in columns.split(","))
    return (
        f"SELECT {columns} FROM {table} WHERE id IN ",
        f"INSERT INTO {table} ({columns}) VALUES ({marks})",
    )


_WRITERS: dict[type, tuple[str, str, Callable[[Any], Row]]] = {
    Attempt: (*_statements("attempt", ATTEMPT), attempt_row),
    Retraction: (*_statements("retraction", RETRACTION), retraction_row),
    Opening: (*_statements("opening", OPENING), opening_row),
    LayerEdit: (*_statements("layer_edit", LAYER), layer_row),
    Joining: (*_statements("joining", JOINING), joining_row),
    LessonNote: (*_statements("note", NOTE), note_row),
}


def finder(kind: type[Event], count: int) -> tuple[str, Callable[[Any], Row]]:
    """For one kind of event: the statement that looks so many up by their ids, and what makes
    a row of one."""
    find, _, row = _WRITERS[kind]
    return f"{find}({', '.join('?' * count)})", row


def adding(kind: type[Event]) -> str:
    """The statement that adds the row of one event of a kind."""
    return _WRITERS[kind][1]


def same(event: Event, known: Row, row: Row) -> bool:
    """Whether an event that came again is the one that is kept. A retraction from before they
    knew their student is the same with and without it."""
    if isinstance(event, Retraction) and "" in (known[-1], row[-1]):
        return known[:-1] == row[:-1]
    return known == row


class Differing(Frozen, frozen=True):
    """What came in under the id of an event that is kept with other contents. `student` is whose
    it is, empty for the edit of a deck, and `owner` whose the kept one is; `content` is JSON."""

    student: str
    owner: str
    kind: str
    event: str
    content: str

    @property
    def id(self) -> str:
        """The same for the same, however often it comes in."""
        told = (self.student, self.kind, self.event, self.content)
        return sha256(encode(told).encode()).hexdigest()[:32]


KINDS: dict[type[Event], str] = {
    Attempt: "attempt",
    Retraction: "retraction",
    Opening: "opening",
    LayerEdit: "own change",
    Joining: "combining",
    LessonNote: "note",
}


def differing(event: Event, known: Row) -> Differing:
    """An event that differs from the one whose row is kept under its id."""
    owner = known[-1] or event.student if isinstance(event, Retraction) else known[1]
    return Differing(event.student, owner, KINDS[type(event)], event.id, encode(event))
