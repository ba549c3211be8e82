"""What is wrong with a database, in sentences, and what of it can be put right from the log."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import timedelta
from hashlib import sha256
from typing import Any, Literal

from trainer.deck.model import Deck, identity, revision
from trainer.errors import TrainerError
from trainer.record.attempt import practice_day
from trainer.record.people import UNNAMED, Student
from trainer.score.cite import counted
from trainer.score.model import Score
from trainer.store import backup
from trainer.store.base import Part, shown
from trainer.store.care import Backups, Erasing
from trainer.store.log import Log
from trainer.store.people import Recitals, Students
from trainer.store.pieces import Pieces
from trainer.store.rows import moment
from trainer.values import Frozen, decode

Weight = Literal["wrong", "note"]
MOST_TOLD = 20  # events of one kind of finding
AHEAD = timedelta(days=2)  # so far may a clock elsewhere be ahead of this one


class Finding(Frozen, frozen=True):
    """Something that is not as it should be. `wrong` is a fault of the file, a `note` may be
    right; `repair` names what `repair` would do, empty where nothing can be done by itself."""

    weight: Weight
    what: str
    repair: str = ""


@dataclass
class Faults(Part):
    pieces: Pieces
    log: Log
    students: Students
    recitals: Recitals
    backups: Backups
    erasing: Erasing

    def find(self) -> tuple[Finding, ...]:
        """Everything that is not as it should be; nothing is changed. Raises nothing for a
        damaged file: that is a finding."""
        found: list[Finding] = []
        for look in (
            self._pages,
            self._schema,
            self._references,
            self._decks,
            self._scores,
            self._logs,
            self._strays,
            self._differing,
            self._mixed,
            self._tallied,
            self._backed_up,
            self._times,
            self._left_over,
        ):
            found += self._looked(look)
        return tuple(found)

    def repair(self) -> tuple[Finding, ...]:
        """Put right what can be; gives what is found afterwards. A backup is made first. The
        log is read for it and never changed."""
        self.backups.make("before a repair", unless_recent=True)
        if any("REINDEX" in one.repair for one in self._looked(self._pages)):
            with self._connection.writing() as run:
                run("REINDEX")
        self._remake_schema()
        self._follow_the_log()
        self._count_anew()
        for part in backup.unfinished(self._connection.path):
            with suppress(OSError):
                part.unlink()
        self.erasing.finish()
        return self.find()

    def _looked(self, look: Callable[[], Iterator[Finding]]) -> list[Finding]:
        try:
            return list(look())
        except TrainerError as error:
            return [Finding("wrong", str(error))]

    def _rows(self, sql: str) -> list[tuple[Any, ...]]:
        return self._connection.read(list, sql)

    def _pages(self) -> Iterator[Finding]:
        for (line,) in self._rows("PRAGMA integrity_check(20)"):
            if line == "ok":
                continue
            index = "index" in line
            yield Finding(
                "wrong",
                f"The file is damaged: {line}. "
                + ("" if index else "Go back to a backup with `trainer backup restore`."),
                "the indexes are built again (REINDEX)" if index else "",
            )

    def _schema(self) -> Iterator[Finding]:
        from trainer.store.schema import pattern

        have = {row[0] for row in self._rows("SELECT name FROM sqlite_master")}
        for name, kind, _ in pattern():
            if name not in have and not name.startswith("sqlite_"):
                why = "" if kind == "view" else ": the log is not guarded against changes"
                what = f"The {kind} {name} is missing{why}."
                can = kind != "table"
                yield Finding("wrong", what, f"the {kind} is built again" if can else "")

    def _references(self) -> Iterator[Finding]:
        for table, row, parent, _ in self._rows("PRAGMA foreign_key_check")[:20]:
            yield Finding("wrong", f"Row {row} of {table} belongs to a {parent} that is not there.")

    def _decks(self) -> Iterator[Finding]:
        sql = "SELECT deck, revision, title, starts, content FROM deck_revision ORDER BY seq"
        for deck_id, told, title, starts, content in self._rows(sql):
            try:
                deck = decode(content, Deck, f"The deck {shown(title)}")
            except TrainerError as error:
                yield Finding("wrong", str(error))
                continue
            if (deck.id, deck.title, len(deck.starts)) != (deck_id, title, starts):
                yield Finding("wrong", f"A form of the deck {shown(title)} is filed wrongly.")
            if revision(deck) != told:
                what = f"A form of the deck {shown(title)} is not what its digest {told} says."
                yield Finding("wrong", what)
        for deck_id, now, last in self._astray():
            title = (
                self.pieces.deck(deck_id, now).title if self.pieces.has(deck_id, now) else deck_id
            )
            what = f"The deck {shown(title)} is not the one that its last edit led to."
            can = "the deck of the last edit is taken" if self.pieces.has(deck_id, last) else ""
            yield Finding("wrong", what, can)

    def _astray(self) -> list[tuple[str, str, str]]:
        """Decks whose current revision is not that of the last edit logged."""
        return self._rows(
            "SELECT id, current, (SELECT revision FROM deck_edit WHERE deck = deck.id"
            " ORDER BY seq DESC LIMIT 1) AS last FROM deck WHERE last IS NOT current"
        )

    def _scores(self) -> Iterator[Finding]:
        for id_, title, content in self._rows("SELECT id, title, content FROM score"):
            try:
                same = identity(decode(content, Score, f"The score {shown(title)}")) == id_
            except TrainerError as error:
                yield Finding("wrong", str(error))
                continue
            if not same:
                yield Finding("wrong", f"The score {shown(title)} is not what its digest says.")
        missing = self._rows(
            "SELECT DISTINCT title FROM deck_revision WHERE score NOT IN"
            " (SELECT id FROM score UNION SELECT score FROM score_frame)"
        )
        for (title,) in missing:
            yield Finding("wrong", f"The score of the deck {shown(title)} is not here: add it.")

    def _logs(self) -> Iterator[Finding]:
        for student in self.students.entries():
            self.log.attempts(student.id)
            self.log.retractions(student.id)
            self.log.openings(student.id)
            self.log.layer_edits(student.id)
            self.log.lesson_notes(student.id)
            self.recitals.of(student.id)
        for what, sql in _NOTES.items():
            (count,) = self._rows(f"SELECT count(*) FROM {sql}")[0]
            if count:
                yield Finding("note", f"{count:,} {what}.")

    def _strays(self) -> Iterator[Finding]:
        """References to what is another student's; they count for nothing."""
        heads = self.log.joined_into()

        def person(student: str) -> str:
            return heads.get(student, student)

        for one, several, sql in _STRAYS:
            stray = [id_ for id_, mine, theirs in self._rows(sql) if person(mine) != person(theirs)]
            if stray:
                which = one if len(stray) == 1 else several.format(len(stray))
                what = f"{which} of another student ({_some(stray)})"
                yield Finding("note", f"{what}; that counts for nothing.")

    def _differing(self) -> Iterator[Finding]:
        sql = "SELECT kind, event, student, at FROM differing ORDER BY at, seq"
        names = {one.id: one.name for one in self.students.entries()}
        for kind, event, student, at in self._rows(sql)[:MOST_TOLD]:
            of = f" of {shown(names[student])}" if student in names else ""
            yield Finding(
                "note",
                f"The {kind} {shown(event)}{of} came in again on {moment(at, 0).date()} with other"
                " contents: the first one counts, the other is kept beside it.",
            )
        (count,) = self._rows("SELECT count(*) FROM differing")[0]
        if count > MOST_TOLD:
            yield Finding("note", f"{count - MOST_TOLD:,} more events came in with other contents.")

    def _mixed(self) -> Iterator[Finding]:
        """Entries that nobody has named and whose attempts come from several machines: each copy
        of a database has the same one, so they may be several people. All the ids that this
        database has had count as one machine."""
        here = {id_ for (id_,) in self._rows("SELECT id FROM machine")}
        for entry in self.students.entries():
            shares = self.log.machines_of(entry.id, alone=True)
            elsewhere = [one for one in shares if one.machine not in here]
            if not _unnamed(entry, {one.machine for one in shares} | here):
                continue
            if len(elsewhere) + (len(elsewhere) < len(shares)) > 1:
                each = ", ".join(f"{one.attempts:,} on {one.machine[:8]}" for one in shares[:5])
                more = " and others" if len(shares) > 5 else ""
                yield Finding(
                    "note",
                    f"The attempts of {shown(entry.name)} come from {len(shares)} machines"
                    f" ({each}{more}). If these are different people, who each had a copy of one"
                    f" database, `trainer records separate {entry.name}` tells them apart.",
                )

    def _tallied(self) -> Iterator[Finding]:
        """What the database says of itself, apart from its logs."""
        for log, told in self._rows("SELECT log, entries FROM tally ORDER BY log"):
            ((count,),) = self._rows(f"SELECT count(*) FROM {log}")
            if count != told:
                held = counted(count, "entry", "entries")
                what = f"The log {log} holds {held}, and {told:,} by the count that was kept when"
                what += " they were written: look for what is missing in a backup."
                yield Finding("wrong", what, "the entries are counted again")

    def _backed_up(self) -> Iterator[Finding]:
        """What the newest backup holds and this file does not: logs only grow."""
        newest = next(iter(self.backups.all()), None)
        if newest is None:
            return
        file = backup.folder(self._connection.path) / newest.name
        for log, count in backup.missing(self._connection.path, file).items():
            what = f"The backup of {newest.at:%Y-%m-%d %H:%M} UTC ({newest.why}) holds"
            what = f"{what} {count:,} of the log {log} that are not here."
            gone_back = newest.why == "before going back"
            yield Finding("note" if gone_back else "wrong", what)

    def _times(self) -> Iterator[Finding]:
        latest = self._now() + AHEAD
        for student in self.students.all():
            ahead = early = 0
            for one in self.log.attempts(student.id):
                ahead += one.at > latest
                early += abs((one.day - practice_day(one.at)).days) > 0
            if ahead:
                what = f"{_tries(ahead, student.name)} dated in the future: the"
                yield Finding("note", f"{what} clock of a machine is or was wrong.")
            if early:
                what = f"{_tries(early, student.name)} on another practice day than"
                its = "its time says" if early == 1 else "their times say"
                yield Finding("note", f"{what} {its}.")

    def _left_over(self) -> Iterator[Finding]:
        if self._rows("SELECT 1 FROM erasing_left"):
            what = "Traces of a student who was erased are left in the journal or in a backup."
            yield Finding("wrong", what, "they are erased")
        if self._rows("SELECT 1 FROM erasing"):
            yield Finding("wrong", "An erasing stands open, which lets rows of the log be removed.",
                          "it is closed")  # fmt: skip
        for part in backup.unfinished(self._connection.path):
            what = f"An interrupted backup has left {shown(part.name)} behind."
            yield Finding("wrong", what, "it is deleted")

    def _remake_schema(self) -> None:
        """Indexes and triggers that are missing, as a new database has them."""
        from trainer.store.schema import pattern

        have = {row[0] for row in self._rows("SELECT name FROM sqlite_master")}
        with self._connection.writing() as run:
            run("DELETE FROM erasing")
            for name, kind, sql in pattern():
                if name not in have and kind in ("index", "trigger", "view") and sql:
                    run(sql)

    def _count_anew(self) -> None:
        with self._connection.writing() as run:
            for (log,) in run("SELECT log FROM tally").fetchall():
                run(f"UPDATE tally SET entries = (SELECT count(*) FROM {log}) WHERE log = '{log}'")

    def _follow_the_log(self) -> None:
        """Let each deck be the one that its last edit led to."""
        with self._connection.writing() as run:
            for deck_id, _, last in self._astray():
                if self.pieces.has(deck_id, last):
                    run("UPDATE deck SET current = ? WHERE id = ?", (last, deck_id))


_NOTES = {
    "retractions wait for their attempts": (
        "retraction WHERE attempt NOT IN (SELECT id FROM attempt)"
    ),
    "attempts are at pieces that are not here": "attempt WHERE deck NOT IN (SELECT id FROM deck)",
    "of the students' own edits are at pieces that are not here": (
        "layer_edit WHERE deck NOT IN (SELECT id FROM deck)"
    ),
    "corrected attempts wait for the ones they correct": (
        "attempt WHERE amends <> '' AND amends NOT IN (SELECT id FROM attempt)"
    ),
    "pieces of programmes are not here": "programme WHERE deck NOT IN (SELECT id FROM deck)",
}


_STRAYS = (  # one of them, several, and their rows: id, whose it is, whose it names
    (
        "1 retraction names an attempt",
        "{:,} retractions name attempts",
        "SELECT r.id, r.student, a.student FROM retraction AS r JOIN attempt AS a"
        " ON a.id = r.attempt WHERE r.student NOT IN ('', a.student) ORDER BY r.seq",
    ),
    (
        "1 corrected attempt names an attempt",
        "{:,} corrected attempts name attempts",
        "SELECT b.id, b.student, a.student FROM attempt AS b JOIN attempt AS a"
        " ON a.id = b.amends WHERE b.amends <> '' AND b.student <> a.student ORDER BY b.seq",
    ),
    (
        "1 lesson note replaces a note",
        "{:,} lesson notes replace notes",
        "SELECT n.id, n.student, o.student FROM note AS n JOIN note AS o"
        " ON o.id = n.replaces WHERE n.replaces <> '' AND n.student <> o.student ORDER BY n.seq",
    ),
)


def _unnamed(entry: Student, machines: Iterable[str]) -> bool:
    """Whether an entry is there because nobody was added. Earlier versions made its id from the
    machine's and from how many had been erased."""
    told = (f"{machine} {erased}" for machine in machines for erased in range(10))
    return entry.name == UNNAMED or entry.id in {sha256(t.encode()).hexdigest()[:32] for t in told}


def _some(ids: Sequence[str]) -> str:
    """A few ids, as words."""
    return ", ".join(ids[:3]) + (" and others" if len(ids) > 3 else "")


def _tries(count: int, name: str) -> str:
    of, verb = ("attempt", "is") if count == 1 else ("attempts", "are")
    return f"{count:,} {of} of {shown(name)} {verb}"
