"""What is wrong with a database is found, explained, and put right where the log tells how."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.store.build import NOON, STUDENT, attempt, open_store, piece
from trainer.deck.model import revision
from trainer.record.attempt import Retraction
from trainer.record.people import Student
from trainer.store import backup
from trainer.store.check import Finding
from trainer.store.store import Store


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A sound database with two edits of a deck."""
    path = tmp_path / "trainer.db"
    with open_store(path) as store:
        store.students.save(STUDENT)
        store.pieces.add(piece(), "new")
        deck = replace(piece().deck, title="Second")
        store.pieces.save(deck, parent=revision(piece().deck), why="title")
        store.log.append(*(attempt(number) for number in range(50)))
    return path


def spoil(path: Path, *statements: str) -> None:
    """What a person with another tool can do to a file."""
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        raw.execute("PRAGMA writable_schema = ON")
        for statement in statements:
            raw.execute(statement)


def wrong(findings: tuple[Finding, ...]) -> list[Finding]:
    return [one for one in findings if one.weight == "wrong"]


def looked_at(path: Path) -> tuple[Finding, ...]:
    with open_store(path) as store:
        return store.faults.find()


def test_a_sound_one(path: Path) -> None:
    assert looked_at(path) == ()


@pytest.mark.parametrize(
    ("statements", "says"),
    [
        (["DROP TRIGGER attempt_no_delete"], "trigger attempt_no_delete is missing"),
        (["DROP INDEX attempt_of"], "index attempt_of is missing"),
        (
            ["UPDATE deck SET current = (SELECT revision FROM deck_edit WHERE seq = 1)"],
            "not the one that its last edit led to",
        ),
        (["INSERT INTO erasing VALUES ('student-1')"], "lets rows of the log be removed"),
    ],
)
def test_what_can_be_put_right(path: Path, statements: list[str], says: str) -> None:
    spoil(path, *statements)
    (found,) = wrong(looked_at(path))
    assert says in found.what
    assert found.repair
    with open_store(path) as store:
        before = store.log.attempts(STUDENT.id)
        assert wrong(store.faults.repair()) == []
        assert wrong(store.faults.find()) == []
        assert store.log.attempts(STUDENT.id) == before
        assert store.pieces.deck("deck-1").title == "Second"
        assert [one.why for one in store.backups.all()] == ["before a repair"]
    with closing(sqlite3.connect(path)) as raw, pytest.raises(sqlite3.IntegrityError):
        raw.execute("DELETE FROM attempt")  # the log is guarded again


def test_an_index_that_lost_rows_is_made_anew(path: Path) -> None:
    with closing(sqlite3.connect(path, isolation_level=None)) as raw:
        (root,) = raw.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = 'opening_of'"
        ).fetchone()
        (size,) = raw.execute("PRAGMA page_size").fetchone()
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        (other,) = raw.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = 'attempt_of'"
        ).fetchone()
    data = bytearray(path.read_bytes())
    data[(other - 1) * size : other * size] = data[(root - 1) * size : root * size]  # an empty one
    path.write_bytes(data)
    found = wrong(looked_at(path))
    assert any("REINDEX" in one.repair for one in found)
    with open_store(path) as store:
        assert wrong(store.faults.repair()) == []
        assert len(store.log.attempts(STUDENT.id)) == 50


@pytest.mark.parametrize(
    ("statements", "says"),
    [
        (
            ["DROP TRIGGER deck_revision_no_update",
             "UPDATE deck_revision SET content = replace(content, 'Second', 'Third')"],
            "not what its digest",
        ),
        (
            ["DROP TRIGGER score_no_update", "UPDATE score SET content = '{'"],
            "cannot be understood",
        ),
        (
            ["DROP TRIGGER attempt_no_update", "UPDATE attempt SET day = 'x' WHERE seq = 3"],
            "is damaged",
        ),
        (
            ["DROP TRIGGER attempt_no_update", "UPDATE attempt SET heard = '{' WHERE seq = 3"],
            "what was heard of an attempt",
        ),
        (["INSERT INTO recital VALUES (9, 'r', 'nobody', 'x', '2026-01-01', 0, 0)"], "not there"),
    ],
)  # fmt: skip
def test_what_can_only_be_explained(path: Path, statements: list[str], says: str) -> None:
    spoil(path, *statements)
    assert any(says in one.what for one in wrong(looked_at(path)))


def test_what_may_be_right(path: Path) -> None:
    with open_store(path) as store:
        store.log.append(
            attempt(900, at=NOON + timedelta(days=900)),
            attempt(901, deck="elsewhere"),
            Retraction("r", "not-here", "m", NOON, STUDENT.id),
        )
        words = " ".join(one.what for one in store.faults.find())
        assert wrong(store.faults.find()) == []
    for says in ("dated in the future", "pieces that are not here", "wait for their attempts"):
        assert says in words
    assert "another practice day" in words  # the day of the first is that of another instant


def test_a_damaged_page_is_a_finding(path: Path) -> None:
    with open_store(path) as store:
        store.log.append(*(attempt(number) for number in range(100, 3000)))
    with path.open("r+b") as file:
        file.seek(200_000)
        file.write(b"\xa5" * 8000)
    found = wrong(looked_at(path))
    assert any("damaged" in one.what and "backup" in one.what for one in found)


def test_a_file_that_cannot_be_opened_is_rescued_from_a_backup(path: Path) -> None:
    from trainer.store.care import rescue

    with open_store(path) as store:
        made = store.backups.make("by hand")
        assert made
        store.log.append(attempt(77))
    with path.open("r+b") as file:
        file.write(b"\xa5" * 3000)
    aside = rescue(path, backup.folder(path) / made.name, NOON)
    assert aside.read_bytes().startswith(b"\xa5")
    with open_store(path) as store:
        assert len(store.log.attempts(STUDENT.id)) == 50
        assert isinstance(store, Store)
        assert store.faults.find() == ()


@pytest.mark.parametrize(
    ("id_", "name", "machines", "said"),
    [
        ("random", "me", ("home", "school"), True),
        ("random", "me", ("home", "home"), False),
        ("random", "Q.", ("home", "school"), False),  # who was added has one id for one person
        (sha256(b"home 0").hexdigest()[:32], "Q.", ("home", "school"), True),  # as it was made once
        (sha256(b"home 3").hexdigest()[:32], "Q.", ("home", "home"), False),
        ("random", "me", ("this one", "this one"), False),
        ("random", "me", ("this one", "school"), True),
    ],
)
def test_one_student_from_copies_of_one_database(
    path: Path, id_: str, name: str, machines: tuple[str, str], said: bool
) -> None:
    with open_store(path) as store:
        store.students.save(Student(id_, name))
        for number, machine in enumerate(machines):
            here = store.machine if machine == "this one" else machine
            store.log.append(attempt(number, id=f"{number}", student=id_, machine=here))
        told = [one.what for one in store.faults.find() if "records separate" in one.what]
        assert len(told) == said
        assert wrong(store.faults.find()) == []
