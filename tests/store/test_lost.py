"""What was lost is said: a file that is gone or empty, and entries that a log once held."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from tests.store.build import STUDENT, attempt, open_store
from trainer.errors import TrainerError
from trainer.store import backup
from trainer.store.care import rescue
from trainer.store.schema import LOGS
from trainer.store.store import Store


def made(path: Path, count: int = 4) -> Path:
    with open_store(path) as store:
        store.students.save(STUDENT)
        store.log.append(*(attempt(n, id=f"a-{n}") for n in range(count)))
    return path


def wrong(store: Store) -> list[str]:
    return [one.what for one in store.faults.find() if one.weight == "wrong"]


@contextmanager
def by_other_means(path: Path) -> Iterator[sqlite3.Connection]:
    """Without the guards of the logs, which are put back."""
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        sql = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        triggers = raw.execute(sql).fetchall()
        for name, _ in triggers:
            raw.execute(f"DROP TRIGGER {name}")
        yield raw
        for _, sql in triggers:
            raw.execute(sql)


@pytest.mark.parametrize("there", [True, False])
@pytest.mark.parametrize("beside", ["journal", "backup"])
def test_an_empty_or_missing_file_is_not_made_anew(
    tmp_path: Path, there: bool, beside: str
) -> None:
    path = made(tmp_path / "trainer.db")
    journal = path.with_name("trainer.db-wal")
    if beside == "journal":
        journal.write_bytes(b"what was not yet in the file")
    else:
        with open_store(path) as store:
            store.backups.make("by hand")
    path.write_bytes(b"") if there else path.unlink()
    with pytest.raises(TrainerError, match="is missing or empty, but"):
        open_store(path)
    assert path.exists() == there
    assert beside == "backup" or journal.read_bytes() == b"what was not yet in the file"
    if beside == "backup":
        newest = backup.listed(path)[0]
        with open_store(tmp_path / "clock.db") as store:
            rescue(path, backup.folder(path) / newest.name, store._now())
        with open_store(path) as store:
            assert len(store.log.attempts(STUDENT.id)) == 4


def test_a_new_file_needs_nothing(tmp_path: Path) -> None:
    (tmp_path / "trainer.db").touch()
    (tmp_path / "trainer.db-wal").touch()
    with open_store(made(tmp_path / "trainer.db")) as store:
        assert wrong(store) == []


def test_entries_that_a_log_once_held(tmp_path: Path) -> None:
    """The last ones too, which leave no gap in the numbers."""
    path = made(tmp_path / "trainer.db")
    with by_other_means(path) as raw:
        raw.execute("DELETE FROM attempt WHERE seq = (SELECT max(seq) FROM attempt)")
    with open_store(path) as store:
        (found,) = wrong(store)
        assert "The log attempt holds 3 entries, and 4 by the count" in found
        store.faults.repair()
        assert wrong(store) == []


def test_entries_that_the_newest_backup_holds(tmp_path: Path) -> None:
    path = made(tmp_path / "trainer.db")
    with open_store(path) as store:
        store.backups.make("by hand")
        assert wrong(store) == []
    with by_other_means(path) as raw:
        raw.execute("DELETE FROM attempt WHERE id IN ('a-1', 'a-2')")
        raw.execute("UPDATE tally SET entries = 2 WHERE log = 'attempt'")
    with open_store(path) as store:
        (found,) = wrong(store)
        assert "(by hand) holds 2 of the log attempt that are not here" in found


def test_after_going_back_and_after_erasing_nothing_is_called_lost(tmp_path: Path) -> None:
    path = made(tmp_path / "trainer.db")
    with open_store(path) as store:
        made_ = store.backups.make("by hand")
        assert made_
        store.log.append(attempt(9, id="later"))
        store.backups.restore(backup.folder(path) / made_.name)
        assert wrong(store) == []
        assert any("before going back" in one.what for one in store.faults.find())
        store.erasing.erase(STUDENT)
        assert store.faults.find() == ()


def test_every_log_is_counted(tmp_path: Path) -> None:
    with open_store(made(tmp_path / "trainer.db")) as store:
        sql = "SELECT replace(name, '_no_delete', '') FROM sqlite_master WHERE name LIKE '%no_del%'"
        guarded = {row[0] for row in store._connection.read(list, sql)}
    assert guarded - {"score", "deck_revision", "machine", "tombstone"} == set(LOGS)


def test_a_file_that_can_only_be_read_is_told_before(tmp_path: Path) -> None:
    path = made(tmp_path / "trainer.db")
    with open_store(path) as store:
        store.must_write()
        vars(store._connection)["read_only"] = True
        with pytest.raises(TrainerError, match="can only be read"):
            store.must_write()
        vars(store._connection)["read_only"] = False
