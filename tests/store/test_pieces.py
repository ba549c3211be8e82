"""Decks: every edit is kept, undo is an edit, two copies do not overwrite each other."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.store.build import STUDENT, fresh_ids, piece, unhurried
from trainer.deck.model import Piece, identity, revision
from trainer.errors import TrainerError
from trainer.record.people import Student
from trainer.score.cite import entry
from trainer.score.model import Mark, Rest
from trainer.store.store import Store


def test_an_edit_keeps_what_was(store: Store) -> None:
    first = piece().deck
    store.add_piece(piece(), "read from a file")
    second = replace(first, title="Dance, corrected", starts=first.starts[:1])
    new = store.save_deck(second, parent=revision(first), why="one start fewer")
    assert new == revision(second)
    assert store.deck("deck-1") == second
    assert store.deck("deck-1", revision(first)) == first
    assert [(e.number, e.title, e.starts) for e in store.pieces()] == [(1, "Dance, corrected", 1)]
    history = store.deck_history("deck-1")
    assert [edit.why for edit in history] == ["read from a file", "one start fewer"]
    assert [edit.parent for edit in history] == ["", revision(first)]
    assert {edit.machine for edit in history} == {store.machine}


def test_an_edit_of_an_old_revision_is_refused(store: Store) -> None:
    first = piece().deck
    store.add_piece(piece(), "new")
    store.save_deck(replace(first, title="Mine"), parent=revision(first), why="title")
    with pytest.raises(TrainerError, match="edited by another copy"):
        store.save_deck(replace(first, title="Yours"), parent=revision(first), why="title")
    assert store.deck("deck-1").title == "Mine"
    assert len(store.deck_history("deck-1")) == 2


def test_the_same_again_changes_nothing(store: Store) -> None:
    store.add_piece(piece(), "new")
    store.add_piece(piece(), "new")
    store.save_deck(piece().deck, parent=revision(piece().deck), why="no change")
    assert len(store.pieces()) == len(store.deck_history("deck-1")) == 1


def test_a_known_deck_in_another_form_is_not_added(store: Store) -> None:
    store.add_piece(piece(), "new")
    other = piece()
    with pytest.raises(TrainerError, match="already kept in another version"):
        store.add_piece(Piece(replace(other.deck, title="Other"), other.score), "new")


def test_the_wrong_score_is_refused_and_nothing_is_left(store: Store) -> None:
    other = replace(piece().score, title="Another")
    with pytest.raises(TrainerError, match="does not belong"):
        store.add_piece(Piece(piece().deck, other), "new")
    assert store.pieces() == ()
    store.add_piece(piece(), "new")


def test_a_corrected_score_comes_with_the_edit(store: Store) -> None:
    first = piece()
    store.add_piece(first, "new")
    score = replace(first.score, warnings=("bar 1 mended",))
    deck = replace(first.deck, score=identity(score))
    with pytest.raises(TrainerError, match="score that is not here: add"):
        store.save_deck(deck, parent=revision(first.deck), why="score without its text")
    store.save_deck(deck, parent=revision(first.deck), why="corrected score", score=score)
    assert store.piece("deck-1") == Piece(deck, score)
    store.undo_edit("deck-1")
    assert store.piece("deck-1") == first


@settings(unhurried, max_examples=30)
@given(deck_id=fresh_ids(), steps=st.lists(st.sampled_from(["A", "B", "C", "undo"]), max_size=12))
def test_undo_walks_back_through_the_edits(shared: Store, deck_id: str, steps: list[str]) -> None:
    """Against the plainest model: a pile of titles."""
    deck = piece(deck_id, "start").deck
    shared.add_piece(piece(deck_id, "start"), "new")
    pile = ["start"]
    logged = 1
    for step in steps:
        now = shared.deck(deck_id)
        if step != "undo":
            shared.save_deck(replace(deck, title=step), parent=revision(now), why=step)
            changed = step != pile[-1]
            pile += [step] if changed else []
            logged += changed
        elif len(pile) > 1:
            shared.undo_edit(deck_id)
            pile.pop()
            logged += 1
        else:
            with pytest.raises(TrainerError, match="no edit to take back"):
                shared.undo_edit(deck_id)
        assert shared.deck(deck_id).title == pile[-1]
    assert len(shared.deck_history(deck_id)) == logged


def test_a_piece_is_found_by_number_title_or_id(store: Store) -> None:
    for deck_id, title in (("77aa", "Dance"), ("b2", "Dance again"), ("b3", "[Rondo]\x1b[31m")):
        store.add_piece(piece(deck_id, title), "new")
    assert store.find_piece("2").id == "b2"
    assert store.find_piece("dance").id == "77aa"  # the whole title before its beginning
    assert store.find_piece(" DANCE A").id == "b2"
    assert store.find_piece("[ron").id == "b3"
    assert store.find_piece("77a").id == "77aa"
    with pytest.raises(TrainerError, match=r'"da" may be 1 "Dance", 2 "Dance again": say which'):
        store.find_piece("da")
    with pytest.raises(TrainerError, match=r'no piece "waltz": there is 1 "Dance"') as caught:
        store.find_piece("waltz")
    assert str(caught.value).isprintable()
    for nothing in ("", "0", "4", "²", "\0"):
        with pytest.raises(TrainerError, match="There is no piece"):
            store.find_piece(nothing)


def test_where_there_is_nothing_to_find(store: Store) -> None:
    with pytest.raises(TrainerError, match="no piece yet: add one"):
        store.find_piece("1")
    for ask in (store.piece, store.deck, store.undo_edit):
        with pytest.raises(TrainerError, match="There is no deck"):
            ask("deck-9")
    assert store.deck_history("deck-9") == ()
    store.add_piece(piece(), "new")
    with pytest.raises(TrainerError, match="no revision"):
        store.deck("deck-1", "unknown")


def test_a_student_is_found_and_changed(store: Store) -> None:
    store.save_student(Student("s2", "B. C.", "child", 5.0))
    store.save_student(replace(STUDENT, name="A. B."))
    assert [one.name for one in store.students()] == ["A. B.", "B. C."]
    assert store.student("2").id == store.student("b.").id == "s2"
    with pytest.raises(TrainerError, match="no student"):
        store.student("Z")


def test_many_candidates_are_counted(store: Store) -> None:
    for number in range(20):
        store.add_piece(piece(f"d{number}", f"Study {number}"), "new")
    with pytest.raises(TrainerError, match="and 12 more"):
        store.find_piece("study")


def test_a_log_ends_at_the_current_form_whatever_a_file_tells(store: Store) -> None:
    """A file may tell edits in another order than they came in here, or those of another deck."""
    first = piece()
    store.add_piece(first, "new")
    (root,) = store.deck_history("deck-1")
    second = Piece(replace(first.deck, title="Second"), first.score)
    told = replace(root, id="other", revision=revision(second.deck), parent=root.revision)
    store.follow(second, (told, root), parent=root.revision)
    assert store.deck_history("deck-1")[-1].revision == store.pieces()[0].revision
    assert not [one for one in store.check() if one.weight == "wrong"]
    with pytest.raises(TrainerError, match="belongs to another deck"):
        store.add_piece(piece("deck-2"), "", (root,))
    assert [entry.id for entry in store.pieces()] == ["deck-1"]


def test_a_number_never_happens_to_begin_an_id(store: Store) -> None:
    """With one piece whose id begins with 9, "9" is no piece; a name may begin with a digit."""
    store.add_piece(piece("923c91aa", "Waltz"), "new")
    with pytest.raises(TrainerError, match="no piece"):
        store.find_piece("9")
    assert store.find_piece("923c91").title == "Waltz"
    store.add_piece(piece("b", "24 Preludes"), "new")
    assert store.find_piece("24").title == "24 Preludes"


def test_the_same_music_is_known_under_any_name(store: Store) -> None:
    store.add_piece(piece(), "new")
    score = piece().score
    renamed = replace(score, title="Other", source="other.xml", warnings=('"staves":[]',))
    assert [entry.id for entry in store.same_music(renamed)] == ["deck-1"]
    end = score.bars[-1].end
    others = (
        replace(score, notes=score.notes[:-1]),
        replace(score, notes=(*score.notes, replace(score.notes[-1], voice="2"))),
        replace(score, rests=(Rest(end - 1, Fraction(1), 0),)),
        replace(score, marks=(Mark("page", Fraction(0)),)),
        replace(score, staves=(replace(score.staves[0], transposition=-2),)),
    )
    assert [store.same_music(other) for other in others] == [()] * len(others)


def test_the_bars_alone_name_every_place(store: Store) -> None:
    """A frame has no notes; a place in it is the same place in words."""
    store.add_piece(piece(), "new")
    score, frame = piece().score, store.frame("deck-1")
    assert (frame.bars, frame.staves, frame.notes) == (score.bars, score.staves, ())
    quarter = Fraction(1, 2)
    places = [quarter * n for n in range(int(score.end / quarter))]
    assert [entry(frame, at) for at in places] == [entry(score, at) for at in places]


def test_all_decks_at_once_are_those_one_by_one(store: Store) -> None:
    first = piece().deck
    store.add_piece(piece(), "new")
    store.save_deck(replace(first, title="Corrected"), parent=revision(first), why="title")
    assert store.decks() == {"deck-1": store.deck("deck-1")}
    assert store.decks()["deck-1"].title == "Corrected"


def test_what_is_kept_together_is_kept_all_or_not_at_all(store: Store) -> None:
    other, had = Student("s", "S."), len(store.students())

    def keep(*, undo: bool) -> None:
        with store.together():
            store.save_student(other)
            store.add_piece(piece(), "new")
            if undo:
                store.undo_edit("deck-1")

    with pytest.raises(TrainerError, match="no edit to take back"):
        keep(undo=True)
    assert (len(store.pieces()), len(store.students())) == (0, had)
    keep(undo=False)
    assert (len(store.pieces()), len(store.students())) == (1, had + 1)
