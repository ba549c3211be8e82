"""A draft: any edits, all undone, give back the deck; redone, they give it as it was edited."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.pieces import piece_of, tune
from trainer.deck import draft as drafts
from trainer.deck import edit
from trainer.deck.draft import Change, Draft
from trainer.deck.model import Piece
from trainer.errors import TrainerError
from trainer.phrases.segment import propose

PIECE = piece_of(tune(16), [0, 12, 24, 36])

ACTS = st.lists(
    st.tuples(
        st.sampled_from(["add", "move", "remove", "merge", "label", "link", "undo", "redo"]),
        st.integers(1, 6),
        st.integers(0, 47),
    ),
    max_size=10,
)


def change_of(kind: str, number: int, quarter: int, new_id: str) -> Change:
    onset = Fraction(quarter)
    changes: dict[str, Change] = {
        "add": lambda p: edit.add(p, onset, new_id),
        "move": lambda p: edit.move(p, number, onset),
        "remove": lambda p: edit.remove(p, number),
        "merge": lambda p: edit.merge(p, number),
        "label": lambda p: edit.relabel(p, number, f"name {quarter}"),
        "link": lambda p: edit.link(p, number, 1 + quarter % 4),
    }
    return changes[kind]


def played(acts: list[tuple[str, int, int]]) -> Draft:
    draft = drafts.begin(PIECE)
    for count, (kind, number, quarter) in enumerate(acts):
        if kind in ("undo", "redo"):
            draft = drafts.undo(draft) if kind == "undo" else drafts.redo(draft)
            continue
        try:
            draft = drafts.edit(draft, change_of(kind, number, quarter, f"new{count}"), kind)
        except TrainerError:
            continue
    return draft


@given(ACTS)
def test_undoing_all_gives_back_the_deck_and_redoing_what_was(
    acts: list[tuple[str, int, int]],
) -> None:
    draft = played(acts)
    edited, back = draft.piece.deck, draft
    for _ in draft.past:
        back = drafts.undo(back)
    assert back.piece == PIECE
    assert not back.changed
    assert back.why == ""
    for _ in draft.past:
        back = drafts.redo(back)
    assert back.piece.deck == edited
    assert back.past == draft.past


def test_an_edit_that_changes_nothing_is_none() -> None:
    draft = drafts.begin(PIECE)
    assert drafts.edit(draft, lambda p: edit.move(p, 2, Fraction(12)), "move") is draft
    assert drafts.undo(draft) is draft
    assert drafts.redo(draft) is draft


def test_what_was_kept_begins_anew() -> None:
    draft = drafts.edit(drafts.begin(PIECE), lambda p: edit.remove(p, 2), "remove 2")
    assert draft.changed
    assert draft.why == "remove 2"
    kept = drafts.kept(draft)
    assert not kept.changed
    assert kept.saved == draft.piece.deck


@pytest.mark.parametrize("density", ["fewer", "usual", "more"])
def test_a_density_keeps_what_a_person_set(density: str) -> None:
    score = tune(32)
    found = propose(score, "usual")
    piece = Piece(
        edit.new_deck(score, [(p.onset, p.reasons) for p in found], _ids("a", len(found) + 1)),
        score,
    )
    own = edit.add(piece, Fraction(7), "mine")
    named = edit.relabel(Piece(own, score), len(own.starts), "coda")
    last = named.starts[-1].id
    wanted = propose(score, density)  # type: ignore[arg-type]
    after = edit.respace(Piece(named, score), wanted, _ids("b", len(wanted)))
    ids = {start.id for start in after.starts}
    assert {"mine", last} <= ids
    assert {p.onset for p in wanted} <= {start.onset for start in after.starts}
    assert {f.id for f in after.former} == {s.id for s in named.starts} - ids


def _ids(head: str, count: int) -> list[str]:
    return [f"{head}{n}" for n in range(count)]
