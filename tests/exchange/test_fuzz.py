"""Strangers' files: whatever is in them, they are taken in whole and can be used, or refused in
one clean sentence. `FUZZ=20000` in the environment sets how many inputs each test tries."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from tests.exchange.build import machine, with_piece
from tests.pieces import lines_of, piece_of, tune
from trainer.deck.compare import compare, sentence
from trainer.deck.file import Found, parse_deck_file, write_deck
from trainer.deck.model import identity
from trainer.deck.page import page_span
from trainer.deck.route import phrase_route
from trainer.desk import Desk
from trainer.draw.layout import Style
from trainer.draw.map import piece_map
from trainer.draw.page import drawing, spoken
from trainer.draw.text import clean
from trainer.errors import TrainerError
from trainer.record.attempt import Outcome, Witness
from trainer.record.file import Record, parse_record
from trainer.record.layer import What
from trainer.record.people import ProgrammeItem, Recital
from trainer.reports.registry import REPORTS
from trainer.score.cite import entry
from trainer.score.model import Score
from trainer.values import decode

INPUTS = int(os.environ.get("FUZZ", "300"))
many = settings(
    max_examples=INPUTS,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)

PIECE = piece_of(tune(4, upbeat=True, repeat=2), [0, 4, 8])


def _sent() -> tuple[str, str]:
    """A deck file and a record file with something in every list."""
    with TemporaryDirectory() as place, machine(Path(place) / "a.db", "a") as desk:
        with_piece(desk, PIECE)
        student, alone = desk.students.add("A. [b]"), desk.students.add("alone")
        view = desk.views.of(student)
        deck = view.decks[PIECE.deck.id]
        for number in (1, 2):
            desk.attempts.add(
                view,
                deck,
                number,
                Outcome.THROUGH,
                hints=("key",),
                tempo=60.0,
                judge="heard",
                latency=1.5,
                heard=Witness(Outcome.ELSEWHERE, deck.starts[0].id, Fraction(3), 1, 2, 3, 9, 0.7),
            )
        desk.attempts.take_back(desk.store.log.attempts(student.id)[0])
        desk.pieces.set_open(student, deck, [1, 2, 3], opened=True)
        words: dict[What, str] = {"fingering": "1-2-4", "words": "sing", "tempo": "72"}
        desk.own.set(student, deck, deck.starts[0], words)
        desk.own.set(student, deck, deck.starts[2], {"left out": "yes"})
        desk.own.add(desk.views.of(student), deck.id, Fraction(10))
        items = (ProgrammeItem(PIECE.deck.id),)
        desk.store.recitals.save(Recital("r", student.id, "Spring", view.day, items))
        desk.records.combine(alone, student)
        return desk.pieces.hand_out(PIECE.deck.id), desk.records.write(student)


DECK, RECORD = _sent()

odd_text = st.one_of(
    st.text(max_size=8),
    st.sampled_from(
        [
            "",
            "\x1b[2J",
            "\u202e",
            "../../x",
            "=1+1",
            "1/0",
            "7/2",
            "-1/3",
            "9" * 39,
            "n" * 2500,
            "🎵",
        ]
    ),
    st.sampled_from(["trainer deck", "s1", "a-00003", "2026-03-02", "0001-01-01T00:00:00+14:00"]),
)
odd = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-(2**70), 2**70),
        st.integers(-3, 300),
        st.floats(allow_nan=False, allow_infinity=False),
        odd_text,
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(odd_text, inner, max_size=3)
    ),
    max_leaves=6,
)


def places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The path of every value within a JSON value."""
    yield path
    if isinstance(value, list):
        value = dict(enumerate(value))
    for key, inner in value.items() if isinstance(value, dict) else ():
        yield from places(inner, (*path, key))


PLACES = {text: list(places(json.loads(text)))[1:] for text in (DECK, RECORD)}


@st.composite
def changed(draw: st.DrawFn, text: str) -> bytes:
    """A file of which one to three values were replaced, removed, doubled or moved."""
    whole = json.loads(text)
    for _ in range(draw(st.integers(1, 3))):
        *above, last = draw(st.sampled_from(PLACES[text]))
        inner = whole
        try:
            for key in above:
                inner = inner[key]
            inner[last]
        except (KeyError, IndexError, TypeError):
            continue
        if not isinstance(inner, dict | list):
            continue
        act = draw(st.sampled_from(["odd", "number", "number", "number", "remove", "double"]))
        if act == "odd":
            inner[last] = draw(odd)
        elif act == "number" and isinstance(inner[last], str):
            inner[last] = draw(st.fractions(-1, 12, max_denominator=3).map(str))
        elif act == "number" and isinstance(inner[last], int):
            inner[last] = draw(st.one_of(st.integers(-2, 12), st.integers(-10, 10_000)))
        elif act == "remove":
            del inner[last]
        elif act == "double" and isinstance(inner, list):
            inner.insert(draw(st.integers(0, len(inner))), inner[last])
        elif isinstance(inner, dict):
            inner[draw(odd_text)] = draw(odd)
    return json.dumps(_signed(whole)).encode()


def _signed(whole: Any) -> Any:
    """A deck file whose score has the digest that a stranger would compute for it."""
    try:
        score = decode(json.dumps(whole["score"]), Score, "x")
        whole["deck"]["score"] = identity(score)
    except (TrainerError, KeyError, TypeError, ValueError, OverflowError):
        pass
    return whole


@st.composite
def torn(draw: st.DrawFn, text: str) -> bytes:
    """The bytes of a file, cut short or with some of them overwritten."""
    data = bytearray(text.encode())
    rng = Random(draw(st.integers(0, 2**32)))
    for _ in range(draw(st.integers(0, 6))):
        data[rng.randrange(len(data))] = rng.randrange(256)
    return bytes(data[: draw(st.integers(0, len(data)))] if draw(st.booleans()) else data)


def files(text: str) -> st.SearchStrategy[bytes]:
    return st.one_of(
        changed(text), changed(text), changed(text), torn(text), st.binary(max_size=60)
    )


@contextmanager
def one_sentence() -> Iterator[None]:
    """A refusal is one short line, and what is not clean in it is cleaned where it is shown."""
    said = "-"
    try:
        yield
    except TrainerError as error:
        said = str(error)
    assert clean(said).isprintable()
    assert 0 < len(said.strip()) < 1000


def use_deck(found: Found) -> None:
    """All that is done with a piece that was taken in."""
    piece = found.piece
    phrase_route(piece.score, piece.deck.starts)
    for change in compare(PIECE, piece) + compare(piece, PIECE):
        assert clean(sentence(change)).isprintable()
    for start in piece.deck.starts:
        entry(piece.score, start.onset)
        begin, end = page_span(piece, start)
        with one_sentence():
            lines = drawing(piece.score, begin, end, Style(80, "english", False)).lines
            assert len(lines) < 100_000
            spoken(piece.score, begin, end)
    piece_map(piece, dict.fromkeys((s.id for s in piece.deck.starts), "untried"), here=None)
    again = write_deck(piece, found.edits, notes=bool(piece.score.notes))
    assert parse_deck_file(again.encode(), "x") == found


@many
@given(files(DECK))
def test_a_deck_file(data: bytes) -> None:
    with one_sentence():
        found = parse_deck_file(data, "x.json")
        event("taken in")
        use_deck(found)


@many
@given(files(RECORD))
def test_a_record_file(data: bytes) -> None:
    with one_sentence():
        parse_record(data, "x.json")
        event("taken in")


@settings(many, max_examples=max(20, INPUTS // 10))
@given(st.data())
def test_what_is_taken_in_can_be_used(data: st.DataObject) -> None:
    """Decks and records that are sound are kept, shown in every report and drilled."""
    with TemporaryDirectory() as place, machine(Path(place) / "a.db", "b") as desk:
        for text, take in ((DECK, _take_deck), (RECORD, _take_record)):
            for _ in range(3):
                with one_sentence():
                    take(desk, Path(place), data.draw(changed(text)))
                    event(take.__name__)
        for student in desk.store.students.all():
            view = desk.views.of(student)
            for report in REPORTS.values():
                with one_sentence():
                    lines_of(report(view, None))
            with one_sentence():
                desk.exercises.drill(view)
        assert not [one for one in desk.store.faults.find() if one.weight == "wrong"]


def _take_deck(desk: Desk, place: Path, data: bytes) -> None:
    (place / "deck.json").write_bytes(data)
    desk.pieces.take_in(desk.pieces.look_at(place / "deck.json"), take="file")


def _take_record(desk: Desk, _: Path, data: bytes) -> None:
    record: Record = desk.records.take_in(data, "x", join=True)[0]
    assert record.students
