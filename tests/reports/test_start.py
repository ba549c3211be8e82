"""Everything about one start."""

import json
import re
from collections.abc import Sequence
from datetime import date, timedelta
from fractions import Fraction
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.draw.scores import note, score
from tests.memory.build import at, attempt
from tests.pieces import piece_of, tune
from trainer.deck.model import Piece
from trainer.document.lines import as_lines, as_speech
from trainer.document.model import Document, Section
from trainer.draw.text import cells
from trainer.draw.words import NO_NOTES
from trainer.memory.readiness import recovery
from trainer.practice.cautions import WIDE
from trainer.record.attempt import Attempt, Outcome
from trainer.record.log import Written
from trainer.record.people import Level, Opening, ProgrammeItem, Recital, Student
from trainer.reports.start import About, Tried, about, as_data, basis, figures, ways_back
from trainer.reports.start_sections import document
from trainer.reports.view import View
from trainer.score.cite import AMERICAN

DAY = 20.0  # days after the first tries


def view_of(
    piece: Piece,
    attempts: Sequence[Attempt],
    *,
    level: Level = "adult",
    recital: int | None = 12,
    programme: Sequence[str] = ("d",),
    now: float = DAY,
) -> View:
    """A view of one piece, all its starts open; the recital is so many days off."""
    made = [replace(one, deck=piece.deck.id) for one in attempts]
    machine = "m"
    opened = [
        Opening(f"o{start.id}", "p", piece.deck.id, start.id, True, machine, at(-1))
        for start in piece.deck.starts
    ]
    items = tuple(ProgrammeItem(deck) for deck in programme)
    day = at(now).date() + timedelta(days=recital or 0)
    recitals = () if recital is None else (Recital("r", "p", "Concert", day, items),)
    student = Student("p", "M.", level=level)
    decks, pieces = {piece.deck.id: piece.deck}, {piece.deck.id: piece}
    return View(student, at(now), decks, pieces, Written(made), tuple(opened), recitals)


def study(starts: int = 4, **fields: object) -> Piece:
    return piece_of(tune(4 * starts, **fields), range(0, 12 * starts, 12), "d")  # type: ignore[arg-type]


def history(start: int, outcomes: str, *, every: float = 4.0) -> list[Attempt]:
    """Tries of one start on different days, by the first letters of their outcomes; those of
    another start are half an hour away."""
    letters = {outcome.value[0]: outcome for outcome in Outcome}
    return [
        attempt(every * n + start / 48, f"d-s{start}", letters[letter])
        for n, letter in enumerate(outcomes)
    ]


class Told(NamedTuple):
    """A section as it is written; what stands above all sections is called "stands"."""

    title: str
    lines: list[str]


def told(
    found: About, piece: Piece, width: int = 76, *, ascii: bool = False, listen: bool = False
) -> dict[str, Told]:
    made = document(found, piece)
    sections = [block for block in made.blocks if isinstance(block, Section)]
    stands = Document("", "", tuple(block for block in made.blocks if block not in sections))
    shown = {"stands": Told("", as_lines(stands, width=width, ascii=ascii)[2:])}
    for one in sections:
        alone = Document("", "", (one,))
        lines = as_speech(alone) if listen else as_lines(alone, width=width, ascii=ascii)
        if told := [line.removeprefix("  ") for line in lines if line][1:]:
            shown[one.key] = Told(one.title, told)
    return shown


def words(section: Told) -> str:
    return " ".join(line.strip() for line in section.lines)


def test_cold_tries_stand_apart_from_the_others() -> None:
    piece = study()
    tries = [
        attempt(0, "d-s2", Outcome.THROUGH),
        attempt(0.01, "d-s2", Outcome.NOTHING),
        attempt(2, "d-s1", Outcome.THROUGH),
        attempt(2.001, "d-s2", Outcome.THROUGH),
        attempt(
            5, "d-s2", Outcome.BROKE_OFF, broke_at=Fraction(16), judge="teacher", hints=("advice",)
        ),
        attempt(7, "d-s2", Outcome.ELSEWHERE, elsewhere="d-s4", hands="left", tempo=60.0),
        attempt(9, "d-s2", Outcome.THROUGH, drill="run-through"),
    ]
    found = about(view_of(piece, tries), "d", "d-s2")
    assert [one.said for one in found.cold] == [
        "elsewhere, begun at start 4",
        "broke off at b. 6, beat 2",
        "through",
    ]
    assert [(one.said, one.aside) for one in found.others] == [
        ("through", "in a run-through"),
        ("through", "just after the music before it"),
        ("nothing", "again that day"),
    ]
    lines = told(found, piece)["tries"].lines
    assert lines[0] == "9 Mar: elsewhere, begun at start 4; left hand alone; crotchet = 60"
    assert lines[1] == "7 Mar: broke off at b. 6, beat 2; hints: advice; judged by the teacher"


def test_the_figures_are_those_of_memory() -> None:
    piece = study()
    view = view_of(piece, history(2, "tbttt"))
    found = about(view, "d", "d-s2")
    assert found.both == view.retention("d-s2")
    assert found.start == view.retention("d-s2", "start")
    assert found.join == view.retention("d-s2", "join")
    assert [one.day for one in found.ahead] == [view.day + timedelta(days=n) for n in range(13)]
    chances = [one.start for one in found.ahead if one.start is not None]
    assert chances[0] == found.start.chance
    assert chances[-1] == found.start_then.chance
    assert chances == sorted(chances, reverse=True)  # nothing more is played
    strip = told(found, piece)["strip"]
    assert strip.title == "To Concert, 3 Apr, with no more practice"
    assert "22 Mar" in strip.lines[-1]
    assert strip.lines[-1].endswith("3 Apr, Concert")


def test_a_start_tried_today_is_shown_from_tomorrow_on() -> None:
    piece = study()
    view = view_of(piece, [*history(2, "ttttt"), attempt(DAY - 0.01, "d-s2")])
    found = about(view, "d", "d-s2")
    assert found.ahead[0].start == found.ahead[1].start == view.retention("d-s2", "start").chance
    assert found.why_today == ""


def test_without_a_recital_four_weeks_are_foretold() -> None:
    piece = study()
    found = about(view_of(piece, history(2, "ttt"), recital=None), "d", "d-s2")
    assert len(found.ahead) == 29
    assert found.occasion == ""
    assert told(found, piece)["strip"].lines[-1].endswith("▲ 19 Apr")


def test_a_recital_is_named_only_where_the_piece_is_played() -> None:
    found = about(view_of(study(), history(2, "ttt"), programme=["other"]), "d", "d-s2")
    assert (found.occasion, found.day) == ("", date(2026, 4, 3))


def test_a_recital_far_off_foretells_no_more_than_a_year() -> None:
    piece = study()
    found = about(view_of(piece, history(2, "ttt"), recital=900), "d", "d-s2")
    assert len(found.ahead) == 367
    assert "Concert" not in words(told(found, piece)["strip"])


def test_its_place_in_the_recovery_map() -> None:
    """Only start 3 holds: slips of the phrases before it land there, and none behind it."""
    piece = study()
    tries = [
        *history(1, "nnnnn"),
        *history(2, "nnnnn"),
        *history(3, "tttttttt"),
        *history(4, "nnnnn"),
    ]
    view = view_of(piece, tries)
    assert [view.retention(f"d-s{n}").band == "holds" for n in range(1, 5)] == [
        False, False, True, False,
    ]  # fmt: skip
    third, first = about(view, "d", "d-s3"), about(view, "d", "d-s1")
    assert third.lands == (1, 2)
    assert [(one.number, one.lost) for one in first.onward] == [(3, 8)]
    assert [one.number for one in third.onward] == [None]
    assert words(told(third, piece)["recovery"]) == (
        "After a slip in phrases 1 and 2: go on from here. "
        "After a slip in this phrase: there is no secure start ahead."
    )
    assert "go on from 3, b. 9; up to 8 bars lost" in words(told(first, piece)["recovery"])


def test_recovery_agrees_with_the_map_of_it_pass_by_pass() -> None:
    """Phrases 1 and 2 are repeated: from the first pass the way leads back to start 1."""
    piece = study(repeat=8)
    assert piece.deck.route == ("d-s1", "d-s2", "d-s1", "d-s2", "d-s3", "d-s4")
    tries = [
        *history(1, "tttttttt"),
        *history(2, "nnnnn"),
        *history(3, "nnnnn"),
        *history(4, "tttttttt"),
    ]
    view = view_of(piece, tries)
    found = about(view, "d", "d-s2")
    assert [(one.times, one.number, one.lost) for one in found.onward] == [
        ((1,), 1, 4), ((2,), 4, 8),
    ]  # fmt: skip
    told_of = words(told(found, piece)["recovery"])
    assert "this phrase the 1st time: go on from 1, b. 1" in told_of
    at_soonest = view.instant(1)
    catches = recovery(piece, view.beliefs, at_soonest)
    assert ways_back(view, "d") == catches
    by_phrase = {(piece.deck.route[catch.step], catch.start) for catch in catches}
    for start in piece.deck.starts:
        known = about(view, "d", start.id, catches)
        assert known == about(view, "d", start.id)
        leading = {phrase for phrase, back in by_phrase if back == start.id}
        assert known.lands == tuple(s.number for s in piece.deck.starts if s.id in leading)


def test_look_alikes_and_what_it_was_taken_for() -> None:
    line = [note(n, 1, name) for n, name in enumerate(["C4", "D4", "E4", "G4", "A4", "G4"])]
    again = [replace(one, onset=one.onset + 16) for one in line]
    other = [note(8 + n, 2, name) for n, name in enumerate(["B4", "A4"])]
    piece = piece_of(score([*line, *other, *again], bars=8, staves=1), [0, 8, 16, 24], "d")
    mixed = [
        attempt(1, "d-s1", Outcome.ELSEWHERE, elsewhere="d-s3"),
        attempt(3, "d-s1", Outcome.ELSEWHERE, elsewhere="d-s3"),
        attempt(5, "d-s2", Outcome.ELSEWHERE, elsewhere="d-s1"),
    ]
    found = about(view_of(piece, mixed), "d", "d-s1")
    assert [(one.number, one.kind, one.taken, one.given) for one in found.alike] == [
        (3, "same", 2, 0),
        (2, "confused", 0, 1),
    ]
    text = words(told(found, piece)["alike"])
    assert "played instead of this one twice" in text
    assert "this one played instead of it once" in text


def test_a_child_is_told_places_not_chances() -> None:
    piece = study()
    tries = [*history(1, "tttn"), *history(2, "tbnt"), *history(3, "ttttt"), *history(4, "tn")]
    levels: tuple[Level, ...] = ("adult", "child")
    for level in levels:
        view = view_of(piece, tries, level=level)
        found = [about(view, "d", start.id) for start in piece.deck.starts]
        lines = [
            line
            for one in found
            for listen in (False, True)
            for name, section in told(one, piece, listen=listen).items()
            if name != "page"
            for line in section.lines
        ]
        chances = [line for line in lines if re.search(r"\d%|\d of \d|\(\d", line)]
        assert bool(chances) == (level == "adult")
    known = {start.id: view.retention(start.id) for start in piece.deck.starts}
    assert figures(view, known) is None


def test_few_tries_are_counted_not_rated() -> None:
    piece = study()
    view = view_of(piece, [*history(1, "tb"), *history(2, "tbt")])
    assert basis(view.retention("d-s1", "start")) == "2 of 2"
    known = {start.id: view.retention(start.id) for start in piece.deck.starts}
    assert basis(known["d-s1"]) == "1 of 2"  # the join too
    assert basis(known["d-s2"]).endswith("%") is False
    assert basis(known["d-s2"]).endswith(", 3 attempts")
    assert basis(known["d-s3"]) == "not tried cold yet"
    shown = figures(view, known)
    assert shown == {
        "d-s1": "1 of 2",
        "d-s2": known["d-s2"].chance,
        "d-s3": None,
        "d-s4": None,
    }
    first = told(about(view, "d", "d-s1"), piece)["strip"].lines[0]
    assert "1 of 2" in first
    assert "%" not in first


def test_a_wide_reach_is_never_shown_without_its_caution() -> None:
    def of(top: str) -> tuple[About, Piece]:
        notes = [note(0, 4, "C5"), note(0, 4, "C3", 1), note(0, 4, top, 1)]
        piece = piece_of(score(notes), [0], "d")
        return about(view_of(piece, []), "d", "d-s1"), piece

    wide, narrow = of("E4"), of("C4")
    assert (wide[0].wide, narrow[0].wide) == (True, False)
    for listen in (False, True):
        assert words(told(*wide, listen=listen)["hands"]).endswith(WIDE)
        assert WIDE not in words(told(*narrow, listen=listen)["hands"])


def test_a_keyboard_is_drawn_only_where_there_is_one() -> None:
    piece = study()
    assert "hands" not in told(about(view_of(piece, []), "d", "d-s1"), piece)


def test_a_deck_without_its_notes_says_so() -> None:
    piece = study()
    bare = Piece(piece.deck, replace(piece.score, notes=()))
    found = about(view_of(bare, history(1, "ttt")), "d", "d-s1")
    assert words(told(found, bare)["page"]) == NO_NOTES
    assert "hands" not in told(found, bare)


def test_nothing_tried_and_not_open() -> None:
    piece = study()
    view = replace_openings(view_of(piece, []))
    found = about(view, "d", "d-s1")
    shown = told(found, piece)
    assert shown["stands"].lines == ["? untried; not open, so it is not called."]
    assert not {"history", "strip", "tries"} & set(shown)
    assert shown["recovery"].lines == ["Nothing in this piece has been tried yet."]


def replace_openings(view: View) -> View:
    return View(view.student, view.now, view.decks, view.pieces, view.log)


def test_text_of_a_person_stays_text() -> None:
    piece = study()
    first = replace(piece.deck.starts[0], advice=("[b]thumb\x1b[31m\non C[/b]",), label="\x07bell")
    made = Piece(replace(piece.deck, starts=(first, *piece.deck.starts[1:])), piece.score)
    shown = told(about(view_of(made, []), "d", "d-s1"), made)
    assert all(line.isprintable() for section in shown.values() for line in section.lines)
    assert "[b]thumb[31m on C[/b]" in words(shown["words"])


def test_american_words_for_places() -> None:
    piece = study()
    view = view_of(piece, [attempt(0, "d-s2", Outcome.BROKE_OFF, broke_at=Fraction(16))])
    found = about(replace_words(view), "d", "d-s2")
    assert found.place == "m. 5"
    assert found.cold[0].said == "broke off at m. 6, beat 2"


def replace_words(view: View) -> View:
    return View(view.student, view.now, view.decks, view.pieces, view.log, words=AMERICAN)


def test_everything_is_there_for_programs() -> None:
    view = view_of(study(), history(2, "tb"), level="child")
    data = json.loads(json.dumps(as_data(about(view, "d", "d-s2")), default=str))
    assert set(data) == {"report", *About.__struct_fields__}
    assert set(data["cold"][0]) == set(Tried.__struct_fields__)
    assert data["start"]["basis"] == "2 of 2"
    assert 0 < data["start"]["chance"] < 1


def test_an_unknown_start() -> None:
    with pytest.raises(KeyError):
        about(view_of(study(), []), "d", "no such start")


PIECE = study()
OUTCOMES = st.text("tsblne", max_size=14)


@given(st.integers(40, 120), st.booleans(), st.lists(OUTCOMES, min_size=4, max_size=4))
def test_every_line_fits(width: int, ascii: bool, tried: list[str]) -> None:
    tries = [one for n, outcomes in enumerate(tried, 1) for one in history(n, outcomes, every=1.4)]
    view = view_of(PIECE, tries)
    for start in PIECE.deck.starts:
        shown = told(about(view, "d", start.id), PIECE, width, ascii=ascii)
        lines = [line for section in shown.values() for line in section.lines]
        assert all(cells(line) <= width for line in lines)
        assert not ascii or all(line.isascii() for line in lines)
