"""A database has an id of its own; a copy takes another one before anything is written in it."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from tests.store.build import NOON, STUDENT, attempt, open_store
from trainer.record.attempt import Outcome
from trainer.store import backup, base
from trainer.store.care import rescue
from trainer.store.store import Store


def filled(path: Path) -> str:
    """A database with an attempt in it; its id."""
    path.parent.mkdir(exist_ok=True)
    with open_store(path) as store:
        store.students.save(STUDENT)
        store.log.append(attempt(1, machine=store.machine))
        return store.machine


def machine_of(path: Path) -> str:
    with open_store(path) as store:
        return store.machine


def to_another_folder(path: Path) -> Path:
    return Path(shutil.copy(path, path.parent / "copy.db"))


def with_all_that_a_copy_can_keep(path: Path) -> Path:
    return Path(shutil.copy2(path, path.parent / "copy.db"))


def renamed_and_put_in_its_place(path: Path) -> Path:
    """A copy that has lived elsewhere comes back."""
    there = to_another_folder(path)
    machine_of(there)
    there.replace(path)
    return path


def moved(path: Path) -> Path:
    (path.parent / "new").mkdir()
    return Path(shutil.move(path, path.parent / "new" / path.name))


def a_backup(path: Path) -> Path:
    with open_store(path) as store:
        made = store.backups.make("by hand")
    assert made
    return backup.folder(path) / made.name


def a_backup_copied_over_it(path: Path) -> Path:
    """By hand, so that path and file are those of before."""
    return Path(shutil.copy(a_backup(path), path))


def gone_back(path: Path) -> Path:
    source = a_backup(path)
    with open_store(path) as store:
        store.backups.restore(source)
    return path


def rescued(path: Path) -> Path:
    source = a_backup(path)
    path.write_bytes(b"\xa5" * 5000)
    rescue(path, source, NOON)
    return path


WAYS = (
    to_another_folder,
    with_all_that_a_copy_can_keep,
    renamed_and_put_in_its_place,
    moved,
    a_backup,
    a_backup_copied_over_it,
    gone_back,
    rescued,
)


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__)
def test_a_copy_takes_an_id_of_its_own(tmp_path: Path, way: Callable[[Path], Path]) -> None:
    was = filled(tmp_path / "here" / "t.db")
    there = way(tmp_path / "here" / "t.db")
    now = machine_of(there)
    assert now != was
    assert machine_of(there) == now  # and keeps it
    with open_store(there) as store:
        assert [one.machine for one in store.log.attempts(STUDENT.id)] == [was]
        assert not [one for one in store.faults.find() if one.weight == "wrong"]


def test_going_back_takes_it_at_once(tmp_path: Path) -> None:
    was = filled(tmp_path / "t.db")
    source = a_backup(tmp_path / "t.db")
    with open_store(tmp_path / "t.db") as store:
        store.backups.restore(source)
        assert store.machine != was


def test_another_computer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same path, as on a drive that is carried about or a folder that is synchronised."""
    was = filled(tmp_path / "t.db")
    monkeypatch.setattr(base, "_computer", lambda: ("another", "id"))
    assert machine_of(tmp_path / "t.db") != was


def test_the_same_place_by_another_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    was = filled(tmp_path / "here" / "t.db")
    (tmp_path / "link").symlink_to(tmp_path / "here")
    (tmp_path / "file.db").symlink_to(tmp_path / "here" / "t.db")
    assert machine_of(tmp_path / "link" / "t.db") == was
    assert machine_of(tmp_path / "file.db") == was
    monkeypatch.chdir(tmp_path / "here")
    assert machine_of(Path("t.db")) == was


def test_every_copy_has_another_one(tmp_path: Path) -> None:
    filled(tmp_path / "t.db")
    found = [machine_of(Path(shutil.copy(tmp_path / "t.db", tmp_path / f"{n}.db")))
             for n in range(5)]  # fmt: skip
    assert len({*found, machine_of(tmp_path / "t.db")}) == 6


def test_nothing_in_the_file_tells_where_it_was(tmp_path: Path) -> None:
    here = tmp_path / "a-telling-folder"
    filled(here / "telling-name.db")
    data = b"".join(file.read_bytes() for file in here.iterdir())
    for told in (*base._computer(), "telling"):
        assert told.encode() not in data


def first_of(store: Store, number: int) -> str:
    """The first student, and something of theirs that is kept."""
    one = store.log.expect("me")
    store.log.append(attempt(number, id=f"of-{number}", student=one.id, outcome=Outcome.STOPPED))
    return one.id


def test_the_first_student_is_drawn_by_chance(tmp_path: Path) -> None:
    """Two copies of a file in which nobody is yet, by whatever way it was copied: with the same
    id of the machine, even."""
    with open_store(tmp_path / "t.db"):
        pass
    found = set()
    for n in range(3):
        path = Path(shutil.copy(tmp_path / "t.db", tmp_path / f"{n}.db"))
        with open_store(path) as store:
            assert store.log.expect("me") == store.log.expect("me")
            assert store.students.all() == ()  # to look makes nobody
            found.add(first_of(store, n))
    assert len(found) == 3


def test_two_windows_on_an_empty_database_make_one_person(tmp_path: Path) -> None:
    with open_store(tmp_path / "t.db") as one, open_store(tmp_path / "t.db") as two:
        for store in (one, two):
            store.log.expect("me")
        first, second = first_of(one, 1), first_of(two, 2)
        assert first != second
        for store in (one, two):
            assert [student.name for student in store.students.all()] == ["me"]
            for id_ in (first, second):
                assert [one.id for one in store.log.attempts(id_)] == ["of-1", "of-2"]
    with open_store(tmp_path / "t.db") as store:
        assert not [one for one in store.faults.find() if one.weight == "wrong"]


def test_somebody_who_was_added_meanwhile_is_somebody_else(tmp_path: Path) -> None:
    with open_store(tmp_path / "t.db") as store:
        store.log.expect("me")
        store.students.save(STUDENT)
        first_of(store, 1)
        assert [student.name for student in store.students.all()] == ["A", "me"]


def test_who_comes_after_an_erasing_is_another_in_the_same_window(tmp_path: Path) -> None:
    with open_store(tmp_path / "t.db") as store:
        first = first_of(store, 1)
        store.erasing.erase(store.students.find("me"))
        assert first_of(store, 2) != first
        assert [student.name for student in store.students.all()] == ["me"]


def test_a_file_of_an_earlier_version_takes_an_id_of_its_own(tmp_path: Path) -> None:
    """Copies of it may be about, all with one id."""
    from tests.exchange.works import database_of

    database_of(tmp_path / "t.db", "heard")
    assert machine_of(tmp_path / "t.db") != "old-machine"
    with closing(sqlite3.connect(tmp_path / "t.db")) as raw:
        rows = raw.execute("SELECT id FROM machine ORDER BY seq").fetchall()
    assert rows[0] == ("old-machine",)
    assert len(rows) == 2
