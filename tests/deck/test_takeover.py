"""A score takes over a piece that was on paper: its starts find their places, or it is refused."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.pieces import tune
from trainer.deck import edit
from trainer.deck.model import Piece, identity
from trainer.deck.route import phrase_route
from trainer.deck.takeover import more_bars, taken_over
from trainer.errors import TrainerError
from trainer.score.cite import entry
from trainer.score.model import Bar, Meter, Score
from trainer.score.on_paper import on_paper, places

THREE = Meter(3, 4)


def paper(starts: str, pickup: str = "1", route: str = "", bars: int = 16) -> Piece:
    score = on_paper("Air", bars, "3/4", pickup, route)
    at = places(score, starts)
    ids = ["deck", *(f"s{n}" for n in range(1, len(at) + 1))]
    return Piece(edit.new_deck(score, [(one, (edit.BY_HAND,)) for one in at], ids), score)


def numbers(route: tuple[str, ...]) -> str:
    return " ".join(name[1:] for name in route)


def cut(score: Score, label: str, length: int) -> Score:
    """The score with a bar that ends early, and all after it that much earlier; no notes there."""
    bars: list[Bar] = []
    for bar in score.bars:
        start = bars[-1].end if bars else Fraction(0)
        long = Fraction(length) if bar.label == label else bar.length
        bars.append(replace(bar, start=start, length=long))
    notes = tuple(note for note in score.notes if note.onset < 6)
    return replace(score, bars=tuple(bars), notes=notes)


@given(st.data())
def test_starts_keep_their_ids_numbers_and_places(data: st.DataObject) -> None:
    """Whatever upbeat the file has, and wherever it cuts a bar short."""
    bars = data.draw(st.lists(st.integers(2, 16), unique=True, max_size=5).map(sorted))
    beats = [data.draw(st.integers(1, 2)) for _ in bars]
    starts = ",".join(["1", *(f"{bar}:{beat}" for bar, beat in zip(bars, beats, strict=True))])
    piece = paper(starts, data.draw(st.sampled_from(["", "1", "2"])))
    short = str(data.draw(st.integers(1, 16)))
    score = cut(tune(16, upbeat=data.draw(st.booleans())), short, 2)
    after = taken_over(piece, score)
    assert [(s.id, s.number) for s in after.deck.starts] == [
        (s.id, s.number) for s in piece.deck.starts
    ]
    assert after.deck.score == identity(score)
    assert after.deck.starts[0].onset == 0
    for was, now in zip(piece.deck.starts[1:], after.deck.starts[1:], strict=True):
        told = [(one.bar_at(start.onset).label, one.bar_at(start.onset).beat_at(start.onset))
                for one, start in ((piece.score, was), (score, now))]  # fmt: skip
        assert told[0] == told[1]


def test_the_order_of_play_follows_the_signs_from_then_on() -> None:
    piece = paper("1,5,7,9", "", "1-8 1-6 9-10", 10)
    score = tune(10, repeat=8, endings={7: (1,), 8: (1,), 9: (2,), 10: (2,)})
    after = taken_over(piece, score)
    assert numbers(piece.deck.route) == numbers(after.deck.route) == "1 2 3 1 2 4"
    assert not after.score.played
    assert not after.deck.route_by_hand


def test_the_route_in_bars_goes_with_every_edit() -> None:
    """A start of the first ending is not played the second time, wherever it came from; one on
    the upbeat to the second ending is played with it."""
    piece = paper("1,5,9", "", "1-8 1-6 9-10", 10)
    assert numbers(piece.deck.route) == "1 2 1 2 3"
    split = edit.split(piece, 2, Fraction(18), "s7")
    assert numbers(split.route) == "1 2 7 1 2 3"
    moved = edit.move(Piece(split, piece.score), 4, Fraction(23))
    assert numbers(moved.route) == "1 2 7 1 2 3"
    by_hand = edit.reroute(piece, [1, 3])
    again = edit.reroute(replace(piece, deck=by_hand), [])
    assert again.route == piece.deck.route


def test_a_score_without_notes_reads_the_route_that_was_told_and_no_sign() -> None:
    score = replace(tune(10, repeat=8), played=on_paper("Air", 10, "3/4", "", "1-10 5-10").played)
    starts = paper("1,5", "", bars=10).deck.starts
    assert numbers(phrase_route(score, starts)) == "1 2 2"


def test_an_order_that_nobody_told_is_taken_from_the_file_and_one_by_hand_stays() -> None:
    piece = paper("1,5", "")
    score = tune(16, repeat=8)
    assert numbers(taken_over(piece, score).deck.route) == "1 2 1 2"
    by_hand = replace(piece, deck=edit.reroute(piece, [1, 2, 2]))
    assert numbers(taken_over(by_hand, score).deck.route) == "1 2 2"


def test_former_starts_and_what_was_told_stay() -> None:
    piece = paper("1,5,9,13", "2")
    deck = edit.merge(piece, 3)
    deck = edit.advise(replace(piece, deck=deck), 2, ["slowly"])
    deck = edit.link(replace(piece, deck=deck), 1, 3)
    after = taken_over(replace(piece, deck=deck), tune(16, upbeat=True)).deck
    assert [(gone.id, gone.into, gone.onset) for gone in after.former] == [
        ("s3", "s2", Fraction(25))
    ]
    assert after.starts[1].advice == ("slowly",)
    assert ("s1", "s4") in {(like.one, like.other) for like in after.alike}


def test_bars_after_the_last_one_are_told_of() -> None:
    piece = paper("1,5", "", bars=14)
    assert more_bars(piece, tune(16)) == ["15", "16"]
    assert more_bars(piece, tune(14)) == []
    assert entry(taken_over(piece, tune(16)).score, piece.deck.starts[1].onset) == "b. 5"


def bars_in(score: Score, number: str, **fields: object) -> Score:
    bars = tuple(replace(bar, **fields) if bar.label == number else bar for bar in score.bars)
    return replace(score, bars=bars)


MISFITS = {
    "fewer bars": (tune(12), "it has no bar 13 and ends with bar 12, of 16 bars"),
    "another metre": (tune(16, meter=Meter(4, 4)), "it is in 4/4 in bar 1, the piece in 3/4"),
    "another metre later": (
        bars_in(tune(16), "9", meter=Meter(6, 8)),
        "it is in 6/8 in bar 9, the piece in 3/4",
    ),
    "no repeat": (tune(16), "it goes on with bar 9 after bar 8, the piece goes on with bar 1"),
    "another repeat": (
        tune(16, repeat=4),
        "it goes on with bar 1 after bar 4, the piece goes on with bar 5",
    ),
    "one repeat more": (
        bars_in(tune(16, repeat=8), "16", repeat_times=2),
        "it goes on with bar 9 after bar 16, the piece ends",
    ),
    "a bar twice": (bars_in(tune(16), "5", label="4"), "it has two bars printed 4"),
    "a bar too short": (
        cut(tune(16, repeat=8), "13", 2),
        "it has no place for start 2, upbeat to b. 14",
    ),
}


@pytest.mark.parametrize("name", MISFITS)
def test_a_file_that_does_not_fit_is_refused_and_says_where(name: str) -> None:
    score, says = MISFITS[name]
    piece = paper("1,13:3", "", "1-8 1-16")
    with pytest.raises(TrainerError) as told:
        taken_over(piece, replace(score, source="air.musicxml"))
    assert str(told.value).startswith("air.musicxml does not fit Air: ")
    assert says in str(told.value)
    assert str(told.value).count(". ") <= 1 + says.count(". ")


def test_two_starts_at_one_place_are_refused() -> None:
    with pytest.raises(TrainerError, match=r"Starts 1 and 2 would both begin at b\. 1 in"):
        taken_over(paper("1,1:1"), tune(16))
