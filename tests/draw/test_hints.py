"""Hints: what can be asked for at a call, and in which order."""

from fractions import Fraction

import pytest

from tests.pieces import piece_of, tune
from trainer.deck import edit
from trainer.deck.file import read_deck
from trainer.deck.model import Piece
from trainer.demo import bundled, demo_pieces
from trainer.draw.hints import HINTS, count_in, hint_names, hint_text, hints_of
from trainer.score.cite import AMERICAN, BRITISH, value_word
from trainer.score.model import Meter


@pytest.mark.parametrize(
    ("meter", "parts", "syllables"),
    [
        ((2, 4), 1, "1 2"),
        ((3, 4), 2, "1 & 2 & 3 &"),
        ((4, 4), 4, "1 e & a 2 e & a 3 e & a 4 e & a"),
        ((6, 8), 3, "1 & a 2 & a"),
        ((9, 8), 3, "1 & a 2 & a 3 & a"),
        ((5, 8), 1, "1 2 3 4 5"),
    ],
)
def test_count_in(meter: tuple[int, int], parts: int, syllables: str) -> None:
    """Syllables: common practice, no source."""
    assert " ".join(count_in(Meter(*meter), parts)) == syllables


def test_every_start_of_the_demo_has_its_key_its_harmony_and_its_first_notes() -> None:
    for piece in demo_pieces():
        for start in piece.deck.starts:
            found = dict(hints_of(piece, start))
            assert list(found) == [name for name in HINTS if name in found]
            assert {"key and count", "harmony", "first hand position"} <= set(found)
            assert all(found.values())


def test_the_song_has_words_and_the_players_advice_is_a_hint() -> None:
    ferry = next(piece for piece in demo_pieces() if "Ferry" in piece.deck.title)
    assert "words" in hint_names(ferry, ferry.deck.starts[1])
    plain = piece_of(tune(8), [0])
    assert "advice" not in hint_names(plain, plain.deck.starts[0])
    assert "words" not in hint_names(plain, plain.deck.starts[0])


def demo_piece(name: str) -> Piece:
    return next(piece for piece in demo_pieces() if name in piece.deck.title)


def test_a_key_in_german_names() -> None:
    mist = demo_piece("Mist")
    start = mist.deck.starts[0]
    assert hint_text(mist, start, "key and count", "german").startswith("e-Moll, 4/4")
    assert hint_text(mist, start, "key and count", "fixed do").startswith("Mi minor, 4/4")
    assert hint_text(mist, start, "harmony", "german").startswith("e-Moll (i)")
    assert hint_text(mist, start, "no hint") == ""


def test_a_tempo_is_told_in_felt_beats_and_in_the_players_words() -> None:
    """The score says 90 quarters a minute in 9/8: 60 dotted quarters."""
    rain, mist = demo_piece("Rain"), demo_piece("Mist")
    start = rain.deck.starts[0]
    assert hint_text(rain, start, "character") == "dotted crotchet = 60, p"
    american = hint_text(rain, start, "character", words=AMERICAN)
    assert american == "dotted quarter note = 60, p"
    words = hint_text(mist, mist.deck.starts[0], "character")
    assert words == "Very slow, like mist lifting, crotchet = 52, p"


def test_what_the_harmony_told_is_not_told_again() -> None:
    """Where a hand strikes the notes of the block, only its printed fingers are new."""
    mist, rain = demo_piece("Mist"), demo_piece("Rain")
    one, two = mist.deck.starts[:2]
    for start in (one, two):
        assert "right hand E4 G4; left hand E3 B3" in hint_text(mist, start, "harmony")
    position = "first hand position"
    assert hint_text(mist, one, position) == "right hand: fingers 2 4; left hand: fingers 5 1"
    assert hint_text(mist, two, position) == "the notes of the harmony"
    assert hint_text(rain, rain.deck.starts[0], position) == "right hand: C4(1); left hand: A♭2(5)"


@pytest.mark.parametrize(
    ("length", "british", "american"),
    [
        (Fraction(1, 4), "semiquaver", "sixteenth note"),
        (Fraction(1, 2), "quaver", "eighth note"),
        (Fraction(3, 4), "dotted quaver", "dotted eighth note"),
        (Fraction(1), "crotchet", "quarter note"),
        (Fraction(2), "minim", "half note"),
        (Fraction(3), "dotted minim", "dotted half note"),
        (Fraction(4), "semibreve", "whole note"),
        (Fraction(5, 2), "", ""),
    ],
)
def test_note_values(length: Fraction, british: str, american: str) -> None:
    """Common practice, no source."""
    assert value_word(length, BRITISH) == british
    assert value_word(length, AMERICAN) == american


def test_a_singer_is_told_what_the_others_strike_before_the_entry() -> None:
    """The pianist's last chord before the voice comes in; the teacher's words outrank it."""
    piece = read_deck(bundled("decks") / "the-late-ferry.deck.json")
    entries = [s for s in piece.deck.starts if hint_text(piece, s, "cue")]
    assert entries
    told = hint_text(piece, entries[0], "cue")
    assert told.startswith("before it the others strike ")
    assert "cue" in hint_names(piece, entries[0])
    cued = Piece(edit.cue(piece, entries[0].number, "a breath with the pianist"), piece.score)
    assert hint_text(cued, cued.deck.starts[entries[0].number - 1], "cue") == (
        "a breath with the pianist"
    )
