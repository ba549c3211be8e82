"""Edits of a deck: ids stay, numbers follow the score, nothing is forgotten."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.pieces import piece_of, tune
from trainer.deck import edit
from trainer.deck.compare import compare
from trainer.deck.model import Piece
from trainer.errors import TrainerError


@pytest.fixture
def piece() -> Piece:
    return piece_of(tune(16), [0, 12, 24, 36])


def test_starts_are_numbered_in_score_order(piece: Piece) -> None:
    assert [start.number for start in piece.deck.starts] == [1, 2, 3, 4]
    assert piece.deck.route == tuple(start.id for start in piece.deck.starts)


def test_add_renumbers_what_follows_and_keeps_ids(piece: Piece) -> None:
    deck = edit.add(piece, Fraction(18), "new")
    assert [(s.number, s.id) for s in deck.starts] == [
        (1, "deck-s1"), (2, "deck-s2"), (3, "new"), (4, "deck-s3"), (5, "deck-s4"),
    ]  # fmt: skip
    assert deck.route[2] == "new"


def test_split_knows_its_parent(piece: Piece) -> None:
    deck = edit.split(piece, 2, Fraction(18), "new")
    assert deck.start("new").parent == "deck-s2"
    with pytest.raises(TrainerError, match="does not lie within phrase 2"):
        edit.split(piece, 2, Fraction(30), "new")


def test_move_keeps_the_id_and_may_change_the_number(piece: Piece) -> None:
    deck = edit.move(piece, 1, Fraction(40))
    assert [start.id for start in deck.starts] == ["deck-s2", "deck-s3", "deck-s4", "deck-s1"]
    with pytest.raises(TrainerError, match="already"):
        edit.move(piece, 1, Fraction(12))


def test_what_goes_is_remembered(piece: Piece) -> None:
    removed = edit.remove(piece, 2)
    assert [(f.id, f.fate) for f in removed.former] == [("deck-s2", "removed")]
    merged = edit.merge(piece, 3)
    assert [(f.id, f.fate, f.into) for f in merged.former] == [("deck-s3", "merged", "deck-s2")]
    assert "deck-s3" not in merged.route
    with pytest.raises(TrainerError, match="first"):
        edit.merge(piece, 1)


def test_the_last_start_stays() -> None:
    with pytest.raises(TrainerError, match="only one"):
        edit.remove(piece_of(tune(4), [0]), 1)


def test_places_outside_are_refused(piece: Piece) -> None:
    with pytest.raises(TrainerError, match="not in Study"):
        edit.add(piece, Fraction(48), "new")
    with pytest.raises(TrainerError, match="no start 9"):
        edit.remove(piece, 9)


def test_renumber_from_a_later_movement(piece: Piece) -> None:
    deck = edit.renumber(piece, 17)
    later = edit.remove(Piece(deck, piece.score), 18)
    assert [start.number for start in later.starts] == [17, 18, 19]


def test_a_hand_made_route_survives_edits(piece: Piece) -> None:
    deck = edit.reroute(piece, [1, 2, 1, 2, 3, 4])
    assert deck.following("deck-s2") == ("deck-s1", "deck-s3")
    more = edit.split(Piece(deck, piece.score), 2, Fraction(18), "new")
    assert [s.split("-")[-1] for s in more.route] == [
        "s1",
        "s2",
        "new",
        "s1",
        "s2",
        "new",
        "s3",
        "s4",
    ]
    back = edit.reroute(Piece(more, piece.score), [])
    assert len(back.route) == 5


EDITS = st.lists(
    st.tuples(st.sampled_from(["add", "move", "remove", "merge", "split"]), st.integers(1, 8),
              st.integers(0, 50)),
    max_size=12,
)  # fmt: skip


@given(EDITS)
def test_any_edits_leave_a_sound_deck_that_forgets_no_id(
    edits: list[tuple[str, int, int]],
) -> None:
    piece = piece_of(tune(16), [0, 12, 24, 36])
    ids = {start.id for start in piece.deck.starts}
    for count, (kind, number, quarter) in enumerate(edits):
        onset, new_id = Fraction(quarter), f"new{count}"
        try:
            match kind:
                case "add":
                    deck = edit.add(piece, onset, new_id)
                case "move":
                    deck = edit.move(piece, number, onset)
                case "remove":
                    deck = edit.remove(piece, number)
                case "merge":
                    deck = edit.merge(piece, number)
                case _:
                    deck = edit.split(piece, number, onset, new_id)
        except TrainerError:
            continue
        piece = Piece(deck, piece.score)
        ids |= {start.id for start in deck.starts}
    deck = piece.deck
    assert [s.number for s in deck.starts] == list(range(1, len(deck.starts) + 1))
    assert [s.onset for s in deck.starts] == sorted({s.onset for s in deck.starts})
    assert set(deck.route) == {s.id for s in deck.starts}
    assert ids == {s.id for s in deck.starts} | {f.id for f in deck.former}


def test_a_cue_is_kept_compared_and_a_persons_word() -> None:
    piece = piece_of(tune(16), range(0, 48, 12))
    cued = Piece(edit.cue(piece, 2, "the piano's last chord"), piece.score)
    assert cued.deck.starts[1].cue == "the piano's last chord"
    (change,) = compare(piece, cued)
    assert change.kind == "cue"
    assert "the piano's last chord" in change.words
    assert edit.cue(cued, 2, "") == piece.deck
