"""The log of attempts, retractions, openings, own edits and notes: it only grows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from itertools import groupby, islice

from trainer.errors import TrainerError
from trainer.record.attempt import Attempt, Retraction
from trainer.record.join import Joining, joined_into
from trainer.record.layer import LayerEdit
from trainer.record.lesson import LessonNote
from trainer.record.log import Mark
from trainer.record.people import Opening, Student
from trainer.store import rows
from trainer.store.base import Base, marks, shown
from trainer.store.connection import Row
from trainer.values import encode

PORTION = 250  # events that are looked up at once
_UP_TO = "(at, id) <= (?, ?)"


class Log(Base):
    """What is read comes in the order of instants, whatever order it arrived in. A student's
    log is that of every entry that was joined to theirs."""

    _expected: Student | None = None

    def expect(self, student: Student) -> None:
        """Make this one a student with the first thing of theirs that is kept, not before."""
        self._expected = student

    def _enter(self, *students: str) -> None:
        """See that an expected student is there before what is theirs. Inside a transaction."""
        if self._expected and self._expected.id in students:
            self._connection.execute(
                "INSERT INTO student (id, content, edited) VALUES (?, ?, ?)"
                " ON CONFLICT (id) DO NOTHING",
                (self._expected.id, encode(self._expected), rows.instant(self._now())[0]),
            )

    def append(self, *events: rows.Event) -> int:
        """Add events in one durable transaction: all of them or none.

        An event that is there already is passed over, so the same events may come again and
        in any order. Gives how many were new. Raises TrainerError where an id is there with
        other contents, or a student is not known.
        """
        with self._connection.writing():
            return self._add(events)

    def _add(self, events: Iterable[rows.Event]) -> int:
        """As `append`, inside a transaction."""
        new = 0
        for kind, alike in groupby(events, key=type):
            while some := tuple(islice(alike, PORTION)):
                new += self._add_some(kind, some)
        return new

    def _add_some(self, kind: type[rows.Event], some: Sequence[rows.Event]) -> int:
        """Add a few events of one kind; those that are kept already are looked up at once."""
        find, add, as_row = rows.writer(kind, len(some))
        ids = tuple(event.id for event in some)
        known = {row[0]: row for row in self._connection.execute(find, ids)}
        new: list[Row] = []
        for event in some:
            row = as_row(event)
            before = known.setdefault(event.id, row)
            if before is row:
                new.append(row)
            elif not rows.same(event, before, row):
                raise TrainerError(
                    f"{kind.__name__} {shown(event.id)} is already kept with other"
                    " contents: nothing was changed, see where the second one comes from."
                )
        self._enter(*(event.student for event in some))
        self._connection.execute_all(add, new)
        return len(new)

    def attempts(self, student: str, deck: str | None = None) -> tuple[Attempt, ...]:
        """A student's attempts, of one deck or of all, oldest first, retracted ones included."""
        ids = self.entries_of(student)
        chosen = "" if deck is None else " AND deck = ?"
        sql = f"SELECT {rows.ATTEMPT} FROM attempt WHERE student IN {marks(ids)}{chosen}"
        parameters = ids if deck is None else (*ids, deck)
        return self._connection.read(rows.attempts, f"{sql} ORDER BY at, id", parameters)

    def log_of(self, student: str) -> StoredLog:
        """A student's log for those who only read it."""
        return StoredLog(self, student)

    def retractions(self, student: str) -> tuple[Retraction, ...]:
        """The retractions of a student's attempts, oldest first. One that names its student may
        be there before its attempt."""
        ids = self.entries_of(student)
        columns = ", ".join(f"r.{name}" for name in rows.RETRACTION.split(", "))
        return self._connection.read(
            rows.retractions,
            f"SELECT {rows.RETRACTION} FROM retraction WHERE student IN {marks(ids)}"
            f" UNION ALL SELECT {columns} FROM retraction AS r JOIN attempt AS a"
            f" ON a.id = r.attempt WHERE r.student = '' AND a.student IN {marks(ids)}"
            " ORDER BY at, id",
            ids + ids,
        )

    def openings(self, student: str) -> tuple[Opening, ...]:
        """What was said to a student about open starts, oldest first."""
        ids = self.entries_of(student)
        sql = f"SELECT {rows.OPENING} FROM opening WHERE student IN {marks(ids)} ORDER BY at, id"
        return self._connection.read(rows.openings, sql, ids)

    def lesson_notes(self, student: str) -> tuple[LessonNote, ...]:
        """What the teacher wrote of a student's lessons, oldest first, replaced notes included.
        It is the teacher's own: it is in no record that leaves this database."""
        ids = self.entries_of(student)
        sql = f"SELECT {rows.NOTE} FROM note WHERE student IN {marks(ids)} ORDER BY at, id"
        return self._connection.read(rows.notes, sql, ids)

    def layer_edits(self, student: str) -> tuple[LayerEdit, ...]:
        """What was said on a student's own layer over decks, oldest first."""
        ids = self.entries_of(student)
        sql = f"SELECT {rows.LAYER} FROM layer_edit WHERE student IN {marks(ids)} ORDER BY at, id"
        return self._connection.read(rows.layer_edits, sql, ids)

    def joinings(self) -> tuple[Joining, ...]:
        """Every word on which entries are one student, oldest first."""
        sql = f"SELECT {rows.JOINING} FROM joining ORDER BY at, id"
        return self._connection.read(rows.joinings, sql)

    def joined_into(self) -> dict[str, str]:
        """Which entry each one that was joined to another counts as, by their ids."""
        told = self.joinings()
        known = self._connection.read(set, "SELECT id FROM student") if told else set()
        return joined_into(told, {row[0] for row in known})

    def entries_of(self, student: str) -> tuple[str, ...]:
        """The ids of all entries that are one person with this one, its own included."""
        into = self.joined_into()
        if not into:
            return (student,)
        head = into.get(student, student)
        return tuple(sorted({head, student, *(id_ for id_, end in into.items() if end == head)}))


class StoredLog:
    """A student's log as `record.log.Log` has it, up to what there was when it was asked for: what
    comes later is not in it, whenever it is read. What was once read is not read again."""

    def __init__(self, log: Log, student: str) -> None:
        self._read, self._row = log._connection.read, log._connection.row
        self.entries = log.entries_of(student)
        ends = self._row(
            "SELECT (SELECT ifnull(max(seq), 0) FROM attempt),"
            " (SELECT ifnull(max(seq), 0) FROM retraction)"
        )
        self._last, self._last_back = ends or (0, 0)

    @cached_property
    def attempts(self) -> tuple[Attempt, ...]:
        return self._standing("TRUE")

    @cached_property
    def state(self) -> str:
        """Rows are only ever added: their count and the last place tell all."""
        ids = (*self.entries, "")  # of older retractions it is not known whose they are
        back = self._row(
            f"SELECT count(*), max(seq) FROM retraction WHERE student IN {marks(ids)} AND seq <= ?",
            (*ids, self._last_back),
        )
        return f"{self.entries} {self._all('count(*), max(seq)')} {back}"

    def on(self, day: date) -> tuple[Attempt, ...]:
        # The index is by instants: two days before are looked through too, whatever the place.
        at = rows.instant(datetime.combine(day - timedelta(days=2), time(), UTC))[0]
        return self._standing("at >= ? AND day = ?", at, day.isoformat())

    def later(self, at: datetime) -> tuple[Attempt, ...]:
        return self._standing("at > ?", rows.instant(at)[0])

    def mark(self, last: Attempt, day: date) -> Mark:
        place = (rows.instant(last.at)[0], last.id)
        count = int(self._all("count(*)", _UP_TO, *place)[0])
        return Mark(count, last.at, last.id, day, self._last_back, self.entries)

    def since(self, mark: Mark) -> tuple[Attempt, ...] | None:
        place = (rows.instant(mark.at)[0], mark.id)
        same = mark.entries == self.entries
        if not same or int(self._all("count(*)", _UP_TO, *place)[0]) != mark.attempts:
            return None
        return None if self._changed(mark, place) else self._standing("(at, id) > (?, ?)", *place)

    def _all(self, what: str, where: str = "TRUE", *values: object) -> Row:
        """A sum over the attempts, retracted ones included."""
        sql = f"SELECT {what} FROM attempt WHERE student IN {marks(self.entries)} AND seq <= ?"
        return self._row(f"{sql} AND {where}", (*self.entries, self._last, *values)) or ()

    def _standing(self, where: str, *values: object) -> tuple[Attempt, ...]:
        """The attempts that were not taken back, oldest first."""
        sql = (
            f"SELECT {rows.ATTEMPT} FROM attempt AS a WHERE student IN {marks(self.entries)}"
            f" AND seq <= ? AND {where} AND NOT EXISTS"
            " (SELECT 1 FROM retraction WHERE attempt = a.id AND seq <= ?) ORDER BY at, id"
        )
        parameters = (*self.entries, self._last, *values, self._last_back)
        return self._read(rows.attempts, sql, parameters)

    def _changed(self, mark: Mark, place: tuple[object, ...]) -> bool:
        """Whether something before a mark was taken back since, or is corrected from behind it."""
        before = f"a.student IN {marks(self.entries)} AND (a.at, a.id) <= (?, ?)"
        taken_back = self._row(
            "SELECT 1 FROM retraction AS r JOIN attempt AS a ON a.id = r.attempt"
            f" WHERE r.seq > ? AND r.seq <= ? AND {before} LIMIT 1",
            (mark.retractions, self._last_back, *self.entries, *place),
        )
        corrected = self._row(
            "SELECT 1 FROM attempt AS b JOIN attempt AS a ON a.id = b.amends"
            f" WHERE b.student IN {marks(self.entries)} AND (b.at, b.id) > (?, ?)"
            f" AND b.seq <= ? AND b.amends <> '' AND {before} LIMIT 1",
            (*self.entries, *place, self._last, *self.entries, *place),
        )
        return taken_back is not None or corrected is not None
