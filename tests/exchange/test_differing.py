"""What comes in under a known id with other contents is not taken for what is here already: it is
said which event differs, the first one counts, and the other one is kept beside the log, once."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from itertools import permutations
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from tests.exchange.build import PIECE, machine, with_piece
from tests.pieces import NOON
from trainer.deck import edit
from trainer.deck.file import write_deck
from trainer.desk import Desk
from trainer.errors import TrainerError
from trainer.record.attempt import Outcome
from trainer.record.file import Record, write_record
from trainer.record.join import Joining
from trainer.store.records import Taken

OTHERS: dict[str, Callable[[Record], Record]] = {
    "attempt": lambda r: replace(
        r, attempts=(replace(r.attempts[0], outcome=Outcome.NOTHING), *r.attempts[1:])
    ),
    "retraction": lambda r: replace(
        r, retractions=(replace(r.retractions[0], attempt=r.attempts[1].id),)
    ),
    "opening": lambda r: replace(
        r, openings=(replace(r.openings[0], open=False), *r.openings[1:])
    ),
    "own change": lambda r: replace(r, layer=(replace(r.layer[0], value="otherwise"),)),
    "combining": lambda r: replace(
        r, joinings=(replace(r.joinings[0], at=NOON + timedelta(days=1)),)
    ),
}  # fmt: skip


def record(folder: Path) -> Record:
    """A record with something of every kind."""
    with machine(folder / "home.db", "h") as desk:
        with_piece(desk)
        student, alone = desk.students.add("S."), desk.students.add("alone")
        view = desk.views.of(student)
        deck = view.decks[PIECE.deck.id]
        for start in (1, 2, 3):
            desk.attempts.add(view, deck, start, Outcome.THROUGH)
        desk.attempts.take_back(desk.store.log.attempts(student.id)[0])
        desk.pieces.set_open(student, deck, [1, 2], opened=True)
        desk.own.set(student, deck, deck.starts[0], {"words": "sing"})
        desk.store.log.append(Joining("joining-1", alone.id, student.id, True, "h", NOON))
        return desk.store.records.of(student.id)


def take(desk: Desk, found: Record) -> Taken:
    return desk.records.take_in(write_record(found).encode(), "x", join=True)[1]


def beside(desk: Desk) -> list[tuple[str, str]]:
    """The kinds and contents of what is kept beside the log."""
    with closing(sqlite3.connect(desk.store.path)) as raw:
        return sorted(raw.execute("SELECT kind, content FROM differing").fetchall())


@pytest.mark.parametrize("kind", OTHERS)
def test_the_first_counts_and_the_other_is_kept(tmp_path: Path, kind: str) -> None:
    found = record(tmp_path)
    other = OTHERS[kind](found)
    assert other != found
    with machine(tmp_path / "t.db", "t") as desk:
        take(desk, found)
        before = desk.records.write(desk.store.students.all()[0])
        assert take(desk, found).differing == ()
        for turn in range(3):
            taken = take(desk, other)
            assert len(taken.differing) == 1, kind
            assert taken.differing[0].startswith(f"{kind} ")
            assert taken.anything == (turn == 0)  # the second time it is known
        assert desk.records.write(desk.store.students.all()[0]) == before
        ((told, content),) = beside(desk)
        assert told == kind
        assert json.loads(content)
        (note,) = (one.what for one in desk.store.faults.find() if "other contents" in one.what)
        assert note.startswith(f"The {kind} ")


def test_nothing_is_lost_in_any_order(tmp_path: Path) -> None:
    """Three forms of one record: whichever comes first counts, and all three are there."""
    found = record(tmp_path)
    forms = (found, *(OTHERS[kind](found) for kind in ("attempt", "opening")))
    every = []
    for turn, order in enumerate(permutations(forms)):
        with machine(tmp_path / f"{turn}.db", f"n{turn}") as desk:
            for one in (*order, *order):
                take(desk, one)
            kept = desk.store.records.of(desk.store.students.all()[0].id)
            assert kept == order[0]
            events = {("attempt", one.id, one.outcome.value) for one in kept.attempts}
            events |= {("opening", one.id, str(one.open)) for one in kept.openings}
            for kind, content in beside(desk):
                told = json.loads(content)
                said = told["outcome"] if kind == "attempt" else str(told["open"])
                events.add((kind, told["id"], said))
            every.append(events)
    assert len(every) == 6
    assert all(events == every[0] for events in every)


def test_two_contents_in_one_file(tmp_path: Path) -> None:
    found = record(tmp_path)
    twice = replace(found, attempts=(*found.attempts, OTHERS["attempt"](found).attempts[0]))
    with machine(tmp_path / "t.db", "t") as desk:
        assert len(take(desk, twice).differing) == 1
        assert len(desk.store.log.attempts(desk.store.students.all()[0].id)) == 3


@pytest.mark.parametrize("statement", ["UPDATE differing SET content = '{}'",
                                       "DELETE FROM differing"])  # fmt: skip
def test_it_only_grows(tmp_path: Path, statement: str) -> None:
    found = record(tmp_path)
    with machine(tmp_path / "t.db", "t") as desk:
        take(desk, found)
        take(desk, OTHERS["attempt"](found))
    with closing(sqlite3.connect(tmp_path / "t.db")) as raw, pytest.raises(sqlite3.IntegrityError):
        raw.execute(statement)


def test_it_is_erased_with_its_student(tmp_path: Path) -> None:
    found = record(tmp_path)
    other = replace(found, layer=(replace(found.layer[0], value="Quillon-sings"),))
    with machine(tmp_path / "t.db", "t") as desk:
        take(desk, found)
        take(desk, other)
        desk.store.backups.make("by hand")
        desk.store.erasing.erase(desk.store.students.all()[0])
        assert beside(desk) == []
    (tmp_path / "home.db").unlink()
    data = b"".join(file.read_bytes() for file in tmp_path.rglob("*") if file.is_file())
    assert b"Quillon-sings" not in data


def deck_file(folder: Path, change: Callable[[dict[str, Any]], None] | None = None) -> Path:
    """The deck as it was handed out, with two edits; changed by hand."""
    with machine(folder / "maker.db", "maker") as desk:
        if not desk.store.pieces.all():
            with_piece(desk)
            desk.pieces.edit(
                PIECE.deck.id, lambda piece: edit.relabel(piece, 1, "first"), "label 1"
            )
        data = json.loads(desk.pieces.hand_out(PIECE.deck.id))
    if change:
        change(data)
    file = folder / "deck.json"
    file.write_text(json.dumps(data))
    return file


def test_an_edit_of_a_deck(tmp_path: Path) -> None:
    def otherwise(data: dict[str, Any]) -> None:
        data["edits"][0]["why"] = "something else"

    with machine(tmp_path / "t.db", "t") as desk:
        assert desk.pieces.take_in(desk.pieces.look_at(deck_file(tmp_path))) == ()
        history = desk.store.pieces.history(PIECE.deck.id)
        for _ in range(2):
            assert desk.pieces.take_in(desk.pieces.look_at(deck_file(tmp_path, otherwise))) == (
                history[0].id,
            )
            assert desk.store.pieces.history(PIECE.deck.id) == history
            ((kind, content),) = beside(desk)
            assert kind == "deck edit"
            assert json.loads(content)["why"] == "something else"
        (note,) = (one.what for one in desk.store.faults.find() if "other contents" in one.what)
        assert history[0].id in note


def test_another_deck_under_the_id_of_a_known_edit_is_no_older_form(tmp_path: Path) -> None:
    def otherwise(data: dict[str, Any]) -> None:
        del data["edits"][1]
        data["edits"][-1]["id"] = last

    with machine(tmp_path / "t.db", "t") as desk:
        desk.pieces.take_in(desk.pieces.look_at(deck_file(tmp_path)))
        last = desk.store.pieces.history(PIECE.deck.id)[-1].id
        with machine(tmp_path / "maker.db", "again") as maker:
            maker.store.pieces.undo(PIECE.deck.id)
        with pytest.raises(TrainerError, match="kept here with other contents"):
            desk.pieces.take_in(desk.pieces.look_at(deck_file(tmp_path, otherwise)))
        assert [kind for kind, _ in beside(desk)] == ["deck edit"]
        assert desk.store.pieces.deck(PIECE.deck.id).starts[0].label == "first"


def test_a_file_that_tells_no_edits_is_the_same_at_any_hour(tmp_path: Path) -> None:
    """What stands for its edits has the hour at which it was read."""
    file = tmp_path / "bare.json"
    file.write_text(write_deck(PIECE))
    for hours in (0, 5):
        with machine(tmp_path / "t.db", f"t{hours}", hours=hours) as desk:
            assert desk.pieces.take_in(desk.pieces.look_at(file)) == ()
            assert beside(desk) == []
