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
    store.pieces.add(piece(), "read from a file")
    second = replace(first, title="Dance, corrected", starts=first.starts[:1])
    new = store.pieces.save(second, parent=revision(first), why="one start fewer")
    assert new == revision(second)
    assert store.pieces.deck("deck-1") == second
    assert store.pieces.deck("deck-1", revision(first)) == first
    assert [(e.number, e.title, e.starts) for e in store.pieces.all()] == [
        (1, "Dance, corrected", 1)
    ]
    history = store.pieces.history("deck-1")
    assert [edit.why for edit in history] == ["read from a file", "one start fewer"]
    assert [edit.parent for edit in history] == ["", revision(first)]
    assert {edit.machine for edit in history} == {store.machine}


def test_an_edit_of_an_old_revision_is_refused(store: Store) -> None:
    first = piece().deck
    store.pieces.add(piece(), "new")
    store.pieces.save(replace(first, title="Mine"), parent=revision(first), why="title")
    with pytest.raises(TrainerError, match="edited by another copy"):
        store.pieces.save(replace(first, title="Yours"), parent=revision(first), why="title")
    assert store.pieces.deck("deck-1").title == "Mine"
    assert len(store.pieces.history("deck-1")) == 2


def test_the_same_again_changes_nothing(store: Store) -> None:
    store.pieces.add(piece(), "new")
    store.pieces.add(piece(), "new")
    store.pieces.save(piece().deck, parent=revision(piece().deck), why="no change")
    assert len(store.pieces.all()) == len(store.pieces.history("deck-1")) == 1


def test_a_known_deck_in_another_form_is_not_added(store: Store) -> None:
    store.pieces.add(piece(), "new")
    other = piece()
    with pytest.raises(TrainerError, match="already kept in another version"):
        store.pieces.add(Piece(replace(other.deck, title="Other"), other.score), "new")


def test_the_wrong_score_is_refused_and_nothing_is_left(store: Store) -> None:
    other = replace(piece().score, title="Another")
    with pytest.raises(TrainerError, match="does not belong"):
        store.pieces.add(Piece(piece().deck, other), "new")
    assert store.pieces.all() == ()
    store.pieces.add(piece(), "new")


def test_a_corrected_score_comes_with_the_edit(store: Store) -> None:
    first = piece()
    store.pieces.add(first, "new")
    score = replace(first.score, warnings=("bar 1 mended",))
    deck = replace(first.deck, score=identity(score))
    with pytest.raises(TrainerError, match="score that is not here: add"):
        store.pieces.save(deck, parent=revision(first.deck), why="score without its text")
    store.pieces.save(deck, parent=revision(first.deck), why="corrected score", score=score)
    assert store.pieces.get("deck-1") == Piece(deck, score)
    store.pieces.undo("deck-1")
    assert store.pieces.get("deck-1") == first


@settings(unhurried, max_examples=30)
@given(deck_id=fresh_ids(), steps=st.lists(st.sampled_from(["A", "B", "C", "undo"]), max_size=12))
def test_undo_walks_back_through_the_edits(shared: Store, deck_id: str, steps: list[str]) -> None:
    """Against the plainest model: a pile of titles."""
    deck = piece(deck_id, "start").deck
    shared.pieces.add(piece(deck_id, "start"), "new")
    pile = ["start"]
    logged = 1
    for step in steps:
        now = shared.pieces.deck(deck_id)
        if step != "undo":
            shared.pieces.save(replace(deck, title=step), parent=revision(now), why=step)
            changed = step != pile[-1]
            pile += [step] if changed else []
            logged += changed
        elif len(pile) > 1:
            shared.pieces.undo(deck_id)
            pile.pop()
            logged += 1
        else:
            with pytest.raises(TrainerError, match="no edit to take back"):
                shared.pieces.undo(deck_id)
        assert shared.pieces.deck(deck_id).title == pile[-1]
    assert len(shared.pieces.history(deck_id)) == logged


def test_a_piece_is_found_by_number_title_or_id(store: Store) -> None:
    for deck_id, title in (("77aa", "Dance"), ("b2", "Dance again"), ("b3", "[Rondo]\x1b[31m")):
        store.pieces.add(piece(deck_id, title), "new")
    assert store.pieces.find("2").id == "b2"
    assert store.pieces.find("dance").id == "77aa"  # the whole title before its beginning
    assert store.pieces.find(" DANCE A").id == "b2"
    assert store.pieces.find("[ron").id == "b3"
    assert store.pieces.find("77a").id == "77aa"
    with pytest.raises(TrainerError, match=r'"da" may be 1 "Dance", 2 "Dance again": say which'):
        store.pieces.find("da")
    with pytest.raises(TrainerError, match=r'no piece "waltz": there is 1 "Dance"') as caught:
        store.pieces.find("waltz")
    assert str(caught.value).isprintable()
    for nothing in ("", "0", "4", "²", "\0"):
        with pytest.raises(TrainerError, match="There is no piece"):
            store.pieces.find(nothing)


def test_where_there_is_nothing_to_find(store: Store) -> None:
    with pytest.raises(TrainerError, match="no piece yet: add one"):
        store.pieces.find("1")
    for ask in (store.pieces.get, store.pieces.deck, store.pieces.undo):
        with pytest.raises(TrainerError, match="There is no deck"):
            ask("deck-9")
    assert store.pieces.history("deck-9") == ()
    store.pieces.add(piece(), "new")
    with pytest.raises(TrainerError, match="no revision"):
        store.pieces.deck("deck-1", "unknown")


def test_a_student_is_found_and_changed(store: Store) -> None:
    store.students.save(Student("s2", "B. C.", "child", 5.0))
    store.students.save(replace(STUDENT, name="A. B."))
    assert [one.name for one in store.students.all()] == ["A. B.", "B. C."]
    assert store.students.find("2").id == store.students.find("b.").id == "s2"
    with pytest.raises(TrainerError, match="no student"):
        store.students.find("Z")


def test_many_candidates_are_counted(store: Store) -> None:
    for number in range(20):
        store.pieces.add(piece(f"d{number}", f"Study {number}"), "new")
    with pytest.raises(TrainerError, match="and 12 more"):
        store.pieces.find("study")


def test_a_log_ends_at_the_current_form_whatever_a_file_tells(store: Store) -> None:
    """A file may tell edits in another order than they came in here, or those of another deck."""
    first = piece()
    store.pieces.add(first, "new")
    (root,) = store.pieces.history("deck-1")
    second = Piece(replace(first.deck, title="Second"), first.score)
    told = replace(root, id="other", revision=revision(second.deck), parent=root.revision)
    store.pieces.follow(second, (told, root), parent=root.revision)
    assert store.pieces.history("deck-1")[-1].revision == store.pieces.all()[0].revision
    assert not [one for one in store.faults.find() if one.weight == "wrong"]
    with pytest.raises(TrainerError, match="belongs to another deck"):
        store.pieces.add(piece("deck-2"), "", (root,))
    assert [entry.id for entry in store.pieces.all()] == ["deck-1"]


def test_a_number_never_happens_to_begin_an_id(store: Store) -> None:
    """With one piece whose id begins with 9, "9" is no piece; a name may begin with a digit."""
    store.pieces.add(piece("923c91aa", "Waltz"), "new")
    with pytest.raises(TrainerError, match="no piece"):
        store.pieces.find("9")
    assert store.pieces.find("923c91").title == "Waltz"
    store.pieces.add(piece("b", "24 Preludes"), "new")
    assert store.pieces.find("24").title == "24 Preludes"


def test_the_same_music_is_known_under_any_name(store: Store) -> None:
    store.pieces.add(piece(), "new")
    score = piece().score
    renamed = replace(score, title="Other", source="other.xml", warnings=('"staves":[]',))
    assert [entry.id for entry in store.pieces.same_music(renamed)] == ["deck-1"]
    end = score.bars[-1].end
    others = (
        replace(score, notes=score.notes[:-1]),
        replace(score, notes=(*score.notes, replace(score.notes[-1], voice="2"))),
        replace(score, rests=(Rest(end - 1, Fraction(1), 0),)),
        replace(score, marks=(Mark("page", Fraction(0)),)),
        replace(score, staves=(replace(score.staves[0], transposition=-2),)),
    )
    assert [store.pieces.same_music(other) for other in others] == [()] * len(others)


def test_the_bars_alone_name_every_place(store: Store) -> None:
    """A frame has no notes; a place in it is the same place in words."""
    store.pieces.add(piece(), "new")
    score, frame = piece().score, store.pieces.frame("deck-1")
    assert (frame.bars, frame.staves, frame.notes) == (score.bars, score.staves, ())
    quarter = Fraction(1, 2)
    places = [quarter * n for n in range(int(score.end / quarter))]
    assert [entry(frame, at) for at in places] == [entry(score, at) for at in places]


def test_all_decks_at_once_are_those_one_by_one(store: Store) -> None:
    first = piece().deck
    store.pieces.add(piece(), "new")
    store.pieces.save(replace(first, title="Corrected"), parent=revision(first), why="title")
    assert store.pieces.decks() == {"deck-1": store.pieces.deck("deck-1")}
    assert store.pieces.decks()["deck-1"].title == "Corrected"


def test_what_is_kept_together_is_kept_all_or_not_at_all(store: Store) -> None:
    other, had = Student("s", "S."), len(store.students.all())

    def keep(*, undo: bool) -> None:
        with store.together():
            store.students.save(other)
            store.pieces.add(piece(), "new")
            if undo:
                store.pieces.undo("deck-1")

    with pytest.raises(TrainerError, match="no edit to take back"):
        keep(undo=True)
    assert (len(store.pieces.all()), len(store.students.all())) == (0, had)
    keep(undo=False)
    assert (len(store.pieces.all()), len(store.students.all())) == (1, had + 1)
