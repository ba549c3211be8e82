"""What is wrong with a database, in sentences, and what of it can be put right from the log."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import timedelta
from typing import Any, Literal

from trainer.deck.model import Deck, identity, revision
from trainer.errors import TrainerError
from trainer.record.attempt import practice_day
from trainer.score.model import Score
from trainer.store import backup
from trainer.store.base import shown
from trainer.store.care import Care
from trainer.store.pieces import Pieces
from trainer.values import Frozen, decode

Weight = Literal["wrong", "note"]
AHEAD = timedelta(days=2)  # so far may a clock elsewhere be ahead of this one


class Finding(Frozen, frozen=True):
    """Something that is not as it should be. `wrong` is a fault of the file, a `note` may be
    right; `repair` names what `repair` would do, empty where nothing can be done by itself."""

    weight: Weight
    what: str
    repair: str = ""


class Check(Pieces, Care):
    def check(self) -> tuple[Finding, ...]:
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
        self.back_up("before a repair", unless_recent=True)
        if any("REINDEX" in one.repair for one in self._looked(self._pages)):
            with self._connection.writing() as run:
                run("REINDEX")
        self._remake_schema()
        self._follow_the_log()
        self._count_anew()
        for part in backup.unfinished(self._connection.path):
            with suppress(OSError):
                part.unlink()
        self.finish_erasing()
        return self.check()

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
                "the indexes are made anew (REINDEX)" if index else "",
            )

    def _schema(self) -> Iterator[Finding]:
        from trainer.store.schema import pattern

        have = {row[0] for row in self._rows("SELECT name FROM sqlite_master")}
        for name, kind, _ in pattern():
            if name not in have and not name.startswith("sqlite_"):
                what = f"The {kind} {name} is missing: the log is not guarded against changes."
                can = kind != "table"
                yield Finding("wrong", what, f"the {kind} is made anew" if can else "")

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
            title = self.deck(deck_id, now).title if self._has(deck_id, now) else deck_id
            what = f"The deck {shown(title)} is not the one that its last edit led to."
            can = "the deck of the last edit is taken" if self._has(deck_id, last) else ""
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
        for student in self.entries():
            self.attempts(student.id)
            self.retractions(student.id)
            self.openings(student.id)
            self.layer_edits(student.id)
            self.lesson_notes(student.id)
            self.recitals(student.id)
        for what, sql in _NOTES.items():
            (count,) = self._rows(f"SELECT count(*) FROM {sql}")[0]
            if count:
                yield Finding("note", f"{count:,} {what}.")

    def _tallied(self) -> Iterator[Finding]:
        """What the database says of itself, apart from its logs."""
        for log, told in self._rows("SELECT log, entries FROM tally ORDER BY log"):
            ((count,),) = self._rows(f"SELECT count(*) FROM {log}")
            if count != told:
                what = f"The log {log} holds {count:,} entries, and {told:,} were counted when"
                what += " they were written: look for what is missing in a backup."
                yield Finding("wrong", what, "the entries are counted anew")

    def _backed_up(self) -> Iterator[Finding]:
        """What the newest backup holds and this file does not: logs only grow."""
        newest = next(iter(self.backups()), None)
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
        for student in self.students():
            ahead = early = 0
            for one in self.attempts(student.id):
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
                if name not in have and kind in ("index", "trigger") and sql:
                    run(sql)

    def _count_anew(self) -> None:
        with self._connection.writing() as run:
            for (log,) in run("SELECT log FROM tally").fetchall():
                run(f"UPDATE tally SET entries = (SELECT count(*) FROM {log}) WHERE log = '{log}'")

    def _follow_the_log(self) -> None:
        """Let each deck be the one that its last edit led to."""
        with self._connection.writing() as run:
            for deck_id, _, last in self._astray():
                if self._has(deck_id, last):
                    run("UPDATE deck SET current = ? WHERE id = ?", (last, deck_id))


_NOTES = {
    "retractions wait for their attempts": (
        "retraction WHERE attempt NOT IN (SELECT id FROM attempt)"
    ),
    "tries are at pieces that are not here": "attempt WHERE deck NOT IN (SELECT id FROM deck)",
    "of the students' own edits are at pieces that are not here": (
        "layer_edit WHERE deck NOT IN (SELECT id FROM deck)"
    ),
    "corrected tries wait for the ones they correct": (
        "attempt WHERE amends <> '' AND amends NOT IN (SELECT id FROM attempt)"
    ),
    "pieces of programmes are not here": "programme WHERE deck NOT IN (SELECT id FROM deck)",
}


def _tries(count: int, name: str) -> str:
    of, verb = ("try", "is") if count == 1 else ("tries", "are")
    return f"{count:,} {of} of {shown(name)} {verb}"
