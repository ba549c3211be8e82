"""What the tests of several processes run in a child, as `python -m tests.store.child`.

A child says "ready", waits for a line, does its work and prints what it has done as it goes.
"""

from __future__ import annotations

import resource
import sys
from pathlib import Path

from tests.store.build import STUDENT, attempt, open_store
from trainer.errors import TrainerError
from trainer.store.store import Store


def append(store: Store, name: str, number: int) -> None:
    """Append one attempt, then say so."""
    one = attempt(number, id=f"{name}-{number}")
    store.log.append(one)
    print(one.id, flush=True)


def append_some(path: Path, name: str, how_many: str) -> None:
    with open_store(path) as store:
        for number in range(int(how_many)):
            append(store, name, number)


def append_until_refused(path: Path, name: str, most_bytes: str = "") -> None:
    """Append until the disk is full; where `most_bytes` is given, no file may grow beyond."""
    with open_store(path) as store:
        if most_bytes:
            resource.setrlimit(resource.RLIMIT_FSIZE, (int(most_bytes), int(most_bytes)))
        for number in range(100_000):
            try:
                append(store, name, number)
            except TrainerError as error:
                print("refused:", error)
                print("readable:", len(store.log.attempts(STUDENT.id)))
                break


def make(path: Path) -> None:
    """Open a new file."""
    import trainer.store.schema  # noqa: F401  (before the start, so that all start at once)

    print("ready", flush=True)
    sys.stdin.readline()
    with open_store(path) as store:
        store.students.save(STUDENT)
        print(store.machine, flush=True)


if __name__ == "__main__":
    works = {work.__name__: work for work in (append_some, append_until_refused, make)}
    work, path, *arguments = sys.argv[1:]
    if work not in works:
        sys.exit(f"no such work: {work}")
    works[work](Path(path), *arguments)
