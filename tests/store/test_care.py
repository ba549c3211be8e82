"""Backups, the way back, and a student who is erased for good, to the last byte."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.store.build import NOON, STUDENT, attempt, open_store, piece
from trainer.errors import TrainerError
from trainer.record.attempt import Attempt, Outcome, Retraction, Witness
from trainer.record.file import Record
from trainer.record.layer import LayerEdit
from trainer.record.lesson import LessonNote
from trainer.record.people import Opening, ProgrammeItem, Recital, Student
from trainer.store import backup
from trainer.store.backup import Backup
from trainer.store.care import rescue
from trainer.store.store import Store

# Words and ids that stand nowhere else in a file, so that their bytes can be looked for.
PUPIL = Student("pupil-8f31c2", "Quillon-Zephyrine")
OTHER = replace(STUDENT, name="Other-Name")
IDS = [b"pupil-8f31c2", b"alone-77"]  # these stay, in tombstones
TRACES = [
    b"Quillon", b"Spring-of-Q", b"hint-of-Q", b"setting-of-Q", b"own-of-Q", b"note-of-Q",
    b"belief-of-Q", b"plan-of-Q", b"glance-of-Q", b"heard-of-Q",
]  # fmt: skip


def furnish(store: Store, attempts: int = 400) -> Record:
    """A student with something in every table, beside another one; the record of the first."""
    store.pieces.add(piece(), "new")
    for student in (PUPIL, OTHER, Student("alone-77", "Quillon-before")):
        store.students.save(student)
    rng = Random(1)
    tries: dict[str, list[Attempt]] = {PUPIL.id: [], OTHER.id: [], "alone-77": []}
    for number in range(attempts):
        for who, mine in tries.items():
            word = "other" if who == OTHER.id else "of-Q"
            hints = tuple(f"hint-{word}" for _ in range(rng.randrange(12)))
            heard = Witness(Outcome.ELSEWHERE, f"heard-{word}", notes=9, sure=0.5)
            # Ids of no order, so that the pages of the indexes are split and filled anew.
            id_ = f"{rng.getrandbits(128):032x}"
            mine.append(attempt(number, id=id_, student=who, hints=hints, heard=heard))
    store.log.append(*(one for mine in zip(*tries.values(), strict=True) for one in mine))
    for who, mine in tries.items():
        store.log.append(Retraction(f"r-{who}", mine[0].id, "m", NOON, who))
        word = "other" if who == OTHER.id else "of-Q"
        store.log.append(
            LayerEdit(f"l-{who}", who, "deck-1", "s", "words", f"own-{word}", "m", NOON)
        )
        store.log.append(LessonNote(f"n-{who}", who, NOON.date(), f"note-{word}", "m", NOON))
        store.log.append(LessonNote(f"m-{who}", who, NOON.date(), word, "m", NOON, f"n-{who}"))
        store.caches.keep_beliefs(who, 3, "basis", f"belief-{word}".encode())
        store.caches.keep_plans(who, f"plan-{word}")
        store.caches.keep_glances({who: ("basis", f"glance-{word}")})
        store.log.append(Opening(f"o-{who}", who, "deck-1", "start-7", True, "m", NOON))
    name = "Spring-of-Q"
    day = NOON.date()
    store.recitals.save(Recital("rec-1", PUPIL.id, name, day, (ProgrammeItem("deck-1"),)))
    store.recitals.save(Recital("rec-2", OTHER.id, "Summer", day))
    store.settings.set("student", PUPIL.id)
    store.settings.set("anything", "setting-of-Q", PUPIL.id)
    store.records.combine(Student("alone-77", "x"), PUPIL)
    return store.records.of(PUPIL.id)


def bytes_of(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def traces_in(folder: Path) -> list[bytes]:
    everything = bytes_of(folder)
    return [trace for trace in TRACES if trace in everything]


def kept_of(store: Store, student: str) -> tuple[object, ...]:
    return (
        store.log.attempts(student),
        store.log.retractions(student),
        store.log.openings(student),
        store.log.layer_edits(student),
        store.log.lesson_notes(student),
        store.recitals.of(student),
        store.caches.beliefs(student),
        store.caches.plans(student),
        store.caches.glances().get(student),
    )


def test_erasing_leaves_a_tombstone_and_nothing_else(tmp_path: Path) -> None:
    with open_store(tmp_path / "trainer.db") as store:
        furnish(store)
        store.backups.make("by hand")
        before = kept_of(store, OTHER.id)
        assert traces_in(tmp_path) == TRACES
        done = store.erasing.erase(PUPIL)
        assert (done.attempts, done.cleaned, done.removed) == (800, 1, 0)
        assert traces_in(tmp_path) == []  # while the database is still open
        assert kept_of(store, OTHER.id) == before
        assert [one.name for one in store.students.all()] == [OTHER.name]
        assert store.settings.get("student") is None
    left = bytes_of(tmp_path)
    with closing(sqlite3.connect(tmp_path / "trainer.db")) as raw:
        assert {row[0] for row in raw.execute("SELECT id FROM tombstone")} == {PUPIL.id, "alone-77"}
        assert raw.execute("PRAGMA foreign_key_check").fetchall() == []
    # The ids are in the tombstones, here and in the backup, and nowhere else.
    assert [left.count(id_) for id_ in IDS] == [4, 4]  # each once in the table, once in its index


def spoil(file: Path, table: str) -> None:
    """Overwrite the first page of a table."""
    with closing(sqlite3.connect(file)) as raw:
        (size,) = raw.execute("PRAGMA page_size").fetchone()
        sql = "SELECT rootpage FROM sqlite_master WHERE name = ?"
        (page,) = raw.execute(sql, (table,)).fetchone()
    with file.open("rb+") as data:
        data.seek(size * (page - 1))
        data.write(b"\xa5" * size)


def test_copies_that_cannot_be_cleaned_are_removed(tmp_path: Path) -> None:
    """A damaged backup, and the damaged file that a backup has once taken the place of."""
    path = tmp_path / "trainer.db"
    with open_store(path) as store:
        furnish(store, 50)
        sound, damaged = store.backups.make("by hand"), store.backups.make("by hand")
        assert sound
        assert damaged
    spoil(backup.folder(path) / damaged.name, "attempt")
    spoil(path, "opening")
    rescue(path, backup.folder(path) / sound.name, NOON)
    (aside,) = backup.put_aside(path)
    aside.with_name(f"{aside.name}-wal").write_bytes(b"Quillon-Zephyrine of pupil-8f31c2")
    (tmp_path / "trainer.db.damaged-else").write_bytes(b"of nobody")
    with open_store(path) as store:
        done = store.erasing.erase(PUPIL)
        assert (done.cleaned, done.removed) == (1, 2)
        assert [one.name for one in store.backups.all()] == [sound.name]
    assert traces_in(tmp_path) == []
    assert [file.name for file in backup.put_aside(path)] == ["trainer.db.damaged-else"]


def test_nothing_brings_an_erased_student_back(tmp_path: Path) -> None:
    with open_store(tmp_path / "trainer.db") as store:
        record = furnish(store, 5)
        made = store.backups.make("by hand")
        assert made
        outside = tmp_path / "outside.db"
        outside.write_bytes((backup.folder(store.path) / made.name).read_bytes())
        store.erasing.erase(PUPIL)
        with pytest.raises(TrainerError, match="erased for good"):
            store.records.take_in(record, join=True)
        with pytest.raises(TrainerError, match="erased for good"):
            store.students.save(PUPIL)
        store.backups.restore(outside)  # a copy that erasing could not reach
        assert [one.name for one in store.students.all()] == [OTHER.name]
        assert store.log.attempts(PUPIL.id) == ()
        with pytest.raises(TrainerError, match="erased for good"):
            store.records.take_in(record, join=True)
    outside.unlink()
    assert traces_in(tmp_path) == []


def test_an_erasing_that_was_cut_off_is_finished_by_the_next_to_open(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "trainer.db"
    with open_store(path) as store:
        furnish(store)
        store.backups.make("by hand")
        with monkeypatch.context() as patch:
            patch.setattr(store.erasing, "finish", lambda: (0, 0))
            store.erasing.erase(PUPIL)
        assert traces_in(tmp_path) != []
    with open_store(path) as store:
        assert traces_in(tmp_path) == []
        assert store.erasing.finish() == (0, 0)


def test_a_reader_in_the_way_is_told_and_nothing_is_half_done(tmp_path: Path) -> None:
    path = tmp_path / "trainer.db"
    with open_store(path, patience=0.2) as store:
        furnish(store)
        reader = sqlite3.connect(path, isolation_level=None)
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM attempt").fetchone()
        with pytest.raises(TrainerError, match="was erased, but traces are left"):
            store.erasing.erase(PUPIL)
        assert store.log.attempts(PUPIL.id) == ()
        reader.execute("COMMIT")
        store.erasing.finish()
    assert traces_in(tmp_path) == []


def test_a_backup_is_whole_and_can_be_gone_back_to(tmp_path: Path) -> None:
    with open_store(tmp_path / "trainer.db") as store:
        furnish(store, 50)
        made = store.backups.make("by hand")
        assert made
        before = kept_of(store, PUPIL.id)
        store.log.append(attempt(900, id="later", student=PUPIL.id))
        store.students.save(Student("new", "N"))
        with open_store(tmp_path / "trainer.db") as other:  # another copy of the program
            store.backups.restore(backup.folder(store.path) / made.name)
            assert kept_of(other, PUPIL.id) == before
        assert kept_of(store, PUPIL.id) == before
        assert "N" not in [one.name for one in store.students.all()]
        assert store.log.append(attempt(901, id="goes-on", student=PUPIL.id)) == 1
        # What was there before going back is a backup too.
        assert [one.why for one in store.backups.all()] == ["before going back", "by hand"]
        store.backups.restore(backup.folder(store.path) / store.backups.all()[0].name)
        assert "later" in {one.id for one in store.log.attempts(PUPIL.id)}


@pytest.mark.parametrize(
    ("damage", "sentence"),
    [
        (lambda data: data[: len(data) // 2], "damaged"),
        (lambda _: b"x" * 5000, "not a database of this program"),
        (lambda data: data[:5000] + b"\xa5" * 4000 + data[9000:], "damaged|cannot"),
    ],
)
def test_a_broken_backup_is_refused(tmp_path: Path, damage: object, sentence: str) -> None:
    assert callable(damage)
    with open_store(tmp_path / "trainer.db") as store:
        furnish(store, 50)
        made = store.backups.make("by hand")
        assert made
        before = kept_of(store, PUPIL.id)
        broken = tmp_path / "broken.db"
        broken.write_bytes(damage((backup.folder(store.path) / made.name).read_bytes()))
        with pytest.raises(TrainerError, match=sentence):
            store.backups.restore(broken)
        with pytest.raises(TrainerError, match="no file"):
            store.backups.restore(tmp_path / "none.db")
        assert kept_of(store, PUPIL.id) == before


def test_one_reason_one_backup_in_ten_minutes(tmp_path: Path) -> None:
    with open_store(tmp_path / "trainer.db") as store:
        assert store.backups.make("before a record", unless_recent=True)
        assert not store.backups.make("before a record", unless_recent=True)
        assert store.backups.make("by hand", unless_recent=True)
        assert len(store.backups.all()) == 2


def test_a_backup_that_cannot_be_made(tmp_path: Path) -> None:
    with open_store(tmp_path / "trainer.db") as store:
        backup.folder(store.path).touch()
        with pytest.raises(TrainerError, match=r"No backup .* nothing was changed"):
            store.backups.make("by hand")


def _made(at: datetime) -> Backup:
    return Backup(f"{at:%Y%m%dT%H%M%SZ}-x.db", at, "x", 1)


@given(st.lists(st.integers(0, 60 * 24 * 800), max_size=60, unique=True))
def test_which_backups_are_kept(minutes: list[int]) -> None:
    start = datetime(2024, 1, 1, tzinfo=UTC)
    every = sorted((start + timedelta(minutes=n) for n in minutes), reverse=True)
    kept = [one.at for one in backup.kept([_made(at) for at in every])]
    assert kept[:6] == every[:6]
    assert len(kept) <= 12
    older = every[6:]
    months = {(at.year, at.month): at for at in reversed(older)}  # the last of each month
    assert kept[6:] == sorted(months.values(), reverse=True)[:6]
