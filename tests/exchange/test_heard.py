"""What an instrument heard travels with the try, within bounds, and older files are still read."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from sqlite_utils import Database, Migrations

from tests.exchange.build import PIECE, machine, with_piece
from tests.store.build import open_store
from trainer.errors import TrainerError
from trainer.record.attempt import Outcome, Witness
from trainer.record.file import parse_record, write_record
from trainer.store import schema

HEARD = Witness(Outcome.BROKE_OFF, broke_at=Fraction(7, 2), wrong=2, missed=1, notes=31, sure=0.8)


def _record(folder: Path, heard: Witness | None) -> str:
    with machine(folder / "a.db", "a") as desk:
        with_piece(desk)
        student = desk.students.add("S")
        view = desk.views.of(student)
        deck = view.decks[PIECE.deck.id]
        desk.attempts.add(view, deck, 1, Outcome.STOPPED, latency=2.25, heard=heard)
        return desk.records.write(student)


def test_a_heard_try_is_carried_whole(tmp_path: Path) -> None:
    text = _record(tmp_path, HEARD)
    record = parse_record(text.encode(), "x")
    assert [one.heard for one in record.attempts] == [HEARD]
    assert write_record(record) == text
    with machine(tmp_path / "b.db", "b") as desk:
        desk.records.take_in(text.encode(), "x")
        assert desk.records.write(desk.students.find()) == text


def test_only_a_record_with_heard_tries_asks_for_a_newer_program(tmp_path: Path) -> None:
    (tmp_path / "one").mkdir()
    assert '"version": 1,' in _record(tmp_path / "one", None)
    assert '"version": 3,' in _record(tmp_path, HEARD)


def test_a_record_of_before_is_read_as_ever(tmp_path: Path) -> None:
    text = _record(tmp_path, None)
    assert "heard" not in text
    (one,) = parse_record(text.encode(), "x").attempts
    assert one.heard is None


def test_a_try_that_was_counted_in_days_is_taken_in(tmp_path: Path) -> None:
    text = _record(tmp_path, HEARD).replace("2.25", "200000.0")
    (one,) = parse_record(text.encode(), "x").attempts
    assert one.latency == 200_000


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"wrong": -1}, "heard.wrong is not from 0 to 100000"),
        ({"notes": 100_001}, "heard.notes is not from 0 to 100000"),
        ({"extra": 2**70}, "heard"),
        ({"missed": 0.5}, "heard.missed"),
        ({"sure": 1.01}, "heard.sure is not from 0 to 1"),
        ({"sure": -0.1}, "heard.sure is not from 0 to 1"),
        ({"broke_at": "-1"}, "heard.broke_at is not a place in the score"),
        ({"broke_at": "1/1000001"}, "heard.broke_at is not a place in the score"),
        ({"outcome": "perfect"}, "heard.outcome"),
        ({"elsewhere": "x" * 2001}, "2,000"),
        ({"loudness": 3}, "loudness"),
    ],
)
def test_a_strangers_witness_is_bounded(tmp_path: Path, changes: dict[str, Any], says: str) -> None:
    whole = json.loads(_record(tmp_path, HEARD))
    whole["record"]["attempts"][0]["heard"] |= changes
    with pytest.raises(TrainerError) as caught:
        parse_record(json.dumps(whole).encode(), "x.json")
    assert says in str(caught.value)
    assert str(caught.value).isprintable()


def test_a_database_of_before_is_brought_up_to_date(tmp_path: Path) -> None:
    """Its tries are as they were, and heard ones come beside them."""
    path = tmp_path / "a.db"
    before = Migrations("trainer")
    names = [name for name, _ in schema.STEPS]
    for name, step in schema.STEPS[: names.index("heard")]:
        before(name=name)(step)
    db = Database(path, execute_plugins=False, strict=True)
    before.apply(db)
    db.executescript(
        'INSERT INTO student VALUES (1, \'s\', \'{"id":"s","name":"A"}\', 5);'
        "INSERT INTO attempt VALUES (1, 'a', 's', 'd', 'rev', 'x', 'm', 0, 0, '1970-01-01',"
        " 'through', 'cold', 'heard', 'both', NULL, '[]', '', NULL, NULL, 2.5, '');"
    )
    db.close()
    with open_store(path) as store:
        (old,) = store.log.attempts("s")
        assert (old.latency, old.heard) == (2.5, None)
        assert [one for one in store.faults.find() if one.weight == "wrong"] == []
    with closing(sqlite3.connect(path)) as raw, pytest.raises(sqlite3.IntegrityError):
        raw.execute("UPDATE attempt SET heard = '{}'")
