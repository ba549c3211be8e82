"""The log only grows, takes the same events again, and in any order."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from datetime import UTC, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.store.build import NOON, STUDENT, attempt, open_store, piece, unhurried
from trainer.errors import TrainerError
from trainer.record.attempt import Outcome, Retraction, standing
from trainer.record.layer import LayerEdit
from trainer.record.people import Opening
from trainer.store.rows import Event
from trainer.store.store import Store

EVENTS: tuple[Event, ...] = (
    *(attempt(number) for number in range(6)),
    attempt(7, deck="deck-2"),
    attempt(8, at=attempt(3).at),  # two at the same instant
    Retraction("retraction-1", "attempt-2", "machine-1", NOON),
    Retraction("retraction-2", "attempt-5", "machine-2", NOON - timedelta(days=1)),
    Opening("opening-1", STUDENT.id, "deck-1", "start-7", True, "machine-1", NOON),
    Opening("opening-2", STUDENT.id, "deck-1", "start-7", False, "machine-2", NOON),
    LayerEdit("own-1", STUDENT.id, "deck-1", "start-7", "tempo", "72", "machine-1", NOON),
    LayerEdit("own-2", STUDENT.id, "deck-1", "start-7", "tempo", "", "machine-2", NOON),
)


def _contents(store: Store) -> tuple[object, ...]:
    return (
        store.log.attempts(STUDENT.id),
        store.log.attempts(STUDENT.id, "deck-2"),
        store.log.retractions(STUDENT.id),
        store.log.openings(STUDENT.id),
        store.log.layer_edits(STUDENT.id),
    )


@settings(unhurried, max_examples=25)
@given(
    order=st.permutations(EVENTS),
    again=st.lists(st.sampled_from(EVENTS)),
    cut=st.integers(0, len(EVENTS)),
)
def test_any_order_any_portions_any_repeats(
    order: Sequence[Event], again: list[Event], cut: int
) -> None:
    with TemporaryDirectory() as folder:
        with open_store(Path(folder) / "a.db") as store:
            store.students.save(STUDENT)
            store.log.append(*EVENTS)
            expected = _contents(store)
        with open_store(Path(folder) / "b.db") as store:
            store.students.save(STUDENT)
            new = store.log.append(*order[:cut], *order[:cut])
            new += store.log.append(*again) + store.log.append(*order[cut:])
            assert new == len(EVENTS)
            assert _contents(store) == expected


def test_what_is_read_back(store: Store) -> None:
    store.log.append(*EVENTS)
    attempts = store.log.attempts(STUDENT.id)
    assert [one.at for one in attempts] == sorted(one.at for one in attempts)
    assert len(attempts) == 8
    assert [one.id for one in store.log.attempts(STUDENT.id, "deck-2")] == ["attempt-7"]
    assert [one.id for one in store.log.retractions(STUDENT.id)] == ["retraction-2", "retraction-1"]
    assert len(standing(attempts, store.log.retractions(STUDENT.id))) == 6
    assert store.log.attempts("nobody") == ()


@pytest.mark.parametrize(
    "other",
    [
        attempt(1, outcome=Outcome.LOOKED),
        attempt(1, tempo=60.0),
        attempt(1, at=attempt(1).at.astimezone(UTC)),  # the same instant, elsewhere
        attempt(1, hints=("key",)),
        Retraction("retraction-1", "attempt-9", "machine-1", NOON),
    ],
)
def test_one_id_with_two_contents_is_refused_whole(store: Store, other: Event) -> None:
    store.log.append(attempt(1), attempt(2, id="x"), EVENTS[8])
    with pytest.raises(TrainerError, match="other contents"):
        store.log.append(attempt(30), other)
    assert [one.id for one in store.log.attempts(STUDENT.id)] == ["attempt-1", "x"]


def test_an_unknown_student_is_refused(store: Store) -> None:
    with pytest.raises(TrainerError, match="does not know the student"):
        store.log.append(attempt(1), attempt(2, student="nobody"))
    assert store.log.attempts(STUDENT.id) == ()


def test_a_retraction_may_come_before_its_attempt(store: Store) -> None:
    store.log.append(Retraction("r", "attempt-1", "machine-2", NOON))
    assert store.log.retractions(STUDENT.id) == ()
    store.log.append(attempt(1))
    assert standing(store.log.attempts(STUDENT.id), store.log.retractions(STUDENT.id)) == ()


def _filled(path: Path) -> sqlite3.Connection:
    """A connection that knows nothing of our settings, on a file with a row in each log."""
    with open_store(path) as store:
        store.students.save(STUDENT)
        store.pieces.add(piece(), "new")
        store.log.append(*EVENTS)
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute(
        "INSERT INTO joining (id, student, target, joined, machine, at, utc_offset)"
        " VALUES ('j', 'student-1', 'student-1', 1, 'm', 0, 0)"
    )
    raw.execute("INSERT INTO tombstone (id, machine, at) VALUES ('gone', 'm', 0)")
    raw.execute(
        "INSERT INTO differing (id, student, kind, event, content, at)"
        " VALUES ('d', 'student-1', 'attempt', 'attempt-1', '{}', 0)"
    )
    return raw


GROWING = (
    "attempt",
    "retraction",
    "opening",
    "layer_edit",
    "joining",
    "deck_edit",
    "deck_revision",
    "score",
    "machine",
    "differing",
    "tombstone",
)


@pytest.mark.parametrize("table", GROWING)
def test_nothing_is_changed_removed_or_replaced(tmp_path: Path, table: str) -> None:
    raw = _filled(tmp_path / "trainer.db")
    before = raw.execute(f"SELECT * FROM {table}").fetchall()
    assert before
    columns = [row[1] for row in raw.execute(f"PRAGMA table_info({table})")]
    but_seq = ", ".join(columns[1:])
    statements = [
        f"DELETE FROM {table}",
        f"REPLACE INTO {table} SELECT * FROM {table} LIMIT 1",
        f"REPLACE INTO {table} ({but_seq}) SELECT {but_seq} FROM {table} LIMIT 1",
        f"INSERT OR IGNORE INTO {table} SELECT * FROM {table} LIMIT 1",
        *(f"UPDATE {table} SET {column} = {column}" for column in columns),
        f"UPDATE OR REPLACE {table} SET {columns[1]} = 'x'",
        f"INSERT INTO {table} SELECT * FROM {table} WHERE true"
        f" ON CONFLICT DO UPDATE SET {columns[1]} = 'x'",
    ]
    refusal = f"{table} is never changed|nothing is (removed|replaced) (from|in) {table}"
    for statement in statements:
        with pytest.raises(sqlite3.IntegrityError, match=refusal):
            raw.execute(statement)
    assert raw.execute(f"SELECT * FROM {table}").fetchall() == before


def test_another_row_of_the_same_place_is_refused(tmp_path: Path) -> None:
    raw = _filled(tmp_path / "trainer.db")
    with pytest.raises(sqlite3.IntegrityError, match="replaced in retraction"):
        raw.execute("REPLACE INTO retraction VALUES (1, 'new', 'attempt-1', 'm', 0, 0, '')")
    with pytest.raises(sqlite3.IntegrityError, match="seq > 0"):
        raw.execute("INSERT INTO retraction VALUES (-1, 'new', 'attempt-1', 'm', 0, 0, '')")
