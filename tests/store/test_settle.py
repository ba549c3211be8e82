"""A plain copy of the database file alone, made when nothing is being written, is whole."""

from __future__ import annotations

import shutil
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from random import Random

import pytest

from tests.store.build import STUDENT, attempt, open_store
from trainer.store import settle

PATIENCE = 20.0


def until(met: Callable[[], bool]) -> None:
    deadline = time.monotonic() + PATIENCE
    while not met():
        assert time.monotonic() < deadline
        time.sleep(0.005)


def held(path: Path, folder: Path) -> set[str]:
    """The ids of the attempts in a copy of the file alone."""
    copy = folder / "copy.db"
    shutil.copyfile(path, copy)
    with closing(sqlite3.connect(copy)) as raw:
        assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        found = {row[0] for row in raw.execute("SELECT id FROM attempt")}
    copy.unlink()
    return found


def test_a_copy_of_the_file_alone_holds_every_attempt(tmp_path: Path) -> None:
    """While the store stays open."""
    path = tmp_path / "trainer.db"
    with open_store(path) as store, open_store(path) as other:
        store.students.save(STUDENT)
        for number in range(5):
            (store, other)[number % 2].log.append(attempt(number, id=f"a-{number}"))
            wanted = {f"a-{n}" for n in range(number + 1)}
            until(lambda wanted=wanted: held(path, tmp_path) == wanted)  # type: ignore[misc]


def test_one_who_reads_is_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "trainer.db"
    with open_store(path) as store:
        store.students.save(STUDENT)
        with closing(sqlite3.connect(path, isolation_level=None)) as reader:
            reader.execute("BEGIN")
            reader.execute("SELECT count(*) FROM attempt").fetchone()
            store.log.append(attempt(0, id="a"))
            assert held(path, tmp_path) == set()
            reader.execute("COMMIT")
            until(lambda: held(path, tmp_path) == {"a"})


def test_what_a_killed_one_left_is_there_when_the_next_has_opened(tmp_path: Path) -> None:
    path, killed = tmp_path / "trainer.db", tmp_path / "killed"
    killed.mkdir()
    with open_store(path) as store:
        store.students.save(STUDENT)
        with closing(sqlite3.connect(path, isolation_level=None)) as reader:
            reader.execute("BEGIN")
            reader.execute("SELECT count(*) FROM attempt").fetchone()
            store.log.append(attempt(0, id="a"))
            for file in tmp_path.glob("trainer.db*"):  # as a kill at this moment leaves them
                shutil.copyfile(file, killed / file.name)
    assert held(killed / "trainer.db", tmp_path) == set()
    with open_store(killed / "trainer.db"):
        assert held(killed / "trainer.db", tmp_path) == {"a"}


@pytest.mark.parametrize("seed", range(30))
def test_it_ends_at_whatever_moment(tmp_path: Path, seed: int) -> None:
    path = tmp_path / "trainer.db"
    with closing(sqlite3.connect(path)) as raw:
        raw.execute("PRAGMA journal_mode = WAL")
    settler = settle.Settler(path)
    settler.tell()
    time.sleep(Random(seed).uniform(0, 2 * settle.QUIET))
    settler.close()
