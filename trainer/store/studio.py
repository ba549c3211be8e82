"""The teacher's list: what is asked of all students at once, by sums instead of whole logs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from hashlib import sha256

from trainer.record.studio import Logged
from trainer.store.base import Part, marks
from trainer.store.connection import Row
from trainer.store.log import Log, tellers
from trainer.store.people import Students
from trainer.store.rows import instant

# A day of practice is one with an attempt that stands and that the teacher did not judge.
_STANDS = (
    "judge <> 'teacher'"
    " AND NOT EXISTS (SELECT 1 FROM retraction WHERE attempt = a.id AND student IN {})"
)
# Nothing of a log changes but by an event more, so that a count and the last place tell.
_MARKS = (
    "SELECT student, count(*), max(seq) FROM attempt GROUP BY student",
    "SELECT student, count(*), max(seq) FROM retraction GROUP BY student",
    "SELECT student, count(*), max(seq) FROM opening GROUP BY student",
    "SELECT student, count(*), max(seq) FROM layer_edit GROUP BY student",
    "SELECT student, count(*), max(edited), sum(removed) FROM recital GROUP BY student",
)
_FOR_ALL = (
    "SELECT count(*), max(seq) FROM joining",
    "SELECT count(*), max(seq) FROM retraction WHERE student = ''",
    "SELECT count(*), max(seq) FROM deck_edit",
)


@dataclass
class Studio(Part):
    log: Log
    students: Students

    def logged(self, since: date) -> dict[str, Logged]:
        """What the log says of every student, in sums; `days` are counted from `since` on."""
        into = self.log.joined_into()
        entries: dict[str, list[str]] = {}
        for one in self.students.entries():
            entries.setdefault(into.get(one.id, one.id), []).append(one.id)
        marks = [self._by_student(sql) for sql in _MARKS]
        for_all = [self._connection.row(sql) for sql in _FOR_ALL]
        found = {}
        for head, ids in entries.items():
            of = [(sql.get(id_), id_) for sql in marks for id_ in sorted(ids)]
            told = sha256(f"{for_all}{of}".encode()).hexdigest()[:32]
            tries = sum(int(marks[0][id_][0]) for id_ in ids if id_ in marks[0])
            told_by = tellers(tuple(ids))
            days = {day for id_ in ids for day in self._days(id_, told_by, since)}
            last = [day for id_ in ids for day in self._last(id_, told_by)]
            found[head] = Logged(tries, max(last, default=None), len(days), told)
        return found

    def _by_student(self, sql: str) -> Mapping[str, Row]:
        return self._connection.read(
            lambda rows: {str(student): tuple(rest) for student, *rest in rows}, sql
        )

    def _last(self, entry: str, told_by: tuple[str, ...]) -> Iterator[date]:
        row = self._connection.row(
            f"SELECT day FROM attempt AS a WHERE student = ? AND {_STANDS.format(marks(told_by))}"
            " ORDER BY at DESC, id DESC LIMIT 1",
            (entry, *told_by),
        )
        if row:
            yield date.fromisoformat(str(row[0]))

    def _days(self, entry: str, told_by: tuple[str, ...], since: date) -> set[str]:
        """The practice days from `since` on with a try. The index is by instants: two days
        before are looked through too, whatever the place."""
        at = instant(datetime.combine(since - timedelta(days=2), time(), UTC))[0]
        return self._connection.read(
            lambda rows: {str(row[0]) for row in rows},
            "SELECT DISTINCT day FROM attempt AS a WHERE student = ? AND at >= ? AND day >= ?"
            f" AND {_STANDS.format(marks(told_by))}",
            (entry, at, since.isoformat(), *told_by),
        )
