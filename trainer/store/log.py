"""The log of attempts, retractions, openings, own edits and notes: it only grows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from itertools import groupby

from trainer.errors import TrainerError
from trainer.record.attempt import Attempt, Retraction
from trainer.record.join import Joining, joined_into
from trainer.record.layer import LayerEdit
from trainer.record.lesson import LessonNote
from trainer.record.log import Mark
from trainer.record.people import Opening, Student
from trainer.record.separate import Share
from trainer.store import rows
from trainer.store.base import Part, marks, portions, shown
from trainer.store.connection import Row
from trainer.store.rows import Differing
from trainer.values import encode

_UP_TO = "(at, id) <= (?, ?)"


@dataclass
class Log(Part):
    """What is read comes in the order of instants, whatever order it arrived in. A student's
    log is that of every entry that was joined to theirs."""

    _expected: Student | None = field(default=None, init=False)

    def expect(self, name: str) -> Student:
        """The student who is there where nobody was added. Their id is random, and they are only
        written when something of theirs is first kept: to look makes nobody."""
        one = self._expected
        erased = "SELECT 1 FROM tombstone WHERE id = ?"
        if one is None or one.name != name or self._connection.row(erased, (one.id,)):
            one = self._expected = Student(self._new_id(), name)
        return one

    def enter(self, *students: str) -> None:
        """See that an expected student is there before what is theirs. Inside a transaction.

        Where another copy of the program has written its expected student meanwhile, the two are
        one person."""
        one, run = self._expected, self._connection.execute
        if one is None or one.id not in students:
            return
        if run("SELECT 1 FROM student WHERE id = ?", (one.id,)).fetchone():
            return
        at = self._now()
        edited = rows.instant(at)[0]
        run(
            "INSERT INTO student (id, content, edited) VALUES (?, ?, ?)",
            (one.id, encode(one), edited),
        )
        first = run(
            "SELECT value FROM setting JOIN student ON student.id = value WHERE key = 'first'"
        ).fetchone()
        if first is None:
            run(
                "INSERT INTO setting (key, value, edited) VALUES ('first', ?, ?)",
                (one.id, edited),
            )
        else:
            self.add([Joining(self._new_id(), one.id, first[0], True, self.machine, at)])

    def append(self, *events: rows.Event) -> int:
        """Add events in one durable transaction: all of them or none.

        An event that is there already is passed over, so the same events may come again and
        in any order. Gives how many were new. Raises TrainerError where an id is there with
        other contents, or a student is not known.
        """
        with self._connection.writing():
            return self.add(events)

    def add(self, events: Iterable[rows.Event], differing: list[Differing] | None = None) -> int:
        """As `append`, inside a transaction. With `differing`, what differs from an event of the
        same student that is kept under its id is put there."""
        new = 0
        for kind, alike in groupby(events, key=type):
            for some in portions(alike):
                new += self._add_some(kind, some, differing)
        return new

    def _add_some(
        self,
        kind: type[rows.Event],
        some: Sequence[rows.Event],
        differing: list[Differing] | None,
    ) -> int:
        """Add a few events of one kind; those that are kept already are looked up at once."""
        new, other = self.compared(kind, some)
        if other and differing is None:
            raise TrainerError(
                f"{kind.__name__} {shown(other[0].event)} is already kept with other contents: "
                "nothing was changed. Check where the second one comes from."
            )
        if differing is not None:
            differing += other
        self.enter(*(event.student for event in some))
        self._connection.execute_all(rows.adding(kind), new)
        return len(new)

    def compared(
        self, kind: type[rows.Event], some: Sequence[rows.Event]
    ) -> tuple[list[Row], list[Differing]]:
        """Of a few events of one kind: the rows of those that are not kept yet, and those that
        differ from the one that is kept under their id."""
        find, as_row = rows.finder(kind, len(some))
        ids = tuple(event.id for event in some)
        known = self._connection.read(lambda found: {row[0]: row for row in found}, find, ids)
        new: list[Row] = []
        other: list[Differing] = []
        for event in some:
            row = as_row(event)
            before = known.setdefault(event.id, row)
            if before is row:
                new.append(row)
            elif not rows.same(event, before, row):
                other.append(rows.differing(event, before))
        return new, other

    def attempts(self, student: str, deck: str | None = None) -> tuple[Attempt, ...]:
        """A student's attempts, of one deck or of all, oldest first, retracted ones included."""
        ids = self.entries_of(student)
        chosen = "" if deck is None else " AND deck = ?"
        sql = f"SELECT {rows.ATTEMPT} FROM attempt WHERE student IN {marks(ids)}{chosen}"
        parameters = ids if deck is None else (*ids, deck)
        return self._connection.read(rows.attempts, f"{sql} ORDER BY at, id", parameters)

    def machines_of(self, student: str, *, alone: bool = False) -> tuple[Share, ...]:
        """What each machine has of a student's attempts that stand, the most first; `alone` without
        the entries that were combined with theirs."""
        every = self.entries_of(student)
        ids = (student,) if alone else every
        told_by = tellers(every)
        return self._connection.read(
            lambda found: tuple(
                Share(machine, count, date.fromisoformat(first), date.fromisoformat(last))
                for machine, count, first, last in found
            ),
            "SELECT machine, count(*), min(day), max(day) FROM attempt AS a"
            f" WHERE student IN {marks(ids)} AND NOT EXISTS (SELECT 1 FROM retraction"
            f" WHERE attempt = a.id AND student IN {marks(told_by)})"
            " GROUP BY machine ORDER BY count(*) DESC, machine",
            (*ids, *told_by),
        )

    def of(self, student: str) -> StoredLog:
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


def tellers(entries: tuple[str, ...]) -> tuple[str, ...]:
    """Whose retractions count for attempts of these entries of one student: their own, and older
    ones of which it is not told whose they are."""
    return (*entries, "")


class StoredLog:
    """A student's log as `record.log.Log` has it, up to what there was when it was asked for: what
    comes later is not in it, whenever it is read. What was once read is not read again."""

    def __init__(self, log: Log, student: str) -> None:
        self._read, self._row = log._connection.read, log._connection.row
        self.entries = log.entries_of(student)
        self._tellers = tellers(self.entries)
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
        ids = marks(self._tellers)
        back = self._row(
            f"SELECT count(*), max(seq) FROM retraction WHERE student IN {ids} AND seq <= ?",
            (*self._tellers, self._last_back),
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
            f" AND seq <= ? AND {where} AND NOT EXISTS (SELECT 1 FROM retraction WHERE"
            f" attempt = a.id AND seq <= ? AND student IN {marks(self._tellers)}) ORDER BY at, id"
        )
        parameters = (*self.entries, self._last, *values, self._last_back, *self._tellers)
        return self._read(rows.attempts, sql, parameters)

    def _changed(self, mark: Mark, place: tuple[object, ...]) -> bool:
        """Whether something before a mark was taken back since, or is corrected from behind it."""
        before = f"a.student IN {marks(self.entries)} AND (a.at, a.id) <= (?, ?)"
        taken_back = self._row(
            "SELECT 1 FROM retraction AS r JOIN attempt AS a ON a.id = r.attempt"
            f" WHERE r.seq > ? AND r.seq <= ? AND r.student IN {marks(self._tellers)}"
            f" AND {before} LIMIT 1",
            (mark.retractions, self._last_back, *self._tellers, *self.entries, *place),
        )
        corrected = self._row(
            "SELECT 1 FROM attempt AS b JOIN attempt AS a ON a.id = b.amends"
            f" WHERE b.student IN {marks(self.entries)} AND (b.at, b.id) > (?, ?)"
            f" AND b.seq <= ? AND b.amends <> '' AND {before} LIMIT 1",
            (*self.entries, *place, self._last, *self.entries, *place),
        )
        return taken_back is not None or corrected is not None
