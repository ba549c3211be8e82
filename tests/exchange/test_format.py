"""The document and the schemas of the formats say what the program does."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import msgspec
import pytest

from tests.exchange.build import PIECE, machine, with_piece
from tests.make_schemas import DECKS, SCHEMAS, written
from trainer.deck import exchange, sound
from trainer.deck.file import DeckFile, parse_deck_file, read_deck
from trainer.record import file as record_file
from trainer.record.attempt import Outcome
from trainer.record.file import RecordFile
from trainer.score.cite import entry

DOCUMENT = (DECKS / "FORMAT.md").read_text("utf-8")


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_schemas_are_those_of_the_types(name: str) -> None:
    assert (DECKS / name).read_text("utf-8") == written(name), "run python -m tests.make_schemas"


def test_the_example_of_the_document_is_a_deck(tmp_path: Path) -> None:
    (example,) = re.findall(r"^```json\n(.*?)^```", DOCUMENT, re.M | re.S)
    piece = parse_deck_file(example.encode(), "FORMAT.md").piece
    assert [entry(piece.score, start.onset) for start in piece.deck.starts] == [
        "b. 1",
        "upbeat to b. 3",
    ]
    (tmp_path / "x.json").write_text(example)
    with machine(tmp_path / "a.db", "a") as desk:
        desk.pieces.take_in(desk.pieces.look_at(tmp_path / "x.json"))
        desk.pieces.take_in(desk.pieces.look_at(tmp_path / "x.json"))
        assert len(desk.store.pieces.history("by-hand-1")) == 1


def _fields(kind: type, seen: set[type]) -> set[str]:
    """The names of all fields in a format."""
    names = set()
    for part in _structs(msgspec.inspect.type_info(kind), set()):
        seen.add(part)
        names |= {field.encode_name for field in msgspec.structs.fields(part)}
    return names


def _structs(info: Any, seen: set[type]) -> set[type]:
    if isinstance(info, msgspec.inspect.StructType) and info.cls not in seen:
        seen.add(info.cls)
        for field in info.fields:
            _structs(field.type, seen)
    for inner in (getattr(info, "item_type", None), *getattr(info, "types", ())):
        if inner is not None:
            _structs(inner, seen)
    return seen


def test_every_field_of_a_deck_is_in_the_document() -> None:
    missing = {name for name in _fields(DeckFile, set()) if f"`{name}`" not in DOCUMENT}
    plain = {"format", "version", "count", "unit", "one", "other", "kind", "repeat", "source"}
    plain |= {"title", "words", "warnings", "mode", "starts", "route", "bars", "notes"}
    assert missing - plain - {"deck", "told", "edits"} == set()


def test_the_limits_are_those_of_the_document() -> None:
    for number in (
        exchange.MAX_BYTES,
        sound.MOST["deck.starts"],
        sound.MOST["score.bars"],
        sound.MOST["score.notes"],
        record_file.MOST_EVENTS,
        sound.MOST_TEXT,
        sound.LONGEST,
    ):
        assert f"{number:,}" in DOCUMENT


def test_what_is_written_keeps_to_the_schemas(tmp_path: Path) -> None:
    jsonschema = pytest.importorskip("jsonschema")
    with machine(tmp_path / "a.db", "a") as desk:
        with_piece(desk)
        student = desk.students.add("S")
        view = desk.views.of(student)
        desk.attempts.take_back(
            desk.attempts.add(view, view.decks[PIECE.deck.id], 1, Outcome.THROUGH)
        )
        texts = {
            "deck.schema.json": [
                desk.pieces.hand_out(PIECE.deck.id),
                desk.pieces.hand_out(PIECE.deck.id, notes=False),
                *(path.read_text("utf-8") for path in DECKS.glob("*.deck.json")),
            ],
            "record.schema.json": [desk.records.write(student)],
        }
    for name, found in texts.items():
        check = jsonschema.Draft202012Validator(json.loads(written(name)))
        for text in found:
            assert list(check.iter_errors(json.loads(text))) == []


def test_the_decks_that_come_with_the_program_are_sound() -> None:
    found = [read_deck(path) for path in sorted(DECKS.glob("*.deck.json"))]
    assert len(found) >= 6
    assert RecordFile.__struct_fields__ == ("format", "version", "record")
