"""Look-alikes of a deck: found, linked, unlinked, and kept through edits."""

from fractions import Fraction

import pytest
from msgspec.structs import replace

from tests.pieces import piece_of, tune
from trainer.deck import edit
from trainer.deck.model import Piece
from trainer.errors import TrainerError
from trainer.score.model import Note, Score

STEPS = {60: "C", 62: "D", 64: "E", 65: "F", 67: "G", 69: "A", 71: "B", 72: "C"}
OPENING = [60, 64, 67, 65, 62, 71]
ENDS = ([72, 69, 65], [62, 60, 60], [67, 71, 69], [65, 65, 64])


def rondo() -> Score:
    """Four phrases of three bars: the first and the third open alike for two bars."""
    other = [67, 60, 60, 72, 71, 62]
    line = [*OPENING, *ENDS[0], *other, *ENDS[1], *OPENING, *ENDS[2], *reversed(other), *ENDS[3]]
    notes = tuple(
        Note(Fraction(q), Fraction(1), pitch, STEPS[pitch], 0, pitch // 12 - 1, 0)
        for q, pitch in enumerate(line)
    )
    return replace(tune(12), notes=notes)


@pytest.fixture
def piece() -> Piece:
    return piece_of(rondo(), [0, 9, 18, 27])


def test_the_returning_opening_is_found_and_where_it_parts(piece: Piece) -> None:
    (like,) = [one for one in piece.deck.alike if one.kind == "same"]
    assert (like.one, like.other) == ("deck-s1", "deck-s3")
    assert (like.parts_one, like.parts_other) == (Fraction(6), Fraction(24))
    assert like.parts_from("deck-s3") == 24
    assert like.words
    assert piece.deck.kin("deck-s1") == ("deck-s3",)


def test_a_persons_word_outranks_what_was_found(piece: Piece) -> None:
    apart = edit.link(piece, 3, 1, alike=False)
    assert apart.kin("deck-s1") == ()
    linked = edit.link(Piece(apart, piece.score), 2, 4)
    assert linked.kin("deck-s4") == ("deck-s2",)
    again = edit.link(Piece(linked, piece.score), 1, 3)
    assert again.kin("deck-s1") == ("deck-s3",)
    with pytest.raises(TrainerError, match="itself"):
        edit.link(piece, 2, 2)


def test_edits_keep_what_was_told_and_look_again(piece: Piece) -> None:
    linked = Piece(edit.link(piece, 2, 4), piece.score)
    moved = edit.remove(linked, 3)
    assert moved.kin("deck-s1") == ("deck-s2",)  # the opening now comes again inside phrase 2
    assert set(moved.kin("deck-s2")) == {"deck-s1", "deck-s4"}
    assert edit.remove(linked, 4).kin("deck-s2") == ()
