"""Works that are killed at a given step, as `python -m tests.exchange.child WORK FOLDER STEP`.

A step is a statement that SQLite runs, or a file that is opened, renamed or removed. At the
given one the process kills itself; without one it goes to its end and prints how many there
were.
"""

from __future__ import annotations

import os
import signal
import sqlite3
import sys
from pathlib import Path
from typing import Any

from tests.store.build import open_store
from tests.store.test_care import PUPIL, furnish
from trainer.cli.files import write_file
from trainer.desk import Desk
from trainer.record.file import write_record
from trainer.store.store import Store

MOMENTS = ("open", "os.rename", "os.remove", "os.mkdir", "os.truncate", "sqlite3.connect")


class Steps:
    """Counts steps from `begin` on, and kills this process at the one asked for."""

    def __init__(self, deadly: int) -> None:
        self.count, self.deadly, self.counting = 0, deadly, False
        sys.addaudithook(self._audit)
        connect = sqlite3.connect

        def traced(*words: Any, **named: Any) -> sqlite3.Connection:
            made: sqlite3.Connection = connect(*words, **named)
            made.set_trace_callback(lambda _: self._step())
            return made

        sqlite3.connect = traced  # type: ignore[assignment]

    def _audit(self, event: str, _: Any) -> None:
        if event in MOMENTS:
            self._step()

    def _step(self) -> None:
        if self.counting:
            self.count += 1
            if self.count == self.deadly:
                os.kill(os.getpid(), signal.SIGKILL)


def opened(folder: Path) -> Store:
    return open_store(folder / "trainer.db")


def desk_of(store: Store) -> Desk:
    from random import Random

    return Desk(store, store._now, store._new_id, Random(1))


def take_in(folder: Path, steps: Steps) -> None:
    with opened(folder) as store:
        steps.counting = True
        desk_of(store).record_in((folder / "record.json").read_bytes(), "x", join=True)


def export(folder: Path, steps: Steps) -> None:
    with opened(folder) as store:
        text = write_record(store.record(PUPIL.id))
        steps.counting = True
        write_file(folder / "out.json", text, replace=True)


def erase(folder: Path, steps: Steps) -> None:
    with opened(folder) as store:
        steps.counting = True
        store.erase(PUPIL)


def restore(folder: Path, steps: Steps) -> None:
    with opened(folder) as store:
        steps.counting = True
        store.restore(folder / "older.db")


def back_up(folder: Path, steps: Steps) -> None:
    with opened(folder) as store:
        steps.counting = True
        store.back_up("by hand")


def migrate(folder: Path, steps: Steps) -> None:
    steps.counting = True
    opened(folder).close()


WORKS = {work.__name__: work for work in (take_in, export, erase, restore, back_up, migrate)}

if __name__ == "__main__":
    name, place, step = sys.argv[1:]
    furnish.__doc__  # noqa: B018  (everything is imported before the steps are counted)
    import trainer.store.schema

    trainer.store.schema.pattern()
    counted = Steps(int(step))
    WORKS[name](Path(place), counted)
    print(counted.count)
