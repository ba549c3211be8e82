"""A draft: any edits, all undone, give back the deck; redone, they give it as it was edited."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.make_decks import DECKS
from tests.pieces import piece_of, tune
from trainer.deck import draft as drafts
from trainer.deck import edit
from trainer.deck.draft import Change, Draft
from trainer.deck.file import parse_deck, read_deck, write_deck
from trainer.deck.model import Piece
from trainer.errors import TrainerError
from trainer.phrases.model import Density
from trainer.phrases.segment import propose
from trainer.score.model import Score

PIECE = piece_of(tune(16), [0, 12, 24, 36])

SPARSE = propose(PIECE.score, "fewer")
DENSE = propose(PIECE.score, "more")
OPEN = frozenset({"deck-s1", "deck-s3"})

ACTS = st.lists(
    st.tuples(
        st.sampled_from(
            [
                *("add", "split", "move", "remove", "merge", "label", "finger", "advise"),
                *("link", "unlink", "accept", "fewer", "more", "open", "undo", "redo"),
            ]
        ),
        st.integers(1, 6),
        st.integers(0, 47),
    ),
    max_size=12,
)


def change_of(kind: str, number: int, quarter: int, new_id: str) -> Change:
    onset = Fraction(quarter)
    changes: dict[str, Change] = {
        "add": lambda p: edit.add(p, onset, new_id),
        "split": lambda p: edit.split(p, number, onset, new_id),
        "move": lambda p: edit.move(p, number, onset),
        "remove": lambda p: edit.remove(p, number),
        "merge": lambda p: edit.merge(p, number),
        "label": lambda p: edit.relabel(p, number, f"name {quarter}"),
        "finger": lambda p: edit.finger(p, number, f"R {quarter}"),
        "advise": lambda p: edit.advise(p, number, (f"word {quarter}",)),
        "link": lambda p: edit.link(p, number, 1 + quarter % 4),
        "unlink": lambda p: edit.link(p, number, 1 + quarter % 4, alike=False),
        "accept": lambda p: edit.accept(p, p.deck.alike),
        "fewer": lambda p: edit.respace(p, SPARSE, _ids(new_id, len(SPARSE))),
        "more": lambda p: edit.respace(p, DENSE, _ids(new_id, len(DENSE))),
    }
    return changes[kind]


def played(acts: list[tuple[str, int, int]]) -> Draft:
    draft = drafts.begin(PIECE, OPEN)
    for count, (kind, number, quarter) in enumerate(acts):
        if kind in ("undo", "redo"):
            draft = drafts.undo(draft) if kind == "undo" else drafts.redo(draft)
        elif kind == "open":
            draft = drafts.turn(draft, draft.now.deck.starts[0].id)
        else:
            try:
                draft = drafts.edit(draft, change_of(kind, number, quarter, f"new{count}-"), kind)
            except TrainerError:
                continue
    return draft


@given(ACTS)
def test_undoing_all_gives_back_the_deck_and_redoing_what_was(
    acts: list[tuple[str, int, int]],
) -> None:
    draft = played(acts)
    back = draft
    for _ in draft.past:
        back = drafts.undo(back)
    assert back.now == back.saved == drafts.begin(PIECE, OPEN).now
    assert not back.changed
    assert back.why == ""
    assert not back.opened | back.closed
    for _ in draft.past:
        back = drafts.redo(back)
    assert back.now == draft.now
    assert back.past == draft.past


@given(ACTS)
def test_any_form_of_a_draft_is_a_sound_deck(acts: list[tuple[str, int, int]]) -> None:
    """It may be kept and handed out: the file it makes is read again as the same deck."""
    piece = played(acts).piece
    again = parse_deck(write_deck(piece).encode(), "the file")
    assert again == piece


def test_an_edit_that_changes_nothing_is_none() -> None:
    draft = drafts.begin(PIECE)
    assert drafts.edit(draft, lambda p: edit.move(p, 2, Fraction(12)), "move") is draft
    assert drafts.undo(draft) is draft
    assert drafts.redo(draft) is draft


def test_what_is_undone_can_be_done_again_until_something_else_is_done() -> None:
    draft = drafts.edit(drafts.begin(PIECE), lambda p: edit.remove(p, 2), "remove 2")
    draft = drafts.edit(drafts.undo(draft), lambda p: edit.remove(p, 3), "remove 3")
    assert drafts.redo(draft) is draft
    assert draft.why == "remove 3"


def test_steps_about_one_thing_are_told_of_once_and_undone_singly() -> None:
    draft = drafts.begin(PIECE)
    for beat in (13, 14, 15):
        draft = drafts.edit(draft, change_of("move", 2, beat, ""), f"move 2 to {beat}", "move s2")
    draft = drafts.edit(draft, lambda p: edit.remove(p, 4), "remove 4")
    assert draft.why == "move 2 to 15; remove 4"
    assert drafts.undo(drafts.undo(draft)).now.deck.starts[1].onset == 14


def test_opening_and_closing_is_part_of_the_draft() -> None:
    draft = drafts.turn(drafts.turn(drafts.begin(PIECE, OPEN), "deck-s1"), "deck-s2")
    assert (set(draft.opened), set(draft.closed)) == ({"deck-s2"}, {"deck-s1"})
    assert draft.changed
    assert draft.why == ""
    gone = drafts.edit(draft, lambda p: edit.remove(p, 2), "remove 2")
    assert not gone.opened


def test_what_was_kept_begins_anew() -> None:
    draft = drafts.edit(drafts.begin(PIECE), lambda p: edit.remove(p, 2), "remove 2")
    assert draft.changed
    assert draft.why == "remove 2"
    kept = drafts.kept(draft)
    assert not kept.changed
    assert kept.saved == draft.now


def proposed(score: Score) -> Piece:
    """A piece with the usual starts, as it is when its score has just been read."""
    places = [(p.onset, p.reasons) for p in propose(score, "usual")]
    return Piece(edit.new_deck(score, places, _ids("a", len(places) + 1)), score)


def respaced(piece: Piece, density: Density, new_id: str = "b") -> Piece:
    found = propose(piece.score, density)
    return Piece(edit.respace(piece, found, _ids(new_id, len(found))), piece.score)


def test_a_density_gives_what_is_proposed_and_takes_nothing_from_history() -> None:
    usual = proposed(tune(32))
    fewer, more = respaced(usual, "fewer"), respaced(usual, "more")
    assert len(fewer.deck.starts) < len(usual.deck.starts) < len(more.deck.starts)
    for piece, density in ((fewer, "fewer"), (more, "more")):
        wanted = [p.onset for p in propose(usual.score, density)]  # type: ignore[arg-type]
        assert [start.onset for start in piece.deck.starts] == wanted
    assert respaced(fewer, "usual", "c").deck == usual.deck  # with the ids that it had
    assert [gone.fate for gone in fewer.deck.former] == ["thinned"] * len(fewer.deck.former)


@pytest.mark.parametrize("density", ["fewer", "usual", "more"])
def test_a_density_keeps_what_a_person_did(density: Density) -> None:
    piece = proposed(tune(32))
    bar = piece.score.bars[0].length
    second, third, fourth, fifth = (start.id for start in piece.deck.starts[1:5])
    place = piece.deck.start(second).onset
    changes: list[Change] = [
        lambda p: edit.relabel(p, len(p.deck.starts), "coda"),
        lambda p: edit.link(p, 1, 4),
        lambda p: edit.remove(p, 5),
        lambda p: edit.merge(p, 3),
        lambda p: edit.move(p, 2, place + 1),
    ]
    last = piece.deck.starts[-1].id
    for change in changes:
        piece = Piece(change(piece), piece.score)
    deck = respaced(piece, density).deck
    onsets = [start.onset for start in deck.starts]
    assert {second, fourth, last} <= {start.id for start in deck.starts}
    assert deck.start(second).onset == place + 1
    assert not [o for o in onsets if 0 < abs(o - place - 1) < bar]
    assert not {gone.onset for gone in deck.former if gone.id in (third, fifth)} & set(onsets)


def test_a_density_leaves_at_least_one_start() -> None:
    piece = proposed(tune(32))
    while len(piece.deck.starts) > 1:
        piece = Piece(edit.remove(piece, 1), piece.score)
    assert len(respaced(piece, "fewer").deck.starts) == 1


def test_nothing_is_proposed_without_the_notes() -> None:
    with pytest.raises(TrainerError, match="its notes are not in the deck"):
        edit.respace(PIECE, (), ())


def test_a_pair_alike_in_shape_counts_once_a_person_accepts_it() -> None:
    piece = proposed(read_deck(DECKS / "round-the-mill-wheel.deck.json").score)
    shape = [like for like in piece.deck.alike if like.kind == "shape"]
    assert shape
    one, other = shape[0].one, shape[0].other
    assert other not in piece.deck.kin(one)
    deck = edit.accept(piece, shape)
    assert other in deck.kin(one)
    accepted = next(like for like in deck.alike if (like.one, like.other) == (one, other))
    assert (accepted.kind, accepted.parts_one) == ("told", shape[0].parts_one)


def _ids(head: str, count: int) -> list[str]:
    return [f"{head}{n}" for n in range(count)]
