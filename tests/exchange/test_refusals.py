"""A file that is refused says which field is wrong, and in what way."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from tests.exchange.build import machine, with_piece
from tests.pieces import piece_of, tune
from trainer.deck.file import parse_deck_file, write_deck
from trainer.deck.model import Piece, identity
from trainer.errors import TrainerError
from trainer.record.attempt import Outcome, Witness
from trainer.record.file import parse_record
from trainer.record.people import ProgrammeItem, Recital
from trainer.score.model import Mark, Score, Staff

PIECE = piece_of(tune(8), [0, 12])
NOTE = PIECE.score.notes[3]
EDIT = {"id": "e", "revision": "r", "parent": "", "machine": "m", "why": "new"} | {
    "at": "2026-03-02T12:00:00Z"
}


def put(data: Any, path: str, value: Any) -> None:
    """Set the value at a path such as "score.notes.3.pitch"; a list grows by one at its end."""
    *above, last = path.split(".")
    for key in above:
        data = data[int(key)] if isinstance(data, list) else data[key]
    if isinstance(data, list):
        data[int(last) : int(last) + 1] = [value]
    else:
        data[last] = value


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        ("score.notes.3.pitch", NOTE.pitch + 1, f"score.notes[3].pitch is {NOTE.pitch + 1}, but"),
        ("score.notes.3.octave", 5, f"which sounds as {NOTE.pitch + 12} on its staff"),
        ("score.notes.3.alter", 1, f"say {NOTE.step}#4, which sounds as {NOTE.pitch + 1} on"),
        ("score.notes.3.alter", 5, "score.notes[3].alter is not from -4 to 4"),
        ("score.notes.3.pitch", 128, "score.notes[3].pitch is not from 0 to 127"),
        ("score.notes.3.octave", 13, "score.notes[3].octave is not from -2 to 12"),
        ("score.notes.3.step", "H", "score.notes[3].step is not one of the letters A to G"),
        ("score.notes.3.onset", "1", "score.notes[3].onset is before that of the note before it"),
        ("score.notes.23.onset", "99", "score.notes[23].onset is not from 0 to 24, where the bars"),
        ("score.notes.3.onset", "-1", "score.notes[3].onset"),
        ("score.notes.3.length", "-1", "score.notes[3].length is not from 0 to 10000"),
        ("score.notes.3.staff", 7, "score.notes[3].staff is 7, which is not in score.staves"),
        ("score.notes.3.voice", "v" * 41, "score.notes[3].voice has more than 40 characters"),
        ("score.notes.3.fingers", ["1"] * 21, "score.notes[3].fingers has more than 20 entries"),
        (
            "score.rests",
            [{"onset": "99", "length": "1", "staff": 0}],
            "score.rests[0].onset is not",
        ),
        ("score.rests", [{"onset": "0", "length": "1", "staff": 4}], "score.rests[0].staff is 4"),
        ("score.marks", [{"kind": "page", "onset": "99"}], "score.marks[0].onset is not from 0 to"),
        (
            "score.marks",
            [{"kind": "slur", "onset": "3", "end": "2"}],
            "score.marks[0].end is before",
        ),
        (
            "score.marks",
            [{"kind": "tempo", "onset": "0", "value": 0}],
            "score.marks[0].value is no",
        ),
        (
            "score.marks",
            [{"kind": "transposition", "onset": "0", "staff": 0, "value": 1.5}],
            "score.marks[0].value is no whole number of semitones from -60 to 60",
        ),
        ("score.bars.2.mode", "m" * 41, "score.bars[2].mode has more than 40 characters"),
        ("score.bars.2.endings", [0], "score.bars[2].endings has other passes than 1 to 99"),
        ("score.bars.2.repeat_times", 21, "score.bars[2].repeat_times is not from 0 to 20"),
        ("score.bars.2.label", "7" * 101, "score.bars[2].label has a text of more than 100"),
        ("score.staves.1", {"number": 0, "part": ""}, "score.staves[1].number is 0, as a staff"),
        ("deck.id", "", "deck.id is empty"),
        ("deck.id", "n" * 101, "deck.id has more than 100 characters"),
        ("deck.starts.1.id", "söng 1", 'deck.starts[1].id is "söng 1"; an id has letters A'),
        ("deck.starts.1.id", "two words", "such as - or _, but no space"),
        ("deck.starts.1.id", "a\x1b[2J", 'deck.starts[1].id is "a\ufffd[2J"'),
        ("deck.starts.1.id", "deck-s1", 'deck.starts[1].id is "deck-s1", as deck.starts[0].id is'),
        ("deck.starts.1.label", "n" * 2001, "deck.starts[1].label has a text of more than 2,000"),
        ("deck.starts.1.advice", ["a", "n" * 2001], "deck.starts[1].advice[1] has a text of more"),
        ("deck.starts.1.advice", ["a"] * 51, "deck.starts[1].advice has more than 50"),
        ("deck.starts.1.onset", "0", "deck.starts[1].onset is not after that of the start before"),
        ("deck.starts.1.onset", "24", "deck.starts[1].onset is not from 0 on and before 24"),
        ("deck.starts.0.onset", "-1", "deck.starts[0].onset is not from 0 on and before 24"),
        ("deck.starts.1.number", 3, "deck.starts[1].number is not 2: numbers run on"),
        ("deck.route.1", "deck-s9", 'deck.route[1] is "deck-s9", a start that is not in'),
        (
            "deck.former",
            [{"id": "deck-s1", "number": 1, "onset": "3", "fate": "removed"}],
            'deck.former[0].id is "deck-s1", which is in deck.starts',
        ),
        (
            "deck.former",
            [{"id": "old", "number": 1, "onset": "3", "fate": "merged", "into": "gone"}],
            'deck.former[0].into is "gone", a start that is not in the deck',
        ),
        (
            "deck.told",
            [{"one": "deck-s1", "other": "deck-s1", "alike": True}],
            "deck.told[0] says that a start is alike to itself",
        ),
        (
            "deck.alike",
            [{"one": "deck-s1", "other": "deck-s7", "kind": "same"}],
            'deck.alike[0].other is "deck-s7", a start that is not in deck.starts',
        ),
        ("edits", [EDIT | {"id": "e 1"}], 'edits[0].id is "e 1"; an id has'),
        ("edits", [EDIT, EDIT], 'edits[1].id is "e", as edits[0].id is'),
        ("edits", [EDIT | {"at": "2026-03-02T12:00:00"}], "edits[0].at lacks its offset from UTC"),
        ("edits", [EDIT | {"why": "n" * 2001}], "edits[0].why has a text of more than 2,000"),
    ],
)
def test_a_deck_names_the_field(path: str, value: Any, says: str) -> None:
    data = json.loads(write_deck(PIECE))
    put(data, path, value)
    data["deck"]["score"] = ""
    with pytest.raises(TrainerError) as caught:
        parse_deck_file(json.dumps(data).encode(), "x.json")
    assert str(caught.value).startswith("x.json: ")
    assert says in str(caught.value)
    assert str(caught.value).isprintable()


def transposed(shift: int, **more: Any) -> bytes:
    """A deck whose staff sounds otherwise than it is written."""
    score = PIECE.score
    notes = tuple(replace(note, pitch=note.pitch + shift) for note in score.notes)
    staves = (Staff(0, "clarinet", transposition=shift),)
    return signed(replace(score, staves=staves, notes=notes, **more))


def signed(score: Score) -> bytes:
    return write_deck(Piece(replace(PIECE.deck, score=identity(score)), score)).encode()


def test_a_transposing_staff_sounds_elsewhere() -> None:
    piece = parse_deck_file(transposed(-2), "x").piece
    data = json.loads(transposed(-2))
    data["score"]["staves"][0]["transposition"] = 0
    data["deck"]["score"] = ""
    with pytest.raises(TrainerError, match=r"score\.notes\[0\]\.pitch is"):
        parse_deck_file(json.dumps(data).encode(), "x")
    # Where the player changes the instrument, both are right.
    later = tuple(
        replace(note, pitch=note.pitch - 1) if note.onset >= 12 else note
        for note in piece.score.notes
    )
    with pytest.raises(
        TrainerError, match=r"score\.notes\[12\]\.pitch .* `trainer add FILE --again`"
    ):
        parse_deck_file(signed(replace(piece.score, notes=later)), "x")
    mark = Mark("transposition", PIECE.score.bars[4].start, staff=0, value=-3.0)
    both = replace(piece.score, notes=later, marks=(mark,))
    assert parse_deck_file(signed(both), "x").piece.score == both


def test_an_older_deck_tells_a_transposition_over_notes_as_they_sound() -> None:
    """Earlier versions read MIDI, ABC and **kern like that."""
    score = replace(PIECE.score, staves=(Staff(0, "clarinet", transposition=-2),))
    assert parse_deck_file(signed(score), "x").piece.score == score


def sent(place: Path) -> Any:
    """A record with something in every list, as JSON."""
    with machine(place / "a.db", "a") as desk:
        with_piece(desk)
        student, alone = desk.students.add("A."), desk.students.add("alone")
        view = desk.views.of(student)
        (deck,) = view.decks.values()
        heard = Witness(Outcome.THROUGH, notes=9, sure=0.7)
        for _ in range(2):
            desk.attempts.add(view, deck, 1, Outcome.THROUGH, judge="heard", heard=heard)
        desk.attempts.take_back(desk.store.log.attempts(student.id)[0])
        desk.pieces.set_open(student, deck, [1], opened=True)
        desk.own.set(student, deck, deck.starts[0], {"tempo": "72"})
        items = (ProgrammeItem(deck.id),)
        desk.store.recitals.save(Recital("r", student.id, "Spring", view.day, items))
        desk.records.combine(alone, student)
        return json.loads(desk.records.write(student))


@pytest.mark.parametrize(
    ("path", "value", "says"),
    [
        ("students.0.student.id", "", "record.students[0].student.id is empty"),
        ("students.0.student.name", " ", "record.students[0].student.name is empty; initials"),
        ("students.0.student.minutes", 1441, "record.students[0].student.minutes is not from"),
        ("students.0.student.week", [1], "record.students[0].student.week has other than seven"),
        ("students.0.edited", "2026-03-02T12:00:00", "record.students[0].edited lacks its offset"),
        ("attempts.1.id", "my id", 'record.attempts[1].id is "my id"; an id has letters'),
        ("attempts.1.start", "", "record.attempts[1].start is empty"),
        ("attempts.1.student", "no", 'record.attempts[1].student is "no", who is not in record.s'),
        ("attempts.1.at", "2026-03-02T12:00:00", "record.attempts[1].at lacks its offset from UTC"),
        ("attempts.1.at", "1800-03-02T12:00:00Z", "record.attempts[1].at is not from 1900 to 2200"),
        ("attempts.1.day", "2026-01-01", "record.attempts[1].day is not the practice day"),
        ("attempts.1.tempo", 0, "record.attempts[1].tempo is not over 0"),
        ("attempts.1.latency", -1, "record.attempts[1].latency is not from 0 to 100000000"),
        ("attempts.1.broke_at", "-1", "record.attempts[1].broke_at is not a place in the score"),
        ("attempts.1.hints", ["key"] * 51, "record.attempts[1].hints has more than 50 entries"),
        ("attempts.1.hints", ["n" * 2001], "record.attempts[1].hints has a text of more than"),
        ("attempts.1.heard.sure", 2, "record.attempts[1].heard.sure is not from 0 to 1"),
        ("attempts.1.heard.extra", -1, "record.attempts[1].heard.extra is not from 0 to 100000"),
        ("attempts.1.elsewhere", "n" * 2001, "record.attempts[1].elsewhere has a text of more"),
        ("openings.0.machine", "n" * 2001, "record.openings[0].machine has a text of more than"),
        ("retractions.0.attempt", "ä", 'record.retractions[0].attempt is "ä"'),
        ("layer.0.value", "5000", "record.layer[0] has a tempo that is not from 10 to 400"),
        ("joinings.0.into", "", "record.joinings[0].into is empty"),
        ("joinings.0.student", "no", 'record.joinings[0].student is "no", who is not in'),
        ("recitals.0.recital.student", "no", 'record.recitals[0].recital.student is "no"'),
        ("recitals.0.recital.programme", [{"deck": "d"}] * 201, "programme has more than 200"),
        (
            "recitals.0.recital.programme",
            [{"deck": "n" * 2001}],
            "record.recitals[0].recital.programme[0].deck has a text of more than 2,000",
        ),
    ],
)
def test_a_record_names_the_field(tmp_path: Path, path: str, value: Any, says: str) -> None:
    data = sent(tmp_path)
    put(data["record"], path, value)
    with pytest.raises(TrainerError) as caught:
        parse_record(json.dumps(data).encode(), "x.json")
    assert says in str(caught.value)
    assert str(caught.value).startswith("x.json")


def test_a_joining_of_one_and_the_same(tmp_path: Path) -> None:
    data = sent(tmp_path)
    joining = data["record"]["joinings"][0]
    joining["into"] = joining["student"]
    with pytest.raises(TrainerError, match=r"record\.joinings\[0\]\.into is the same student"):
        parse_record(json.dumps(data).encode(), "x.json")
