"""One student's own layer over a deck: the last word counts, and the deck stays what it is."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.pieces import NOON, piece_of, tune
from trainer.deck import edit
from trainer.deck.model import revision
from trainer.deck.sound import MOST_TEXT
from trainer.memory.evidence import weigh
from trainer.record.attempt import Attempt, Outcome, practice_day
from trainer.record.layer import (
    Layer,
    LayerEdit,
    Own,
    What,
    fault,
    layers,
    no_effect,
    reaches_beyond,
    with_layer,
    worked_on,
)

PIECE = piece_of(tune(16, repeat=8), [0, 12, 24, 36])
DECK = PIECE.deck
ONE, TWO, THREE, FOUR = (start.id for start in DECK.starts)


def word(start: str, what: What, value: str, hours: int = 0, id_: str = "") -> LayerEdit:
    at = NOON + timedelta(hours=hours)
    return LayerEdit(id_ or f"{start}{what}{hours}", "s", DECK.id, start, what, value, "m", at)


def layer(*edits: LayerEdit) -> Layer:
    return layers(edits).get(DECK.id, Layer())


words: st.SearchStrategy[LayerEdit] = st.builds(
    word,
    st.sampled_from([ONE, TWO, "own-1", "own-2", "own-3"]),
    st.sampled_from(["fingering", "words", "tempo", "left out", "added", "worked on", "homework"]),
    st.sampled_from(["", "72", "30", "31/2", "yes", "12", "1000"]),
    st.integers(0, 3),
    st.uuids().map(str),
)


@given(st.lists(words, max_size=14), st.randoms())
def test_what_stands_does_not_depend_on_the_order(told: list[LayerEdit], rng: Random) -> None:
    shuffled = [*told, *told]
    rng.shuffle(shuffled)
    assert layers(shuffled) == layers(told)


@given(st.lists(words, max_size=14))
def test_whatever_is_said_the_deck_is_sound(told: list[LayerEdit]) -> None:
    """In the order of the score, each number and place once, the route over known starts; and
    what has no effect is told, whatever has one is not."""
    mine = layer(*told)
    made = with_layer(DECK, mine, PIECE.score.end)
    onsets = [start.onset for start in made.starts]
    assert onsets == sorted(set(onsets))
    assert onsets[-1] < PIECE.score.end
    ids = {start.id for start in made.starts}
    assert len({start.number for start in made.starts}) == len(ids)
    assert set(made.route) == ids
    idle = no_effect(DECK, mine, PIECE.score.end)
    assert {own.start for own in mine.owns} == (ids | idle.keys()) & {o.start for o in mine.owns}
    assert not ids & idle.keys()
    # Without the added starts the route is the teacher's.
    assert tuple(id_ for id_ in made.route if id_ in set(DECK.route)) == DECK.route


def test_the_last_word_counts_and_an_empty_one_takes_back() -> None:
    told = [word(TWO, "fingering", "R 1-2-4"), word(TWO, "fingering", "R 1-3-5", 1)]
    assert layer(*told).of(TWO).fingering == "R 1-3-5"
    assert layer(*told, word(TWO, "fingering", "", 2)).of(TWO) == Own(TWO)
    assert layers([*told, word(TWO, "fingering", "", 2)]) == {}


def test_own_fingering_replaces_and_own_words_follow_the_teachers() -> None:
    deck = edit.finger(PIECE, 2, "R 1-3-5")
    deck = edit.advise(replace(PIECE, deck=deck), 2, ["thumb under"])
    mine = layer(word(TWO, "fingering", "R 1-2-4"), word(TWO, "words", "let go early"))
    made = with_layer(deck, mine).start(TWO)
    assert (made.fingering, made.advice) == ("R 1-2-4", ("thumb under", "let go early"))
    assert with_layer(deck, Layer()) == deck
    assert revision(deck) == revision(with_layer(deck, layer()))


def test_an_added_start_comes_on_each_pass_with_a_number_after_the_last() -> None:
    assert DECK.route == (ONE, TWO, ONE, TWO, THREE, FOUR)
    mine = layer(word("late", "added", "16"), word("early", "added", "14", 1))
    made = with_layer(DECK, mine)
    assert made.route == (
        *(ONE, TWO, "early", "late"),
        *(ONE, TWO, "early", "late"),
        *(THREE, FOUR),
    )
    assert [(s.id, s.number) for s in made.starts if s.number > 4] == [("early", 6), ("late", 5)]
    assert [made.start(id_).parent for id_ in ("early", "late")] == [TWO, "early"]
    # As the teacher's own splits would stand on the route.
    split = edit.add(PIECE, Fraction(14), "early")
    split = edit.add(replace(PIECE, deck=split), Fraction(16), "late")
    assert split.route == made.route


def test_an_added_start_before_all_others_leads_into_the_first() -> None:
    deck = edit.new_deck(PIECE.score, [(Fraction(6), ()), (Fraction(24), ())], ["d", "a", "b"])
    made = with_layer(deck, layers([replace(word("own", "added", "3"), deck="d")])["d"])
    assert made.route == ("own", "a", "own", "a", "b")
    assert made.following("own") == ("a",)


def test_where_the_deck_has_a_start_the_added_one_waits_and_its_tries_count() -> None:
    mine = layer(word("own", "added", "18"))
    newer = edit.split(PIECE, 2, Fraction(18), "new")
    made = with_layer(newer, mine)
    assert made.starts == newer.starts
    assert no_effect(newer, mine) == {"own": "the deck has start 3 there"}
    tries = weigh([_attempt("own")], {DECK.id: made})
    assert [one.start for one in tries] == ["new"]
    # The start goes again: the student's own is back, under its id.
    back = edit.remove(replace(PIECE, deck=newer), 3)
    assert no_effect(back, mine) == {}
    assert with_layer(back, mine).start("own").onset == 18


def test_an_edit_on_a_start_that_is_gone_waits_for_it() -> None:
    mine = layer(word(TWO, "words", "sing"), word("never", "words", "x"))
    without = edit.merge(PIECE, 2)
    assert no_effect(without, mine) == {
        TWO: "start 2 was joined to another in the deck",
        "never": "the deck has no such start",
    }
    assert with_layer(without, mine) == without
    assert with_layer(DECK, mine).start(TWO).advice == ("sing",)


def test_only_the_score_says_whether_a_start_after_the_last_is_in_the_piece() -> None:
    inside, outside = layer(word("own", "added", "40")), layer(word("own", "added", "48"))
    assert reaches_beyond(DECK, inside)
    assert not reaches_beyond(DECK, layer(word("own", "added", "30")))
    assert with_layer(DECK, inside, PIECE.score.end).starts[-1].id == "own"
    assert with_layer(DECK, outside, PIECE.score.end) == DECK
    assert no_effect(DECK, outside, PIECE.score.end) == {"own": "the piece ends before it"}


def test_a_start_that_was_added_and_taken_back_is_gone_with_all_of_it() -> None:
    told = [word("own", "added", "18"), word("own", "words", "x", 1), word("own", "added", "", 2)]
    assert layers(told) == {}
    again = layer(*told, word("own", "added", "18", 3))
    assert again.of("own") == Own("own", words="x", added=Fraction(18))


@pytest.mark.parametrize(
    ("what", "value", "says"),
    [
        ("tempo", "9.9", "10 to 400"),
        ("tempo", "400.1", "10 to 400"),
        ("tempo", "fast", "10 to 400"),
        ("tempo", "nan", "10 to 400"),
        ("tempo", "٧٢", "10 to 400"),
        ("left out", "no", "another word"),
        ("added", "-1", "not a place"),
        ("added", "1/0", "not a place"),
        ("added", "1/9999999", "not a place"),
        ("added", "999999999", "not a place"),
        ("words", "n" * (MOST_TEXT + 1), "characters"),
    ],
)
def test_what_will_not_do(what: What, value: str, says: str) -> None:
    assert says in fault(word(ONE, what, value))


@pytest.mark.parametrize(
    ("what", "value"),
    [("tempo", "10"), ("tempo", "400"), ("tempo", "67.5"), ("left out", "yes"), ("added", "31/2"),
     ("words", "x" * MOST_TEXT), ("fingering", ""), ("tempo", ""), ("added", "")],
)  # fmt: skip
def test_what_will_do(what: What, value: str) -> None:
    assert fault(word(ONE, what, value)) == ""


@given(st.lists(words, max_size=14), st.randoms())
def test_when_a_start_was_worked_on_is_its_last_word(told: list[LayerEdit], rng: Random) -> None:
    shuffled = [*told, *told]
    rng.shuffle(shuffled)
    found = worked_on(shuffled)
    assert found == worked_on(told)
    said = [one for one in told if one.what == "worked on"]
    assert set(found) <= {one.start for one in said}
    for start, at in found.items():
        assert at == max(one.at for one in said if one.start == start)


def _attempt(start: str) -> Attempt:
    day = practice_day(NOON)
    return Attempt("a", "s", DECK.id, "r", start, "m", NOON, day, Outcome.THROUGH)
