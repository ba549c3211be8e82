"""A teacher's studio at its full size: the overview, the page before a lesson, the first call of a
drill, and a record taken in, each against the bare SQL (Python's own sqlite3) that reads or
writes the same rows in the same run; and the most memory that was held up to
the first overview, before the bare SQL reads all rows in the same process.

    python -m tests.benchmarks.studio [FOLDER] [--attempts 10000 100000 1000000]
                                      [--students 60] [--json]

Sixty students unless told otherwise (a school's desk has 200), twenty pieces with 1,200 starts in
all; every student plays five of them at a concert that is three weeks off, which is the worst
case: for all of them it is worked out what it would find. Attempts are put in in bulk, as rows
like the store's. "first" is on a database where nothing was worked out yet; "next day" when every
student has practised since; "again" when nothing is new.
"""

from __future__ import annotations

import argparse
import json
import resource
import shutil
import sqlite3
import statistics
import time
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

from msgspec.structs import replace

from tests.pieces import piece_of, tune
from trainer.deck.model import Deck, revision
from trainer.desk import Desk
from trainer.document.lines import as_lines
from trainer.record.attempt import Attempt, Outcome, practice_day
from trainer.record.file import write_record
from trainer.record.people import Opening, ProgrammeItem, Recital, Student
from trainer.reports.lesson import lesson
from trainer.reports.lesson_page import document
from trainer.store import rows
from trainer.store.connection import Row
from trainer.store.store import Store

STUDENTS, PIECES, STARTS, PLAYED = 60, 20, 60, 5
NOW = datetime(2026, 3, 2, 17, tzinfo=UTC)
RECORD = 5_000  # attempts in the record taken in
ROUNDS = 5
BARS = {"overview": 5.0, "lesson": 5.0, "record": 10.0}  # times the bare SQL
GUIDES = {"overview": 1.0, "lesson": 0.3, "record": 3.0}  # seconds


class Made:
    """Ids, chance and attempts of one invented studio."""

    def __init__(self, path: Path, students: int = STUDENTS) -> None:
        self.rng = Random(0)
        self.number = 0
        self.store = Store.open(path, now=lambda: NOW, new_id=self.new_id)
        self.desk = Desk(self.store, lambda: NOW, self.new_id, self.rng)
        self.students = [Student(self.new_id(), f"S{n:02}") for n in range(1, students + 1)]
        self.decks: list[Deck] = []

    def new_id(self) -> str:
        self.number += 1
        return f"{self.rng.getrandbits(96):024x}{self.number:08x}"

    def furnish(self) -> None:
        for n in range(PIECES):
            score = tune(4 * STARTS, title=f"Study {n + 1}")
            piece = piece_of(score, range(0, 12 * STARTS, 12), f"deck-{n}")
            self.store.pieces.add(piece, "for the benchmark")
            self.decks.append(piece.deck)
        day = practice_day(NOW) + timedelta(days=21)
        opened = NOW - timedelta(days=200)
        for n, student in enumerate(self.students):
            self.store.students.save(student)
            mine = self.of(n)
            items = tuple(ProgrammeItem(deck.id) for deck in mine)
            self.store.recitals.save(Recital(self.new_id(), student.id, "Concert", day, items))
            self.store.log.append(
                *(
                    Opening(self.new_id(), student.id, deck.id, start.id, True, "m", opened)
                    for deck in mine
                    for start in deck.starts[: STARTS * 4 // 5]
                )
            )
        self.store.settings.set("caution seen", "yes")

    def of(self, student: int) -> list[Deck]:
        return [self.decks[(student + 4 * k) % PIECES] for k in range(PLAYED)]

    def attempt(self, student: int, at: datetime, made_of: dict[str, str]) -> Attempt:
        deck = self.rng.choice(self.of(student))
        outcome = self.rng.choices(list(Outcome), (10, 3, 2, 2, 1, 0))[0]
        return Attempt(
            self.new_id(), self.students[student].id, deck.id, made_of[deck.id],
            self.rng.choice(deck.starts[: STARTS * 4 // 5]).id, "m", at, practice_day(at), outcome,
            seconds=round(self.rng.uniform(15, 40), 1),
        )  # fmt: skip

    def attempts(self, student: int, count: int, until: datetime) -> Iterator[Attempt]:
        """So many, fifteen a day, the last on the day of `until`."""
        made_of = {deck.id: revision(deck) for deck in self.decks}
        days = (count + 14) // 15
        for n in range(count):
            at = until - timedelta(days=days - 1 - n // 15, seconds=-40 * (n % 15))
            yield self.attempt(student, at, made_of)


def insert(path: Path, some: Sequence[Row]) -> None:
    with sqlite3.connect(path) as raw:
        marks = ", ".join("?" for _ in rows.ATTEMPT.split(","))
        raw.executemany(f"INSERT INTO attempt ({rows.ATTEMPT}) VALUES ({marks})", some)
    raw.close()


def seconds(work: Callable[[], object]) -> float:
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def median(work: Callable[[], object], rounds: int = ROUNDS) -> float:
    return statistics.median(seconds(work) for _ in range(rounds))


READ_ALL = f"SELECT {rows.ATTEMPT} FROM attempt ORDER BY student, at, id"
READ_OPENINGS = f"SELECT {rows.OPENING} FROM opening ORDER BY at, id"
SUMS = (
    "SELECT student, count(*), max(seq), max(at) FROM attempt GROUP BY student",
    "SELECT student, count(*), max(seq) FROM opening GROUP BY student",
    "SELECT * FROM student",
    "SELECT * FROM recital JOIN programme ON recital = recital.id",
    "SELECT student, basis, content FROM glance",
)
DECKS = "SELECT content FROM deck JOIN deck_revision ON deck = deck.id AND revision = current"


def sums(raw: sqlite3.Connection) -> None:
    """The least that an overview has to read where everything else is known."""
    for sql in SUMS:
        raw.execute(sql).fetchall()
    for (student,) in raw.execute("SELECT id FROM student").fetchall():
        raw.execute(
            "SELECT day FROM attempt WHERE student = ? ORDER BY at DESC LIMIT 100", (student,)
        ).fetchall()


def everything(raw: sqlite3.Connection) -> None:
    """What an overview has to read where nothing is known yet."""
    sums(raw)
    for sql in (READ_ALL, READ_OPENINGS, DECKS):
        raw.execute(sql).fetchall()


def next_day(raw: sqlite3.Connection) -> None:
    """What it has to read where everybody has practised: kept beliefs and the attempts since;
    where none were kept, all attempts."""
    sums(raw)
    for sql in (READ_OPENINGS, DECKS):
        raw.execute(sql).fetchall()
    kept = {row[0]: row for row in raw.execute("SELECT student, basis, content FROM belief")}
    for (student,) in raw.execute("SELECT id FROM student").fetchall():
        sql = f"SELECT {rows.ATTEMPT} FROM attempt WHERE student = ?"
        place: tuple[object, ...] = (student,)
        if student in kept:
            mark = json.loads(kept[student][1])["mark"]
            at = rows.instant(datetime.fromisoformat(mark["at"]))[0]
            sql, place = f"{sql} AND (at, id) > (?, ?)", (student, at, mark["id"])
        raw.execute(f"{sql} ORDER BY at, id", place).fetchall()


class Written:
    """The caches that an overview writes, to be written once more by bare SQL: what it believes of
    each student with a commit of its own, what it saw of all of them with one."""

    TABLES = ("belief", "glance")

    def __init__(self, raw: sqlite3.Connection) -> None:
        raw.execute("PRAGMA synchronous = FULL")
        self.raw = raw
        self._before = self._all()
        self._new: dict[str, list[Row]] = {}

    def _all(self) -> dict[str, dict[object, Row]]:
        """Their rows, by table and student."""
        return {
            table: {row[0]: row for row in self.raw.execute(f"SELECT * FROM {table}")}
            for table in self.TABLES
        }

    def look(self) -> None:
        """What was written since it was made, or since the last look."""
        now = self._all()
        self._new = {
            table: [row for key, row in rows.items() if self._before[table].get(key) != row]
            for table, rows in now.items()
        }
        self._before = now

    def again(self) -> None:
        for row in self._new["belief"]:
            self._put("belief", [row])
        self._put("glance", self._new["glance"])

    def _put(self, table: str, some: list[Row]) -> None:
        if some:
            marks = ", ".join("?" for _ in some[0])
            with self.raw:
                self.raw.executemany(f"REPLACE INTO {table} VALUES ({marks})", some)


def both(read: Callable[[sqlite3.Connection], None], written: Written) -> None:
    """All that an overview reads, and all that it writes."""
    read(written.raw)
    written.again()


def of_one(raw: sqlite3.Connection, student: str) -> None:
    """What the page of one student has to read: the scores are those in which the three weakest
    starts are named by their places."""
    sql = f"SELECT {rows.ATTEMPT} FROM attempt WHERE student = ? ORDER BY at, id"
    raw.execute(sql, (student,)).fetchall()
    raw.execute(f"SELECT {rows.OPENING} FROM opening WHERE student = ?", (student,)).fetchall()
    raw.execute("SELECT content FROM belief WHERE student = ?", (student,)).fetchall()
    raw.execute(DECKS).fetchall()
    raw.execute("SELECT content FROM score LIMIT 3").fetchall()
    raw.execute("SELECT * FROM setting").fetchall()
    for table in ("note", "layer_edit", "recital JOIN programme ON recital = recital.id"):
        raw.execute(f"SELECT * FROM {table} WHERE student = ?", (student,)).fetchall()


def measure(folder: Path, size: int, students: int = STUDENTS) -> dict[str, float]:
    """Seconds of each, and of the bare SQL beside it."""
    path = folder / "ours.db"
    made = Made(path, students)
    made.furnish()
    each = size // students
    for n in range(students):
        some = made.attempts(n, each, NOW - timedelta(days=1))
        insert(path, [rows.attempt_row(one) for one in some])
    raw = sqlite3.connect(path)
    written = Written(raw)
    found: dict[str, float] = {}
    found["lesson first"] = seconds(lambda: page(made, 0))
    found["overview first"] = seconds(made.desk.views.studio)
    found["memory MB"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    written.look()
    found["overview first bare"] = median(partial(both, everything, written), 3)
    new = [one for n in range(students) for one in made.attempts(n, 15, NOW - timedelta(hours=1))]
    insert(path, [rows.attempt_row(one) for one in new])
    found["overview next day"] = seconds(made.desk.views.studio)
    written.look()
    found["overview next day bare"] = median(partial(both, next_day, written), 3)
    found["overview"] = median(made.desk.views.studio)
    found["overview bare"] = median(lambda: sums(raw))
    turn, drilling = iter(range(ROUNDS)), iter(range(ROUNDS))
    found["lesson"] = median(lambda: page(made, next(turn)))
    found["lesson bare"] = median(lambda: of_one(raw, made.students[0].id))
    found["first call"] = median(lambda: first_call(made, next(drilling)))
    found["first call bare"] = found["lesson bare"]
    found |= taking_in(made, folder)
    raw.close()
    made.store.close()
    found["size MB"] = path.stat().st_size / 1e6
    return found


def page(made: Made, student: int) -> None:
    as_lines(document(lesson(made.desk.views.of(made.students[student]))), width=76)


def first_call(made: Made, student: int) -> None:
    """What lies between choosing a student and the first call of a drill."""
    made.desk.exercises.drill(made.desk.views.of(made.students[student]))


def taking_in(made: Made, folder: Path) -> dict[str, float]:
    """A student's record with 5,000 new attempts, after the backup was made and without it. The
    bare table holds the same rows before and has the same two indexes, of ids and of students."""
    ours, bare = [], []
    backup = seconds(lambda: made.store.backups.make("before a record"))
    plain = sqlite3.connect(folder / "bare.db", isolation_level=None)
    plain.execute("PRAGMA journal_mode = WAL")
    plain.execute("PRAGMA synchronous = FULL")
    plain.execute("ATTACH ? AS ours", (str(made.store.path),))
    plain.execute(f"CREATE TABLE main.attempt AS SELECT {rows.ATTEMPT} FROM ours.attempt")
    plain.execute("CREATE UNIQUE INDEX main.once ON attempt (id)")
    plain.execute("CREATE INDEX main.attempt_of ON attempt (student, at, id)")
    plain.execute("DETACH ours")
    marks = ", ".join("?" for _ in rows.ATTEMPT.split(","))
    for n in range(3):
        some = tuple(made.attempts(n, RECORD, NOW - timedelta(days=400)))
        record = replace(made.store.records.of(made.students[n].id), attempts=some)
        data = write_record(record).encode()
        ours.append(seconds(lambda data=data: made.desk.records.take_in(data, "the record")))  # type: ignore[misc]
        lines = [rows.attempt_row(one) for one in some]

        def write(lines: Sequence[Row] = lines) -> None:
            plain.execute("BEGIN IMMEDIATE")
            plain.executemany(f"INSERT INTO attempt VALUES ({marks})", lines)
            plain.execute("COMMIT")

        bare.append(seconds(write))
    plain.close()
    return {
        "record": statistics.median(ours),
        "record bare": statistics.median(bare),
        "backup before a record": backup,
    }


def told(size: int, found: dict[str, float]) -> Iterator[str]:
    sizes = f"{found['size MB']:.0f} MB, at most {found['memory MB']:.0f} MB of memory"
    yield f"{size:,} attempts, {sizes}"
    names = ("overview", "overview next day", "overview first", "lesson", "first call", "record")
    for name in names:
        ours, bare = found[name], found[f"{name} bare"]
        line = f"  {name:20} {ours:8.3f} s   bare {bare:7.3f} s   {ours / bare:6.1f} times"
        if name in BARS:
            line += f"   (bar {BARS[name]:g}, {'met' if ours / bare <= BARS[name] else 'MISSED'};"
            line += f" guide {GUIDES[name]} s, {'met' if ours <= GUIDES[name] else 'MISSED'})"
        yield line
    yield f"  lesson, nothing known {found['lesson first']:.3f} s"
    yield f"  backup before a record {found['backup before a record']:.3f} s (at most every 10 min)"


def growth(before: dict[str, float], after: dict[str, float]) -> str:
    names = ("overview", "overview next day", "overview first", "lesson", "record")
    return "  from the size before: " + ", ".join(
        f"{name} {after[name] / before[name]:.1f} times" for name in names
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--attempts", type=int, nargs="*", default=[10_000, 100_000, 1_000_000])
    parser.add_argument("--students", type=int, default=STUDENTS)
    parser.add_argument("--json", action="store_true")
    arguments = parser.parse_args()
    before: dict[str, Any] = {}
    for size in arguments.attempts:
        with TemporaryDirectory(dir=arguments.folder) as folder:
            found = measure(Path(folder), size, arguments.students)
            shutil.rmtree(folder, ignore_errors=True)
        if arguments.json:
            print(json.dumps({"attempts": size, **found}), flush=True)
            continue
        print(*told(size, found), sep="\n", flush=True)
        if before:
            print(growth(before, found), flush=True)
        before = found


if __name__ == "__main__":
    main()
