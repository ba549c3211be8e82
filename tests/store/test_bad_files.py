"""A database file that is not as it should be: one sentence that says what to do."""

from __future__ import annotations

import os
import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

import pytest

from tests.store.build import NOON, STUDENT, attempt, open_store, piece, without_rights
from trainer.errors import TrainerError
from trainer.record.people import Opening, ProgrammeItem, Recital
from trainer.store import connection, schema
from trainer.store.store import Store

posix = pytest.mark.skipif(sys.platform == "win32", reason="rights of POSIX")


def _refused(path: Path, sentence: str) -> None:
    with pytest.raises(TrainerError, match=sentence) as caught:
        open_store(path, patience=0.2)
    assert str(caught.value).isprintable()


def _filled(path: Path, attempts: int = 30) -> Path:
    with open_store(path) as store:
        store.students.save(STUDENT)
        store.pieces.add(piece(), "new")
        store.log.append(*(attempt(number, hints=("key",)) for number in range(attempts)))
        store.log.append(Opening("o", STUDENT.id, "deck-1", "start-7", True, "machine-1", NOON))
        day = NOON.date()
        store.recitals.save(Recital("r", STUDENT.id, "Spring", day, (ProgrammeItem("deck-1"),)))
    return path


def _make_text(path: Path) -> None:
    path.write_text("Begin anywhere.\n" * 400)


def _make_foreign(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        raw.execute("CREATE TABLE attempt (id)")


def _make_newer(path: Path) -> None:
    open_store(path).close()
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        row = ("trainer", "a later step", "2024-01-01")
        sql = "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) VALUES (?, ?, ?)"
        raw.execute(sql, row)


def _make_truncated(path: Path) -> None:
    _filled(path)
    os.truncate(path, path.stat().st_size // 3)


def _make_overwritten(path: Path) -> None:
    _filled(path)
    with path.open("r+b") as file:
        file.seek(100)
        file.write(b"\xa5" * 4000)


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (Path.mkdir, "is a folder: name a file"),
        (_make_text, "is not a database of this program"),
        (_make_foreign, "is not a database of this program"),
        (_make_newer, "newer version of the program: install"),
        (_make_truncated, "is damaged .* restore a backup"),
        (_make_overwritten, "is damaged .* restore a backup"),
    ],
)
def test_a_file_that_is_none_of_ours(
    tmp_path: Path, make: Callable[[Path], None], sentence: str
) -> None:
    path = tmp_path / "trainer \x1b[2J.db"
    make(path)
    before = path.read_bytes() if path.is_file() else b""
    _refused(path, sentence)
    assert (path.read_bytes() if path.is_file() else b"") == before


def test_an_empty_file_becomes_a_database(tmp_path: Path) -> None:
    (tmp_path / "empty.db").touch()
    open_store(tmp_path / "empty.db").close()


def test_a_missing_folder(tmp_path: Path) -> None:
    _refused(tmp_path / "none" / "trainer.db", "folder .*none does not exist: make it first")
    (tmp_path / "file").touch()
    _refused(tmp_path / "file" / "trainer.db", "folder .*file does not exist")


def test_the_usual_folder_is_made_for_its_owner_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "share" / "trainer" / "trainer.db"
    monkeypatch.setattr(connection, "default_path", lambda: path)
    open_store(path).close()
    if sys.platform != "win32":
        assert path.parent.stat().st_mode & 0o777 == 0o700
        assert path.stat().st_mode & 0o777 == 0o600


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with a name here")
def test_a_pipe(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    _refused(tmp_path / "pipe", "is not a file")


def test_an_old_sqlite(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 36, 0))
    _refused(tmp_path / "trainer.db", "3.37 or newer is needed")
    assert not (tmp_path / "trainer.db").exists()


def test_another_copy_that_writes_or_holds_the_file(tmp_path: Path) -> None:
    path = _filled(tmp_path / "trainer.db")
    with open_store(path, patience=0.2) as store:
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(TrainerError, match="in use by another copy"):
            store.log.append(attempt(99))
        assert len(store.log.attempts(STUDENT.id)) == 30  # reading goes on
        open_store(path, patience=0.2).close()
        other.execute("ROLLBACK")
        assert store.log.append(attempt(99)) == 1
    other.execute("PRAGMA locking_mode = EXCLUSIVE")
    other.execute("BEGIN EXCLUSIVE")
    _refused(path, "in use by another copy")
    other.close()
    open_store(path).close()


def _open_to_the_world(folder: Path, folder_mode: int, file_mode: int) -> Path:
    path = _filled(folder / "trainer.db")
    path.chmod(file_mode)
    folder.chmod(folder_mode)
    return path


@posix
@pytest.mark.parametrize(("folder", "file"), [(0o555, 0o444), (0o777, 0o444), (0o555, 0o666)])
def test_what_cannot_be_written_can_be_read(folder: int, file: int) -> None:
    # Not below tmp_path, which only its owner may enter.
    with TemporaryDirectory() as place:
        path = _open_to_the_world(Path(place), folder, file)
        with without_rights(), open_store(path) as store:
            assert store.read_only
            assert len(store.log.attempts(STUDENT.id)) == 30
            assert store.pieces.get("deck-1") == piece()
            writings: list[Callable[[], object]] = [
                lambda: store.log.append(attempt(99)),
                lambda: store.students.save(STUDENT),
                lambda: store.settings.set("key", "value"),
                lambda: store.pieces.undo("deck-1"),
            ]
            for write in writings:
                with pytest.raises(TrainerError, match="can only be read: ask for permission"):
                    write()
        Path(place).chmod(0o700)


@posix
def test_what_cannot_be_read_or_made() -> None:
    with TemporaryDirectory() as place:
        path = _open_to_the_world(Path(place), 0o555, 0o000)
        with without_rights():
            _refused(path, "check that you may read and write")
            _refused(Path(place) / "new.db", "check that you may read and write")
        Path(place).chmod(0o000)
        with without_rights():
            _refused(path, "check that you may read and write")
        Path(place).chmod(0o700)


@posix
def test_what_was_left_open_in_a_folder_that_cannot_be_written() -> None:
    with TemporaryDirectory() as place:
        path = Path(place) / "copy" / "trainer.db"
        path.parent.mkdir()
        with open_store(Path(place) / "trainer.db") as store:
            store.students.save(STUDENT)
            for end in ("", "-wal"):
                side = path.with_name(path.name + end)
                side.write_bytes((Path(place) / f"trainer.db{end}").read_bytes())
                side.chmod(0o444)
        path.parent.chmod(0o555)
        Path(place).chmod(0o755)
        with without_rights():
            _refused(path, "copy it together with the files -wal and -shm")
        path.parent.chmod(0o700)


def _old_version(path: Path, monkeypatch: pytest.MonkeyPatch, then: Callable[..., None]) -> None:
    """Leave a file of today's version and make the program one version newer."""
    from sqlite_utils import Migrations

    _filled(path)
    later = Migrations("trainer")
    steps = (*schema.STEPS, ("second", then))
    for name, step in steps:
        later(name=name)(step)
    monkeypatch.setattr(schema, "STEPS", steps)
    monkeypatch.setattr(schema, "migrations", later)


def test_an_older_file_is_brought_up_to_date(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "trainer.db"
    _old_version(path, monkeypatch, lambda db: db.executescript("CREATE TABLE extra (id TEXT)"))
    with open_store(path) as store:
        assert len(store.log.attempts(STUDENT.id)) == 30
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        assert raw.execute("SELECT count(*) FROM extra").fetchone() == (0,)


def test_a_step_that_fails_leaves_the_file_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "trainer.db"
    script = "CREATE TABLE extra (id TEXT); INSERT INTO attempt (id) VALUES ('incomplete');"
    _old_version(path, monkeypatch, lambda db: db.executescript(script))
    before = _dump(path)
    _refused(path, "refused the entry")
    assert _dump(path) == before


def _dump(path: Path) -> list[str]:
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        return list(raw.iterdump())


@posix
def test_an_older_file_that_can_only_be_read(monkeypatch: pytest.MonkeyPatch) -> None:
    with TemporaryDirectory() as place:
        path = Path(place) / "trainer.db"
        _old_version(path, monkeypatch, lambda db: db.executescript("CREATE TABLE extra (id)"))
        path.chmod(0o444)
        Path(place).chmod(0o555)
        with without_rights():
            _refused(path, "older version, and can only be read: copy it")
        Path(place).chmod(0o700)


def _use(store: Store) -> None:
    store.pieces.all()
    for entry in store.pieces.all():
        store.pieces.get(entry.id)
        store.pieces.history(entry.id)
    for student in store.students.all():
        store.log.attempts(student.id)
        store.log.retractions(student.id)
        store.log.openings(student.id)
        store.recitals.of(student.id)
    store.log.append(attempt(1000))
    store.students.save(STUDENT)


BROKEN_FILES = 300


def test_random_damage_never_ends_in_a_traceback(tmp_path: Path) -> None:
    """Bytes of a good file are overwritten at random; either all goes well or a sentence comes."""
    sound = _filled(tmp_path / "sound.db").read_bytes()
    rng = Random(1)
    sentences = []
    for _ in range(BROKEN_FILES):
        path = tmp_path / "broken.db"
        damaged = bytearray(sound)
        for _ in range(rng.choice((1, 20, 300))):
            damaged[rng.randrange(len(damaged))] = rng.randrange(256)
        path.write_bytes(damaged)
        try:
            with open_store(path, patience=0.1) as store:
                _use(store)
        except TrainerError as error:
            sentences.append(str(error))
        for side in tmp_path.glob("broken.db-*"):
            side.unlink()
    assert len(sentences) > BROKEN_FILES / 10
    assert all(sentence.isprintable() for sentence in sentences)
