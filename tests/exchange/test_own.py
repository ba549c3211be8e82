"""One student's own layer, from the command line to the drill, and over a newer deck."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from tests.cli.test_commands import run
from tests.command import Run
from tests.pieces import Clock, desk_at, piece_of, tune
from trainer.deck import edit
from trainer.deck.file import parse_deck, read_deck, write_deck
from trainer.deck.model import Piece, revision
from trainer.desk import Desk
from trainer.draw.hints import hint_text
from trainer.practice.exercise import Act
from trainer.record.attempt import Outcome
from trainer.record.file import parse_record
from trainer.reports.registry import REPORTS

__all__ = ["run"]  # the fixture

At = Callable[..., tuple[int, str, str]]
OTHERS = tuple("BCDEFGHI")
PIECE = piece_of(tune(32, title="Round [dance]"), range(0, 96, 12))


@pytest.fixture
def at(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> At:
    """Runs words at the teacher's, at the studio's, or at home; studio and home have the deck."""

    def at(who: str, *words: str) -> tuple[int, str, str]:
        monkeypatch.setenv("TRAINER_DB", str(tmp_path / f"{who}.db"))
        return run(*words)

    file = tmp_path / "round.json"
    file.write_text(write_deck(PIECE))
    for who in ("teacher", "studio", "home"):
        assert at(who, "deck", "in", str(file))[0] == 0
    return at


def told(at: At, *words: str) -> Any:
    code, out, err = at(*words, "--json")
    assert code == 0, err
    return json.loads(out)


def fingering(at: At, student: str, number: int) -> str:
    found = told(at, "studio", "start", "show", "1", str(number), "-s", student)
    return str(found["fingering"])


def test_a_small_hand_keeps_its_fingering_over_a_newer_deck(at: At, tmp_path: Path) -> None:
    for name in ("A", *OTHERS):
        at("studio", "student", "add", name)
    at("teacher", "start", "finger", "1", "6", "R 1-3-5")
    first = str(tmp_path / "first.json")
    at("teacher", "deck", "out", "1", first)
    assert at("studio", "deck", "in", first, "--yes")[0] == 0
    # A is nine and has a small hand.
    said = at("studio", "own", "1", "6", "--fingering", "R 1-2-4", "-s", "A")
    assert said[1].strip() == "Round [dance], start 6, b. 21, for A: own fingering R 1-2-4."
    assert fingering(at, "A", 6) == "R 1-2-4"
    assert {fingering(at, other, 6) for other in OTHERS} == {"R 1-3-5"}
    # The master goes on: start 7 is split, start 6 gets advice and other fingering.
    at("teacher", "start", "split", "1", "7", "27")
    at("teacher", "start", "advise", "1", "6", "let the wrist go")
    at("teacher", "start", "finger", "1", "6", "R 1-2-5")
    second = str(tmp_path / "second.json")
    at("teacher", "deck", "out", "1", second)
    assert at("studio", "deck", "in", second, "--yes")[0] == 0
    for name, theirs in (("A", "R 1-2-4"), *((other, "R 1-2-5") for other in OTHERS)):
        found = told(at, "studio", "start", "show", "1", "6", "-s", name)
        assert (found["fingering"], found["advice"]) == (theirs, ["let the wrist go"])
        assert len(told(at, "studio", "starts", "1", "-s", name)["rows"]) == 9
    assert "Your fingering: R 1-2-4" in at("studio", "start", "show", "1", "6", "-s", "A")[1]
    assert "Your" not in at("studio", "start", "show", "1", "6", "-s", "B")[1]
    # What is handed on is the teacher's deck, with nothing of A's.
    third = tmp_path / "third.json"
    at("studio", "deck", "out", "1", str(third))
    handed, master = (read_deck(Path(one)).deck for one in (third, second))
    assert revision(handed) == revision(master)


def test_the_layer_goes_home_in_the_record(at: At, tmp_path: Path) -> None:
    at("studio", "student", "add", "A")
    at("studio", "own", "1", "2", "--words", "sing", "--tempo", "66", "-s", "A")
    at("studio", "own", "1", "3", "--leave-out", "-s", "A")
    at("studio", "own", "1", "--add", "23:2", "-s", "A")
    file = str(tmp_path / "a.record.json")
    assert at("studio", "records", "out", file, "-s", "A")[0] == 0
    assert "words on the student's own" in at("home", "records", "in", file)[1]
    here, there = (told(at, who, "own", "1", "-s", "A") for who in ("studio", "home"))
    assert here == there
    assert [(row["start"], row["own"], row["value"]) for row in there["rows"]] == [
        (2, "words", "sing"),
        (2, "tempo", "crotchet = 66"),
        (3, "calls", "left out"),
        (9, "start", "added"),
    ]


def test_a_record_without_a_layer_is_one_that_older_programs_read(desk: Desk) -> None:
    student = desk.students.find()
    assert '"version": 1,' in desk.records.write(student)
    deck = desk.store.pieces.deck("deck")
    desk.own.set(student, deck, deck.starts[1], {"words": "sing"})
    text = desk.records.write(student)
    assert '"version": 2,' in text
    assert parse_record(text.encode(), "x").layer == desk.store.log.layer_edits(student.id)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("6", "--tempo", "5"), "not from 10 to 400 beats a minute: nothing was changed"),
        (("6", "--words", "n" * 2001), "more than 2,000 characters: nothing was changed"),
        (("60", "--words", "x"), "has no start 60; its starts are 1 to 8"),
        (("--words", "x"), "Say at which start"),
        (("--take-back",), "Say at which start"),
        (("6", "--add", "23"), "with --add"),
        (("6", "--take-back", "--tempo", "60"), "with --take-back"),
        (("--add", "21"), "Start 6 already begins at b. 21"),
        (("--add", "23:9"), "Bar 23 has no beat 9"),
        (("6", "-s", "nobody"), "no student"),
    ],
)
def test_what_is_refused(at: At, words: tuple[str, ...], says: str) -> None:
    code, out, err = at("home", "own", "1", *words)
    assert (code, out) == (1, "")
    assert says in err
    assert err.count("\n") == 1
    assert told(at, "home", "own", "1")["rows"] == []


def test_nothing_is_said_halfway(at: At) -> None:
    assert at("home", "own", "1", "6", "--words", "sing", "--tempo", "0")[0] == 1
    assert told(at, "home", "own", "1")["rows"] == []


def test_texts_are_data(at: At) -> None:
    at("home", "own", "1", "6", "--words", "[red]sing\x1b[2J\nlow")
    for words in (("own", "1"), ("own", "1", "6"), ("start", "show", "1", "6")):
        out = at("home", *words)[1]
        assert "[red]sing[2J low" in " ".join(out.split())
        assert "\x1b" not in out


def test_what_has_no_effect_is_listed_and_comes_back(at: At, tmp_path: Path) -> None:
    at("home", "own", "1", "6", "--words", "sing")
    at("home", "own", "1", "--add", "23:2")
    file = str(tmp_path / "x.json")
    at("teacher", "start", "merge", "1", "6")
    at("teacher", "start", "add", "1", "23:2")
    at("teacher", "deck", "out", "1", file)
    assert at("home", "deck", "in", file, "--yes")[0] == 0
    rows = {row["own"]: row for row in told(at, "home", "own", "1")["rows"]}
    assert rows["words"]["without_effect"] == "start 6 was joined to another in the deck"
    assert rows["start"]["without_effect"] == "the deck has start 6 there"
    assert (rows["start"]["place"], rows["start"]["start"]) == ("b. 23, beat 2", None)
    assert "Kept, but without effect" in at("home", "own", "1")[1]
    at("teacher", "start", "undo", "1")
    at("teacher", "start", "undo", "1")
    at("teacher", "deck", "out", "1", file, "--replace")
    assert at("home", "deck", "in", file, "--yes")[0] == 0
    assert {row["without_effect"] for row in told(at, "home", "own", "1")["rows"]} == {""}


def test_taking_back(at: At) -> None:
    at("home", "own", "1", "6", "--words", "sing", "--tempo", "60")
    at("home", "own", "1", "6", "--leave-out")
    at("home", "own", "1", "6", "--leave-in", "--tempo", "")
    assert [row["own"] for row in told(at, "home", "own", "1")["rows"]] == ["words"]
    assert "as in the teacher's deck" in at("home", "own", "1", "6", "--take-back")[1]
    at("home", "own", "1", "--add", "23:2")
    assert "its attempts are kept" in at("home", "own", "1", "9", "--take-back")[1]
    assert told(at, "home", "own", "1")["rows"] == []


# At the desk


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A desk with one piece of eight starts, all open to its one student."""
    made = desk_at(tmp_path / "a.db", Clock())
    made.pieces.keep(PIECE, "test")
    made.pieces.set_open(made.students.find(), PIECE.deck, range(1, 9), opened=True)
    return made


def leave_out(desk: Desk, number: int) -> None:
    student = desk.students.find()
    deck = desk.views.of(student).decks["deck"]
    desk.own.set(student, deck, edit.numbered(deck, number), {"left out": "yes"})


def test_a_start_left_out_is_not_drawn_and_not_counted(desk: Desk) -> None:
    leave_out(desk, 3)
    view = desk.views.of(desk.students.find())
    drawn = {call.number for call in desk.exercises.drill(view).calls}
    assert 3 not in drawn
    assert drawn == {slot_number(view, slot.start) for slot in view.plan.slots}
    assert len(view.open) == 7
    assert "deck-s3" not in view.next_calls
    desk.attempts.add(view, view.decks["deck"], 3, Outcome.NOTHING)
    view = desk.views.of(view.student)
    for report in ("retention", "pieces"):
        assert [row for row in REPORTS[report](view, None).rows if "deck-s3" in row] == []
    assert REPORTS["pieces"](view, None).rows[0][3:5] == (7, 7)
    assert view.decks["deck"].route == PIECE.deck.route  # pages, route and recovery have it
    other = desk.views.of(desk.students.add("B"))
    assert other.left_out == frozenset()


def slot_number(view: Any, start: str) -> int:
    return int(view.decks["deck"].start(start).number)


def test_an_added_start_is_drilled_and_its_tries_are_evidence(desk: Desk) -> None:
    view = desk.views.of(desk.students.find())
    start = desk.own.add(view, "deck", Fraction(18))
    view = desk.views.of(view.student)
    assert start in view.open  # the phrase that it divides is
    assert start in {slot.start for slot in view.plan.slots}
    session = desk.exercises.drill(view)
    while session.call and session.call.spot.id != start:
        session = desk.exercises.act(session, Act.NOTHING)
    desk.exercises.act(session, Act.THROUGH)
    after = desk.views.of(view.student)
    assert after.retention(start).tries == 1
    # The try names a form of the deck that is kept here, not the student's own.
    logged = {one.revision for one in desk.store.log.attempts(view.student.id)}
    assert logged == {revision(PIECE.deck)}
    assert revision(after.decks["deck"]) not in logged


def test_a_run_through_and_a_note_name_the_teachers_deck(desk: Desk) -> None:
    view = desk.views.of(desk.students.find())
    desk.own.add(view, "deck", Fraction(18))
    view = desk.views.of(view.student)
    desk.exercises.act(desk.exercises.run(view, "deck"), Act.END)
    desk.attempts.add(view, view.decks["deck"], 9, Outcome.THROUGH)
    logged = desk.store.log.attempts(view.student.id)
    assert [one.revision for one in logged] == [revision(PIECE.deck)] * 2


def test_the_same_place_again_is_the_same_start_again(desk: Desk) -> None:
    view = desk.views.of(desk.students.find())
    start = desk.own.add(view, "deck", Fraction(18))
    view = desk.views.of(view.student)
    desk.attempts.add(view, view.decks["deck"], 9, Outcome.THROUGH)
    view = desk.views.of(view.student)
    desk.own.take_back(view, "deck", view.decks["deck"].start(start))
    assert len(desk.views.of(view.student).decks["deck"].starts) == 8
    assert desk.own.add(desk.views.of(view.student), "deck", Fraction(18)) == start
    assert desk.views.of(view.student).retention(start).tries == 1


def test_the_hint_tells_the_students_own_fingering(desk: Desk) -> None:
    student = desk.students.find()
    desk.pieces.edit("deck", lambda piece: edit.finger(piece, 2, "R 1-3-5"), "finger 2")
    desk.own.set(student, PIECE.deck, PIECE.deck.starts[1], {"fingering": "R 1-2-4"})
    for who, theirs in ((student, "R 1-2-4"), (desk.students.add("B"), "R 1-3-5")):
        piece = desk.views.of(who).pieces["deck"]
        assert hint_text(piece, piece.deck.starts[1], "fingering") == theirs


def test_a_later_word_wins_though_the_clock_was_put_back(desk: Desk) -> None:
    student, start = desk.students.find(), PIECE.deck.starts[1]
    desk.own.set(student, PIECE.deck, start, {"words": "before"})
    assert isinstance(desk.clock, Clock)
    desk.clock.now -= timedelta(days=3)
    desk.own.set(student, PIECE.deck, start, {"words": "after"})
    assert desk.views.of(student).own("deck", start.id).words == "after"


def returning() -> Piece:
    """A piece whose bars 25 to 32 are its bars 1 to 8 once more; its starts are 1 to 6, of which
    the last has both bars of its own and those."""
    score = tune(32, title="Round")
    first = [note for note in score.notes if note.onset < 24]
    again = (replace(note, onset=note.onset + 72) for note in first)
    notes = (*(note for note in score.notes if note.onset < 72), *again)
    return piece_of(replace(score, notes=notes), range(0, 72, 12), "round")


def test_an_added_start_has_its_look_alikes(desk: Desk) -> None:
    piece = returning()
    desk.pieces.keep(piece, "test")
    student = desk.students.find()
    desk.pieces.set_open(student, piece.deck, range(1, 7), opened=True)
    assert piece.deck.kin("round-s1") == ("round-s6",)
    own = desk.own.add(desk.views.of(student), "round", Fraction(72))
    view = desk.views.of(student)
    for deck in (view.decks["round"], view.pieces["round"].deck):
        assert deck.kin("round-s1") == (own,)
        assert deck.kin(own) == ("round-s1",)
        # As if the teacher had added it for everybody.
        added = edit.add(piece, Fraction(72), own)
        assert deck.alike == added.alike
    # Nobody else has it, and the teacher's deck has not changed.
    assert desk.views.of(desk.students.add("B.")).decks["round"] == piece.deck
    # Two look-alikes are not begun with on one day; the drill of look-alikes has both.
    both = {own, "round-s1"}
    assert len(both & {call.spot.id for call in desk.exercises.drill(view).calls}) == 1
    drill = desk.exercises.drill(view, kind="look-alikes", deck="round")
    assert both == {call.spot.id for call in drill.calls}
    (row,) = REPORTS["look-alikes"](view, "round").rows
    assert row[1:3] == (1, 7)


def test_without_the_notes_nothing_can_be_alike_to_an_added_start(desk: Desk) -> None:
    piece = returning()
    (linked,) = edit.add(piece, Fraction(72), "round-x").alike
    piece = Piece(edit.add(piece, Fraction(72), "round-x"), piece.score)
    bare = parse_deck(write_deck(piece, notes=False).encode(), "x")
    desk.pieces.keep(bare, "test")
    student = desk.students.find()
    desk.own.add(desk.views.of(student), "round", Fraction(78))
    assert desk.views.of(student).decks["round"].alike == (linked,)


def test_a_score_is_read_only_once_for_added_starts(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    student = desk.students.find()
    desk.own.add(desk.views.of(student), "deck", Fraction(18))
    desk.views.of(student)
    read: list[str] = []
    piece = desk.store.pieces.get

    def watched(deck_id: str) -> Any:
        read.append(deck_id)
        return piece(deck_id)

    monkeypatch.setattr(desk.store.pieces, "get", watched)
    assert len(desk.views.of(student).decks["deck"].starts) == 9
    assert read == []
    desk.own.add(desk.views.of(student), "deck", Fraction(90))
    read.clear()
    view = desk.views.of(student)
    assert view.pieces["deck"].deck == view.decks["deck"]
    assert read == ["deck"]
