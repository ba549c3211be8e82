"""Nothing that differs between two decks goes untold, and histories tell which is newer."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import fields, replace

from tests.pieces import NOON, piece_of, tune
from trainer.deck import edit
from trainer.deck.compare import Change, compare, sentence
from trainer.deck.file import frame
from trainer.deck.history import DeckEdit, closed, relation, standing
from trainer.deck.model import Deck, Likeness, Piece, Start, identity

PIECE = piece_of(tune(16), [0, 12, 24, 36])


def told(deck: Deck) -> dict[str, Change]:
    return {change.kind: change for change in compare(PIECE, Piece(deck, PIECE.score))}


@pytest.mark.parametrize(
    ("change", "kind", "words"),
    [
        (lambda p: edit.split(p, 2, Fraction(18), "new"), "split", "untried; start 2 keeps"),
        (lambda p: edit.add(p, Fraction(18), "new"), "added", "begins untried"),
        (lambda p: edit.move(p, 2, Fraction(15)), "moved", "moved to b. 6, was at b. 5; keeps its"),
        (lambda p: edit.merge(p, 2), "merged", "old start 2: merged into start 1"),
        (lambda p: edit.remove(p, 2), "removed", "kept, but it is called no more"),
        (lambda p: edit.renumber(p, 9), "renumbered", "start 12: was start 4"),
        (lambda p: edit.relabel(p, 1, "theme"), "named", 'is called "theme"'),
        (lambda p: edit.advise(p, 1, ["sing"]), "advice", "new advice: sing"),
        (lambda p: edit.reroute(p, [1, 2]), "route", "the order of play is 1 2"),
        (lambda p: replace(p.deck, title="New"), "title", 'the title is "New", was "Study"'),
    ],
)
def test_each_edit_in_words(change: Callable[[Piece], Deck], kind: str, words: str) -> None:
    found = told(change(PIECE))
    assert words in sentence(found[kind])


def test_a_start_that_comes_back_has_its_attempts_again() -> None:
    gone = Piece(edit.remove(PIECE, 2), PIECE.score)
    (back,) = [one for one in compare(gone, PIECE) if one.kind == "came back"]
    assert back.new == 2
    assert "attempts count again" in back.inherits


def test_no_field_of_a_start_or_deck_is_passed_over() -> None:
    """Whatever is changed in a start or a deck, something is said of it."""
    for field in fields(Start):
        if field.name in ("id", "number", "onset"):
            continue
        start = PIECE.deck.starts[1]
        other = ("x",) if isinstance(getattr(start, field.name), tuple) else "x"
        changed = replace(start, **{field.name: other})
        starts = (PIECE.deck.starts[0], changed, *PIECE.deck.starts[2:])
        assert told(replace(PIECE.deck, starts=starts)), field.name
    assert set(Deck.__struct_fields__) == {
        "id", "title", "score", "starts", "route", "former", "first", "route_by_hand", "alike",
        "told",
    }, "compare the new field too"  # fmt: skip


def test_a_deck_is_the_same_as_itself() -> None:
    assert compare(PIECE, PIECE) == ()


def test_scores_and_frames() -> None:
    bare = Piece(PIECE.deck, frame(PIECE.score))
    assert [one.kind for one in compare(bare, PIECE)] == ["score"]
    notes = (replace(PIECE.score.notes[0], pitch=61), *PIECE.score.notes[1:])
    score = replace(PIECE.score, notes=notes)
    other = Piece(replace(PIECE.deck, score=identity(score)), score)
    assert "2 notes differ" in compare(PIECE, other)[0].words


def test_an_edit_without_the_notes_keeps_the_look_alikes() -> None:
    like = (Likeness(PIECE.deck.starts[0].id, PIECE.deck.starts[2].id, "same"),)
    bare = Piece(replace(PIECE.deck, alike=like), frame(PIECE.score))
    assert edit.split(bare, 2, Fraction(18), "new").alike == like
    assert edit.remove(bare, 3).alike == ()


Edits = list[DeckEdit]


def made(edits: Edits, title: str, number: int) -> Edits:
    """A history with one edit more, whose content is known by its title."""
    parent = edits[-1].revision if edits else ""
    return [*edits, DeckEdit(f"e{number}", title, parent, "m", NOON, title)]


def test_which_deck_is_the_newer_one() -> None:
    first = made([], "A", 1)
    mine, theirs = made(first, "B", 2), made(first, "C", 3)
    assert relation([], first) == "unknown"
    assert relation(first, mine) == "newer"
    assert relation(mine, first) == "older"
    assert relation(mine, theirs) == "apart"
    assert relation(mine, mine) == "same"
    # An edit taken back is the newer one, though its content is that of an older deck.
    back = [*mine, DeckEdit("e4", "A", "B", "m", NOON, "undo", undoes="e2")]
    assert relation(mine, back) == "newer"
    assert relation(back, mine) == "older"
    # A choice between two is newer than both.
    choice = [*mine, theirs[-1], DeckEdit("e5", "C", "B", "m", NOON, "theirs", merged="C")]
    assert relation(mine, choice) == relation(made(first, "C", 3)[:1], choice) == "newer"
    assert relation(theirs, choice) == "same"
    assert relation(choice, mine) == "older"


def test_a_file_that_tells_no_history() -> None:
    bare = closed((), "A", NOON)
    assert closed((), "A", NOON) == bare  # the same id on every machine
    mine = made(made([], "A", 1), "B", 2)
    assert relation(mine, bare) == "older"
    assert relation(mine, closed((), "C", NOON)) == "apart"
    by_hand = closed(mine, "C", NOON)  # the content was changed, the list of edits was not
    assert relation(mine, by_hand) == "newer"


@settings(max_examples=200)
@given(st.lists(st.sampled_from(["edit", "undo", "send", "take"]), max_size=25), st.randoms())
def test_two_machines_agree_on_what_is_newer(acts: list[str], rng: object) -> None:
    """Two machines edit, undo and send; whoever is behind is told so, and never both."""
    histories: list[Edits] = [made([], "A", 1), made([], "A", 1)]
    for number, act in enumerate(acts, 2):
        one = rng.randrange(2)  # type: ignore[attr-defined]
        mine, theirs = histories[one], histories[1 - one]
        if act == "edit":
            histories[one] = made(mine, f"t{number}", number)
        elif act == "undo" and standing(mine).parent:
            last = standing(mine)
            undo = DeckEdit(
                f"e{number}", last.parent, mine[-1].revision, "m", NOON, "", undoes=last.id
            )
            histories[one] = [*mine, undo]
        elif act == "take" and relation(theirs, mine) == "newer":
            known = {told.id for told in theirs}
            histories[1 - one] = [*theirs, *(told for told in mine if told.id not in known)]
    here, there = relation(*histories), relation(*reversed(histories))
    assert (here, there) in {
        ("same", "same"),
        ("newer", "older"),
        ("older", "newer"),
        ("apart", "apart"),
    }
