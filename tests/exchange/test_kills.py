"""Killed, without room, without rights at any step: before or after, never between.

The suite tries some steps of each work; `KILLS=all` in the environment tries every one.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from random import Random
from subprocess import DEVNULL
from tempfile import TemporaryDirectory

import pytest

from tests.store.build import ROOT, attempt, open_store, without_rights
from tests.store.test_care import OTHER, PUPIL, TRACES, bytes_of, furnish, kept_of, traces_in
from tests.store.test_processes import small_disk
from trainer.cli.files import write_file
from trainer.errors import TrainerError
from trainer.record.file import write_record
from trainer.store import backup, schema
from trainer.store.store import Store

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals and rights of POSIX")

ALL = os.environ.get("KILLS") == "all"
SOME = 5  # steps of each work in an ordinary run


def run(work: str, folder: Path, step: int) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "tests.exchange.child", work, str(folder), str(step)]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True)


def steps_of(work: str, folder: Path) -> list[int]:
    """The steps at which to kill: all, or some spread over the whole work."""
    done = run(work, folder, 0)
    assert done.returncode == 0, done.stderr
    count = int(done.stdout)
    assert count >= 3
    return (
        list(range(1, count + 1))
        if ALL
        else sorted(Random(1).sample(range(1, count + 1), min(SOME, count)))
    )


def each_kill(
    work: str, made: Path, tmp_path: Path, look: Callable[[Path, int], bool]
) -> tuple[int, int]:
    """Kill a work at each step on a fresh copy of a folder; how many ends were before, after.
    `look` sees that all is well and says whether it is after."""
    whole = tmp_path / "whole"
    shutil.copytree(made, whole)
    ends = []
    for step in steps_of(work, whole):
        folder = tmp_path / f"step{step}"
        shutil.copytree(made, folder)
        killed = run(work, folder, step)
        assert killed.returncode == -9, killed.stderr
        ends.append(look(folder, step))
        shutil.rmtree(folder)
    assert look(whole, 0)  # the work that was not killed
    print(f"{work}: killed {len(ends)} times, {ends.count(False)} before, {ends.count(True)} after")
    return ends.count(False), ends.count(True)


def sound(path: Path) -> None:
    with closing(sqlite3.connect(path)) as raw:
        assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert raw.execute("PRAGMA foreign_key_check").fetchall() == []


def studio(folder: Path) -> Path:
    """A folder with a database, a backup, and the record of one of its students."""
    folder.mkdir()
    with open_store(folder / "trainer.db") as store:
        record = furnish(store, 12)
        store.back_up("by hand")
    (folder / "record.json").write_text(write_record(record), encoding="utf-8")
    return folder


def test_taking_a_record_in(tmp_path: Path) -> None:
    made = studio(tmp_path / "made")
    shutil.rmtree(made / "trainer.db.backups")
    (made / "trainer.db").unlink()
    with open_store(made / "trainer.db") as store:
        store.save_student(OTHER)
        store.append(*(attempt(n, id=f"o-{n}") for n in range(3)))
    text = (made / "record.json").read_text("utf-8")

    def look(folder: Path, step: int) -> bool:
        with open_store(folder / "trainer.db") as store:
            assert len(store.attempts(OTHER.id)) == 3
            known = PUPIL.id in {one.id for one in store.entries()}
            if known:
                assert write_record(store.record(PUPIL.id)) == text, step
            else:
                assert store.attempts(PUPIL.id) == ()
            wrong = [one.what for one in store.check() if one.weight == "wrong"]
            assert all("interrupted backup" in what for what in wrong)
            assert not [one for one in store.repair() if one.weight == "wrong"]
        sound(folder / "trainer.db")
        return known

    each_kill("take_in", made, tmp_path, look)


def test_handing_a_file_out(tmp_path: Path) -> None:
    made = studio(tmp_path / "made")
    (made / "out.json").write_text("what was there before")
    text = (made / "record.json").read_text("utf-8")

    def look(folder: Path, _: int) -> bool:
        found = (folder / "out.json").read_text("utf-8")
        assert found in (text, "what was there before")
        return found == text

    each_kill("export", made, tmp_path, look)


def test_erasing(tmp_path: Path) -> None:
    made = studio(tmp_path / "made")
    (made / "record.json").unlink()
    with open_store(made / "trainer.db") as store:
        before = write_record(store.record(PUPIL.id))
        others = kept_of(store, OTHER.id)

    def look(folder: Path, step: int) -> bool:
        with open_store(folder / "trainer.db") as store:  # which finishes what was begun
            gone = PUPIL.id not in {one.id for one in store.entries()}
            assert kept_of(store, OTHER.id) == others
            if gone:
                assert traces_in(folder) == [], step
                assert store.attempts(PUPIL.id) == ()
            else:
                assert write_record(store.record(PUPIL.id)) == before
        sound(folder / "trainer.db")
        for one in backup.listed(folder / "trainer.db"):
            sound(folder / "trainer.db.backups" / one.name)
        return gone

    each_kill("erase", made, tmp_path, look)


def test_going_back(tmp_path: Path) -> None:
    made = studio(tmp_path / "made")
    (older,) = (made / "trainer.db.backups").iterdir()
    older.rename(made / "older.db")
    with open_store(made / "trainer.db") as store:
        store.append(attempt(500, id="later"))

    def look(folder: Path, _: int) -> bool:
        sound(folder / "trainer.db")
        with open_store(folder / "trainer.db") as store:
            ids = {one.id for one in store.attempts(OTHER.id)}
            assert len(ids) == 12 + ("later" in ids)
            return "later" not in ids

    each_kill("restore", made, tmp_path, look)


def test_backing_up(tmp_path: Path) -> None:
    made = studio(tmp_path / "made")

    def look(folder: Path, _: int) -> bool:
        found = backup.listed(folder / "trainer.db")
        for one in found:
            sound(folder / "trainer.db.backups" / one.name)
        return len(found) == 2

    each_kill("back_up", made, tmp_path, look)


def older_version(path: Path) -> None:
    """A database of the version before the last step, with an attempt, a programme and an edit
    of a deck in it."""
    from sqlite_utils import Database, Migrations

    before = Migrations("trainer")
    for name, step in schema.STEPS[:2]:
        before(name=name)(step)
    db = Database(path, execute_plugins=False, strict=True)
    before.apply(db)
    db.executescript(
        'INSERT INTO student VALUES (1, \'student-1\', \'{"id":"student-1","name":"A"}\', 5);'
        "INSERT INTO score VALUES (1, 'score-1', 'T', 'x');"
        "BEGIN; INSERT INTO deck VALUES (1, 'deck-1', 'rev');"
        "INSERT INTO deck_revision VALUES (1, 'deck-1', 'rev', 'score-1', 'T', 1, 'x'); COMMIT;"
        "INSERT INTO deck_edit VALUES (1, 'e', 'deck-1', 'rev', '', 'm', 0, 0, 'new', '', '');"
        "INSERT INTO recital VALUES (1, 'r', 'student-1', 'Spring', '2026-05-01', 0);"
        "INSERT INTO programme VALUES ('r', 0, 'deck-1', 'yes');"
        "INSERT INTO attempt VALUES (1, 'a', 'student-1', 'deck-1', 'rev', 's', 'm', 0, 0,"
        " '1970-01-01', 'through', 'cold', 'self', 'both', NULL, '[]', '', NULL, NULL, NULL, '');"
        "INSERT INTO retraction VALUES (1, 'r1', 'a', 'm', 0, 0);"
    )
    db.close()


def test_bringing_an_older_file_up_to_date(tmp_path: Path) -> None:
    made = tmp_path / "made"
    made.mkdir()
    older_version(made / "trainer.db")

    def look(folder: Path, _: int) -> bool:
        after = "joining" in _tables(folder / "trainer.db")
        copies = backup.listed(folder / "trainer.db")
        assert not after or copies
        for one in copies:
            assert "joining" not in _tables(folder / "trainer.db.backups" / one.name)
        with open_store(folder / "trainer.db") as store:
            assert [one.id for one in store.attempts("student-1")] == ["a"]
            assert [one.id for one in store.retractions("student-1")] == ["r1"]
            assert [len(one.programme) for one in store.recitals("student-1")] == [1]
            assert [edit.why for edit in store.deck_history("deck-1")] == ["new"]
        sound(folder / "trainer.db")
        return after

    each_kill("migrate", made, tmp_path, look)


def _tables(path: Path) -> set[str]:
    with closing(sqlite3.connect(path)) as raw:
        return {row[0] for row in raw.execute("SELECT name FROM sqlite_master")}


def test_an_erased_student_in_a_backup_of_an_older_version(tmp_path: Path) -> None:
    """Such a backup cannot be cleaned; it is removed."""
    path = tmp_path / "trainer.db"
    older_version(path)
    with open_store(path) as store:
        assert len(store.backups()) == 1
        done = store.erase(store.entry("A"))
        assert (done.cleaned, done.removed) == (0, 1)
        assert store.backups() == ()


def _full(tmp_path: Path, left: int, work: Callable[[Store], object]) -> tuple[str, Path]:
    """A work on a disk with so many bytes left: what was said, and the folder afterwards."""
    with small_disk(tmp_path / "disk", "3m") as disk:
        with open_store(disk / "trainer.db") as store:
            furnish(store, 200)
        free = shutil.disk_usage(disk).free
        (disk / "other").write_bytes(b"x" * max(0, free - left))
        said = ""
        try:
            with open_store(disk / "trainer.db") as store:
                work(store)
        except TrainerError as error:
            said = str(error)
        (disk / "other").unlink()
        shutil.copytree(disk, tmp_path / "after")
    return said, tmp_path / "after"


@pytest.mark.parametrize("left", [0, 20_000, 120_000, 400_000, 1_000_000])
def test_a_full_disk_while_erasing(tmp_path: Path, left: int) -> None:
    said, after = _full(tmp_path, left, lambda store: store.erase(PUPIL))
    with open_store(after / "trainer.db") as store:
        gone = PUPIL.id not in {one.id for one in store.entries()}
        assert len(store.attempts(OTHER.id)) == 200
        assert gone or len(store.attempts(PUPIL.id)) == 400
    assert said or gone
    assert not gone or traces_in(after) == []
    sound(after / "trainer.db")


@pytest.mark.parametrize("left", [0, 20_000, 120_000, 500_000, 1_200_000])
def test_a_full_disk_while_taking_in(tmp_path: Path, left: int) -> None:
    with open_store(tmp_path / "pupil.db") as store:
        store.save_student(PUPIL)
        store.append(*(attempt(n, id=f"new-{n}", student=PUPIL.id) for n in range(800)))
        record = store.record(PUPIL.id)

    def work(store: Store) -> None:
        store.back_up("before a record")
        store.take_in(record)

    said, after = _full(tmp_path, left, work)
    with open_store(after / "trainer.db") as store:
        assert len(store.attempts(PUPIL.id)) == (400 if said else 1200)
    sound(after / "trainer.db")


def test_a_folder_that_cannot_be_written() -> None:
    with TemporaryDirectory() as place:  # not below tmp_path, which only its owner may enter
        folder = studio(Path(place) / "made")
        Path(place).chmod(0o755)
        for path in folder.rglob("*"):
            path.chmod(0o555 if path.is_dir() else 0o444)
        folder.chmod(0o555)
        before = bytes_of(folder)
        with without_rights(), open_store(folder / "trainer.db") as store:
            record = store.record(PUPIL.id)
            for work in (
                lambda: store.take_in(record, join=True),
                lambda: store.erase(PUPIL),
                lambda: store.back_up("by hand"),
                lambda: store.repair(),
                lambda: write_file(folder / "out.json", "x", replace=True),
            ):
                with pytest.raises(TrainerError) as caught:
                    work()
                assert str(caught.value).isprintable()
            assert all(trace in bytes_of(folder) for trace in TRACES)
        assert bytes_of(folder) == before
        folder.chmod(0o755)
        for path in folder.rglob("*"):
            path.chmod(0o755)


RANDOM_KILLS = 60 if ALL else 3


@pytest.mark.parametrize("seed", range(RANDOM_KILLS))
def test_erasing_killed_by_the_clock(tmp_path: Path, seed: int) -> None:
    """At any moment, those inside of one statement included."""
    folder = studio(tmp_path / "made")
    (folder / "record.json").unlink()
    command = [sys.executable, "-m", "tests.exchange.child", "erase", str(folder), "0"]
    process = subprocess.Popen(command, cwd=ROOT, stdout=DEVNULL, stderr=DEVNULL)
    journal = folder / "trainer.db-wal"
    while process.poll() is None and not journal.exists():
        pass
    for _ in range(Random(seed).randrange(200_000)):
        pass
    process.kill()
    process.wait()
    with open_store(folder / "trainer.db") as store:
        gone = PUPIL.id not in {one.id for one in store.entries()}
        assert len(store.attempts(PUPIL.id)) == (0 if gone else 24)
        assert not gone or traces_in(folder) == []
    sound(folder / "trainer.db")
