"""Records of students, on their way to another machine and in from one.

Taking records in is a union of sets of events, and of what can be edited the greatest by the
instant of its edit and its content: the same result in any order, any number of times. Of two
events with one id the first that came counts, and the other one is kept beside the log.

A record is of one student and touches nobody else: what it names of another student's is not
taken in, and a retraction or a correction counts only among the entries of one student.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from msgspec.structs import replace

from trainer.errors import TrainerError
from trainer.record.file import KeptRecital, KeptStudent, Record
from trainer.record.join import Joining, in_order, joined_into
from trainer.record.people import Student
from trainer.store.base import Part, marks, portions, shown
from trainer.store.log import Log
from trainer.store.people import Recitals, Students
from trainer.store.rows import Differing, Event, instant, moment
from trainer.values import Frozen, encode

ERASED = (
    "The student of this record was erased for good here: nothing was imported, and you can "
    "delete the file."
)


class Taken(Frozen, frozen=True):
    """What taking a record in has brought: how many new events of each kind, how many entries
    and recitals were added or changed, and who is new here."""

    attempts: int = 0
    retractions: int = 0
    openings: int = 0
    layer: int = 0
    joinings: int = 0
    edits: int = 0
    students: tuple[str, ...] = ()
    differing: tuple[str, ...] = ()  # events that are kept here with other contents, in words
    logged: int = 0  # how many of these were not known to differ

    @property
    def anything(self) -> bool:
        events = self.attempts + self.retractions + self.openings + self.layer + self.joinings
        return bool(events or self.edits or self.logged)


@dataclass
class Records(Part):
    log: Log
    students: Students
    recitals: Recitals

    def of(self, student: str) -> Record:
        """All that is kept of a student, every entry that was joined to theirs included."""
        ids = self.log.entries_of(student)
        attempts = self.log.attempts(student)
        by_attempt = {one.id: one.student for one in attempts}
        return Record(
            students=tuple(kept for kept in self.students.kept() if kept.student.id in ids),
            joinings=tuple(one for one in self.log.joinings() if one.student in ids),
            recitals=tuple(sorted(self.recitals.kept(student), key=lambda kept: kept.recital.id)),
            openings=self.log.openings(student),
            layer=self.log.layer_edits(student),
            retractions=tuple(
                one if one.student else replace(one, student=by_attempt[one.attempt])
                for one in self.log.retractions(student)
            ),
            attempts=attempts,
        )

    def brings(self, record: Record) -> bool:
        """Whether a record holds anything that is not kept here just so; nothing is written."""
        known = {kept.student.id: kept for kept in self.students.kept()}
        recitals = {
            kept.recital.id: kept
            for id_ in record.ids & set(known)
            for kept in self.recitals.kept(id_)
        }
        return (
            any(_later(kept, known.get(kept.student.id)) for kept in record.students)
            or any(_later(kept, recitals.get(kept.recital.id)) for kept in record.recitals)
            or any(
                any(self.log.compared(type(some[0]), some))
                for events in _events(record)
                for some in portions(events)
            )
        )

    def unheard_joinings(self, record: Record) -> tuple[Joining, ...]:
        """The joinings in a record that would change whom a student of ours is one with, or that
        name a student of whom the record is not. They need a person's word."""
        mine = self.log.joinings()
        heard = {one.id for one in mine}
        both = (*mine, *(one for one in record.joinings if one.id not in heard))
        ours = {one.id for one in self.students.entries()}
        before, after = joined_into(mine, ours), joined_into(both, ours | record.ids)
        changed = {id_ for id_ in ours if before.get(id_) != after.get(id_)}
        last = {one.student: one.id for one in in_order(both)}
        return tuple(
            one
            for one in record.joinings
            if one.id not in heard
            and (
                {one.student, one.into} & changed
                or (one.joined and one.into not in record.ids and last[one.student] == one.id)
            )
        )

    def may_take(self, record: Record, *, join: bool) -> bool:
        """Whether nothing speaks against taking a record in, as far as can be told before."""
        return not self.erased(record.ids) and (join or not self.unheard_joinings(record))

    def take_in(self, record: Record, *, join: bool = False) -> Taken:
        """Take a record in, whole or not at all. Gives what was new.

        `join` is a person's word that its joinings are right. An event that is kept here with
        other contents stays as it is, and the other one is kept beside it. Raises TrainerError
        where the student was erased, where a joining waits for that word, and where the record
        names what is another student's.
        """
        with self._connection.writing():
            self._not_erased(record)
            if not join and (waiting := self.unheard_joinings(record)):
                raise TrainerError(self._waits(waiting[0], record))
            self._own_references(record)
            students, edits = self._take_students(record)
            differing: list[Differing] = []
            return Taken(
                attempts=self.log.add(record.attempts, differing),
                retractions=self.log.add(record.retractions, differing),
                openings=self.log.add(record.openings, differing),
                layer=self.log.add(record.layer, differing),
                joinings=self.log.add(record.joinings, differing),
                edits=edits + sum([self._take_recital(kept, record) for kept in record.recitals]),
                students=students,
                logged=self._log_differing(differing, record),
                differing=tuple(f"{one.kind} {shown(one.event)}" for one in differing),
            )

    def _waits(self, one: Joining, record: Record) -> str:
        """The sentence on a joining that waits for a person's word."""
        names = {entry.id: entry.name for entry in self.students.entries()}
        names |= {kept.student.id: kept.student.name for kept in record.students}
        word = "combines" if one.joined else "separates"
        other = shown(names[one.into]) if one.into in names else "one that is not here"
        return (
            f"The record {word} the entries {shown(names[one.student])} and {other}: if that is "
            "right, import it again with --join."
        )

    def _own_references(self, record: Record) -> None:
        """See that a record's retractions and corrections are not of another student's attempts.
        Raises TrainerError that names the first one that is."""
        mine = {id_ for one in record.ids for id_ in self.log.entries_of(one)} | record.ids
        for path, field, named in (
            ("retractions", "attempt", [one.attempt for one in record.retractions]),
            ("attempts", "amends", [one.amends for one in record.attempts]),
        ):
            owners = self._owners({attempt for attempt in named if attempt})
            for place, attempt in enumerate(named):
                if owners.get(attempt, "") not in mine | {""}:
                    raise TrainerError(
                        f"record.{path}[{place}].{field} is {shown(attempt)}, an attempt of "
                        "another student here: nothing was imported. Check where the record "
                        "comes from."
                    )

    def _owners(self, attempts: Iterable[str]) -> dict[str, str]:
        """Whose those attempts are that are kept here, by their ids."""
        found: dict[str, str] = {}
        for some in portions(sorted(attempts)):
            sql = f"SELECT id, student FROM attempt WHERE id IN {marks(some)}"
            found.update(self._connection.read(list, sql, some))
        return found

    def _log_differing(self, differing: Sequence[Differing], record: Record) -> int:
        """Keep events that differ from what is kept under their ids beside the log; how many of
        them are new there. Raises TrainerError where the kept one is another student's."""
        mine = {id_ for one in record.ids for id_ in self.log.entries_of(one)}
        for one in differing:
            if one.owner not in mine:
                raise TrainerError(
                    f"The {one.kind} {shown(one.event)} of the record is another student's here: "
                    "nothing was imported. Check where the record comes from."
                )
        return self._keep_differing(differing)

    def combine(self, student: Student, into: Student, *, joined: bool = True) -> None:
        """Say that an entry is the one that another means, or that they are two after all. The
        word is appended to the log; nothing else is changed."""
        if student.id == into.id:
            raise TrainerError(f"{shown(student.name)} is a single entry; name two.")
        with self._connection.writing():
            before = [one.at for one in self.log.joinings()]
            at, least = self._now(), max(before, default=None)
            if least is not None and at <= least:  # the clock was put back meanwhile
                later = instant(least)[0] + 1
                at = moment(later, instant(at)[1])
            self.log.add([Joining(self._new_id(), student.id, into.id, joined, self.machine, at)])

    def erased(self, ids: frozenset[str]) -> bool:
        """Whether any of these students was erased for good."""
        sql = f"SELECT 1 FROM tombstone WHERE id IN {marks(tuple(ids))}"
        return self._connection.row(sql, tuple(ids)) is not None

    def _not_erased(self, record: Record) -> None:
        if self.erased(record.ids):
            raise TrainerError(ERASED)

    def _take_students(self, record: Record) -> tuple[tuple[str, ...], int]:
        """The names of new entries, and how many were added or changed."""
        known = {kept.student.id: kept for kept in self.students.kept()}
        changed = [kept for kept in record.students if _later(kept, known.get(kept.student.id))]
        for kept in changed:
            self._connection.execute(
                "INSERT INTO student (id, content, edited) VALUES (?, ?, ?) ON CONFLICT (id)"
                " DO UPDATE SET content = excluded.content, edited = excluded.edited",
                (kept.student.id, encode(kept.student), instant(kept.edited)[0]),
            )
        new = tuple(kept.student.name for kept in changed if kept.student.id not in known)
        return new, len(changed)

    def _take_recital(self, kept: KeptRecital, record: Record) -> int:
        recital = kept.recital
        row = self._connection.row("SELECT student FROM recital WHERE id = ?", (recital.id,))
        if row and row[0] not in record.ids:
            raise TrainerError(
                f"The recital {shown(recital.name)} is another student's here: nothing was "
                "changed. Check where the record comes from."
            )
        mine = {one.recital.id: one for one in self.recitals.kept(row[0])} if row else {}
        if not _later(kept, mine.get(recital.id)):
            return 0
        self.recitals.put(recital, instant(kept.edited)[0], removed=kept.removed)
        return 1


def _later(kept: KeptStudent | KeptRecital, known: KeptStudent | KeptRecital | None) -> bool:
    """Whether what a record holds outranks what is here: by its edit, then by its content."""
    if known is None:
        return True
    one, other = instant(kept.edited)[0], instant(known.edited)[0]
    return (one, _content(kept)) > (other, _content(known))


def _content(kept: KeptStudent | KeptRecital) -> str:
    if isinstance(kept, KeptStudent):
        return encode(kept.student)
    return f"{int(kept.removed)}{encode(kept.recital)}"


def _events(record: Record) -> Iterator[Sequence[Event]]:
    yield from (record.attempts, record.retractions, record.openings)
    yield from (record.layer, record.joinings)
