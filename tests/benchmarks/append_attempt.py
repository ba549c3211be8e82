"""One attempt appended, against one bare durable insert; and 100,000 attempts read, against a
bare SELECT of the same rows. Both sides of a ratio are measured in turn in the same run.

    python -m tests.benchmarks.append_attempt [FOLDER] [--tries 1000] [--json]

FOLDER is where the databases are made; it should be on the disk that is meant. The bare
insert is what the plainest program would do: Python's own sqlite3, WAL, synchronous FULL, one
table without index or trigger, the same columns, a commit for each row.
"""

from __future__ import annotations

import argparse
import json
import sqlite3
import statistics
import time
import uuid
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta, timezone
from fractions import Fraction
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

from trainer.record.attempt import Attempt, Outcome, practice_day
from trainer.record.people import Student
from trainer.store import rows
from trainer.store.connection import Row
from trainer.store.store import Store

SIZES = (1_000, 10_000, 100_000)
ROUNDS = 5
BEGINNING = datetime(2024, 1, 8, 17, tzinfo=timezone(timedelta(hours=1)))


def invented(number: int, rng: Random) -> Attempt:
    """An attempt as a student would leave it; ids are random, as in the app."""
    at = BEGINNING + timedelta(minutes=7 * number, microseconds=rng.randrange(10**6))
    outcome = rng.choice(list(Outcome))
    return Attempt(
        id=str(uuid.UUID(int=rng.getrandbits(128), version=4)),
        student="student",
        deck=f"deck-{rng.randrange(20)}",
        revision="0123456789ab",
        start=str(uuid.UUID(int=rng.randrange(1200))),
        machine="machine",
        at=at,
        day=practice_day(at),
        outcome=outcome,
        hints=("key and count",) if rng.random() < 0.1 else (),
        broke_at=Fraction(rng.randrange(400), 2) if outcome is Outcome.BROKE_OFF else None,
        seconds=round(rng.uniform(5, 60), 1),
    )


def bare(path: Path) -> sqlite3.Connection:
    plain = sqlite3.connect(path, isolation_level=None)
    plain.execute("PRAGMA journal_mode = WAL")
    plain.execute("PRAGMA synchronous = FULL")
    plain.execute(f"CREATE TABLE attempt ({rows.ATTEMPT})")
    return plain


def insert(plain: sqlite3.Connection, some: Iterable[Row]) -> None:
    marks = ", ".join("?" for _ in rows.ATTEMPT.split(","))
    plain.execute("BEGIN IMMEDIATE")
    plain.executemany(f"INSERT INTO attempt VALUES ({marks})", some)
    plain.execute("COMMIT")


def seconds(work: Callable[[], object]) -> float:
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def percentile(values: list[float], share: float) -> float:
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


def spread(ratios: list[float]) -> str:
    return f"{statistics.median(ratios):.2f} ({min(ratios):.2f} to {max(ratios):.2f})"


def appending(
    store: Store, plain: sqlite3.Connection, tries: int, make: Callable[[], Attempt]
) -> dict[str, list[float]]:
    """Ratios of one append to one bare insert, one for each round."""
    found: dict[str, list[float]] = {"median": [], "p99": [], "bare ms": [], "p99 ms": []}
    for _ in range(ROUNDS):
        ours, theirs = [], []
        for _ in range(tries // ROUNDS):
            one, other = make(), rows.attempt_row(make())
            ours.append(seconds(lambda one=one: store.log.append(one)))  # type: ignore[misc]
            theirs.append(seconds(lambda other=other: insert(plain, [other])))  # type: ignore[misc]
        found["median"].append(statistics.median(ours) / statistics.median(theirs))
        found["p99"].append(percentile(ours, 0.99) / percentile(theirs, 0.99))
        found["bare ms"].append(1000 * statistics.median(theirs))
        found["p99 ms"].append(1000 * percentile(ours, 0.99))
    return found


def reading(store: Store, plain: sqlite3.Connection) -> dict[str, list[float]]:
    """Ratios of all attempts as values to the bare rows of the same file."""
    sql = f"SELECT {rows.ATTEMPT} FROM attempt WHERE student = 'student' ORDER BY at, id"
    found: dict[str, list[float]] = {"read": [], "bare ms": []}
    for _ in range(ROUNDS):
        ours = seconds(lambda: store.log.attempts("student"))
        theirs = seconds(lambda: plain.execute(sql).fetchall())
        found["read"].append(ours / theirs)
        found["bare ms"].append(1000 * theirs)
    return found


def measure(folder: Path, tries: int) -> Iterable[dict[str, Any]]:
    rng = Random(0)
    now = BEGINNING
    store = Store.open(folder / "ours.db", now=lambda: now, new_id=lambda: "machine")
    plain = bare(folder / "bare.db")
    store.students.save(Student("student", "A"))
    number = 0

    def make() -> Attempt:
        nonlocal number
        number += 1
        return invented(number, rng)

    for size in SIZES:
        some = [make() for _ in range(size - len(store.log.attempts("student")))]
        store.log.append(*some)
        insert(plain, map(rows.attempt_row, some))
        yield {"attempts": size, **appending(store, plain, tries, make)}
    with sqlite3.connect(folder / "ours.db") as same:
        yield {"attempts": len(store.log.attempts("student")), **reading(store, same)}
    store.close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--tries", type=int, default=1000)
    parser.add_argument("--json", action="store_true")
    arguments = parser.parse_args()
    with TemporaryDirectory(dir=arguments.folder) as folder:
        for result in measure(Path(folder), arguments.tries):
            if arguments.json:
                print(json.dumps(result))
                continue
            size = result.pop("attempts")
            words = ", ".join(f"{name} {spread(values)}" for name, values in result.items())
            print(f"{size:>7} attempts: {words}", flush=True)


if __name__ == "__main__":
    main()
