"""Whole pieces played through, with breaks at known places."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from random import Random
from statistics import median
from time import thread_time

import pytest

from tests.listen.build import PIECE, after, chords, played
from trainer.deck.model import Piece
from trainer.demo import demo_pieces
from trainer.errors import TrainerError
from trainer.listen.follow import Follower, Slip, taken_up
from trainer.listen.lattice import ADVANCE
from trainer.listen.model import Heard
from trainer.listen.score import clusters
from trainer.score.model import Bar, Meter, Score, Staff
from trainer.score.route import bar_route

DEMO = demo_pieces()
NEAR = 1  # quarters by which a place may be told otherwise
LONG = 3.5  # seconds that a break lasts


@dataclass(frozen=True)
class Broken:
    """After the chord with the number `at` of the route the playing goes on with number `to`,
    some foreign notes before it."""

    at: int
    to: int
    stray: int = 0


def route(piece: Piece) -> list[int]:
    """The chords in the order in which the score asks for them, repeats and all."""
    bars: dict[int, list[int]] = {}
    for number, chord in enumerate(clusters(piece.score)):
        bars.setdefault(piece.score.bar_at(exact(chord.onset)).index, []).append(number)
    return [number for visit in bar_route(piece.score) for number in bars.get(visit.bar, [])]


def exact(onset: float) -> Fraction:
    return Fraction(onset).limit_denominator(960)


def performed(
    piece: Piece, *breaks: Broken, seed: int = 1, slips: float = 0.03, pace: float = 0.5
) -> list[Heard]:
    """A whole piece in uneven time, with a share of wrong notes, one left out, and one too many."""
    rng, made, order = Random(seed), clusters(piece.score), route(piece)
    todo = {one.at: one for one in breaks}
    notes, time, place = [], 1.0, 0
    while place < len(order):
        chord = made[order[place]]
        for k, pitch in enumerate(chord.of("both")):
            fate = rng.random()
            if fate < slips and k:
                continue
            wrong = rng.choice((-2, -1, 1, 2)) if fate > 1 - slips else 0
            notes.append(Heard(pitch + wrong, time + 0.006 * k + rng.uniform(0, 0.03)))
        if one := todo.pop(place, None):
            strays = [Heard(rng.randrange(45, 80), time + 0.4 + 0.3 * k) for k in range(one.stray)]
            notes += strays
            time += LONG + 0.3 * one.stray
            place = one.to
            continue
        if place + 1 < len(order):
            step = made[order[place + 1]].onset - chord.onset
            if order[place + 1] != order[place] + 1:  # a repeat
                step = float(piece.score.bar_at(exact(chord.onset)).end) - chord.onset
            time += step * pace * rng.uniform(0.9, 1.1)
        place += 1
    return sorted(notes, key=lambda note: note.time)


def slips(piece: Piece, notes: list[Heard]) -> tuple[Slip, ...]:
    follower = Follower(piece)
    found: list[Slip] = []
    for note in notes:
        follower.hear(note)
        found += follower.take()
    return (*found, *follower.end())


def is_at(told: Fraction | None, piece: Piece, place: int) -> bool:
    onset = clusters(piece.score)[route(piece)[place]].onset
    return told is not None and abs(float(told) - onset) <= NEAR


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("piece", DEMO, ids=lambda piece: piece.deck.title)
def test_a_piece_played_through_has_no_slips(piece: Piece, seed: int) -> None:
    """Repeats are played, and some notes are wrong."""
    assert slips(piece, performed(piece, seed=seed)) == ()


@pytest.mark.parametrize("way", ["there", "before", "a start before", "far on", "from the top"])
def test_a_break_is_told_with_where_it_went_on(way: str) -> None:
    """In most pieces and with other wrong notes: where a bar sounds like the next one, or the note
    before the hole was wrong, either may be meant."""
    tries = [(piece, seed) for piece in DEMO for seed in (1, 2)]
    assert sum(is_told(way, piece, seed) for piece, seed in tries) >= 0.8 * len(tries)


def is_told(way: str, piece: Piece, seed: int) -> bool:
    order, made = route(piece), clusters(piece.score)
    starts = sorted(
        order.index(bisect_left([chord.onset for chord in made], float(start.onset)))
        for start in piece.deck.starts
    )
    at = starts[len(starts) // 2] + 5 + seed
    to = {
        "there": at + 1,
        "before": at - 4,
        "a start before": starts[len(starts) // 2 - 1],
        "far on": starts[len(starts) // 2 + 2],
        "from the top": 0,
    }[way]
    found = slips(piece, performed(piece, Broken(at, to), seed=seed))
    return (
        len(found) == 1
        and is_at(found[0].broke_at, piece, at)
        and is_at(found[0].taken_up_at, piece, to)
        and found[0].kind == ("hesitation" if to == at + 1 else "back" if to < at else "on")
        and abs(found[0].seconds - LONG) < 1
    )


def test_each_of_several_breaks_is_told_once_and_in_order() -> None:
    piece = DEMO[0]
    breaks = Broken(40, 41), Broken(90, 70, stray=3), Broken(130, 131)
    found = slips(piece, performed(piece, *breaks, seed=4))
    assert len(found) == len(breaks)
    for slip, one in zip(found, breaks, strict=True):
        assert is_at(slip.broke_at, piece, one.at)
        assert is_at(slip.taken_up_at, piece, one.to)
    assert all(a.time < b.time for a, b in pairwise(found))


def test_a_stutter_and_a_quick_correction_are_no_slips() -> None:
    """The playing goes on without a hole."""
    notes = after(played(chords(0, 20)), played(chords(18, 40)), 0.5)
    wrong = [Heard(note.pitch + 1, note.time) for note in played(chords(40, 41))]
    notes = after(notes, [*wrong], 0.5)
    notes = after(notes, played(chords(40, 64)), 0.4)
    assert slips(PIECE, notes) == ()


def test_what_is_believed_is_a_beginning_of_all_that_is_told_later() -> None:
    """Bars looped, left and taken up again in any order: each step goes on from the one before
    it, whatever is settled in between."""
    for seed in range(12):
        rng, piece = Random(seed), DEMO[seed % len(DEMO)]
        follower, made = Follower(piece), clusters(piece.score)
        time = 0.0
        for _ in range(30):
            begin = rng.randrange(len(made) - 12)
            for _ in range(rng.choice((1, 1, 2, 3))):
                for one in made[begin : begin + rng.randrange(3, 12)]:
                    for pitch in one.of("both"):
                        follower.hear(Heard(pitch + (rng.random() < 0.05), time))
                    time += rng.uniform(0.1, 0.4)
        follower.end()
        own = [step for step in follower._steps if step.column >= 0]
        for before, step in pairwise(own):
            if step.move == ADVANCE and before.column >= step.column:
                ways = follower._ways(before, step)
                assert any(way > 0 for way in ways), (seed, step.note.time)


def test_notes_that_are_not_written_are_no_hole() -> None:
    """A trill, a run or an arpeggio of some seconds, played between two chords."""
    for count, away in ((40, (11, 13)), (30, range(6, 36)), (24, (1, 5, 8, 13))):
        notes = played(chords(0, 21))
        top = notes[-1].pitch
        trill = [Heard(top + away[k % len(away)], 0.12 * k) for k in range(count)]
        notes = after(after(notes, trill, 0.2), played(chords(21, 64)), 0.3)
        assert slips(PIECE, notes) == ()


def test_before_a_pace_is_known_no_hole_is_told() -> None:
    notes = played(chords(0, 3), pace=4.0)
    assert slips(PIECE, after(notes, played(chords(3, 64)), 4.0)) == ()


def test_a_slow_piece_has_no_holes_and_a_new_tempo_is_none() -> None:
    assert slips(PIECE, played(chords(0, 64), pace=3.5)) == ()
    slower = after(played(chords(0, 21)), played(chords(21, 64), pace=3.0), 3.0)
    assert slips(PIECE, slower) == ()


@pytest.mark.parametrize(("at", "told"), [(21, "hesitation"), (32, ""), (20, "hesitation")])
def test_a_hole_is_a_hesitation_inside_a_phrase_and_nothing_at_its_end(at: int, told: str) -> None:
    """A page is turned between two phrases; whoever waits long there hesitates."""
    waited = after(played(chords(0, at)), played(chords(at, 64)), 4.0)
    found = slips(PIECE, waited)
    assert [slip.kind for slip in found] == ([told] if told else [])
    long = slips(PIECE, after(played(chords(0, at)), played(chords(at, 64)), 12.0))
    assert [slip.kind for slip in long] == ["hesitation"]


def test_the_last_chord_struck_again_after_a_hole_is_a_hesitation() -> None:
    again = after(played(chords(0, 22)), played(chords(21, 64)), 3.5)
    (slip,) = slips(PIECE, again)
    assert (slip.kind, slip.sure) == ("hesitation", True)


@pytest.mark.parametrize("bars", [1, 2])
def test_going_back_without_a_hole_is_a_slip(bars: int) -> None:
    back = after(played(chords(0, 30)), played(chords(30 - 4 * bars, 64)), 0.5)
    (slip,) = slips(PIECE, back)
    assert (slip.kind, slip.taken_up_at) == ("back", Fraction(30 - 4 * bars))
    assert 28 <= slip.broke_at <= 29


def test_away_and_back_to_where_it_would_have_been_is_doubt() -> None:
    """Eight quarters as in another place, in the time of those that are written."""
    notes = after(played(chords(0, 20)), played(chords(48, 56)), 0.5)
    (slip,) = slips(PIECE, after(notes, played(chords(28, 64)), 0.5))
    assert (slip.sure, slip.broke_at) == (False, Fraction(19))
    away = after(notes, played(chords(56, 64)), 0.5)  # and to stay there is none
    (slip,) = slips(PIECE, away)
    assert (slip.sure, slip.kind, slip.taken_up_at) == (True, "on", Fraction(48))


def test_a_repeat_is_a_way_as_good_as_going_on() -> None:
    """Played and left out, in each of the pieces that have one."""
    for piece in DEMO:
        bars = [visit.bar for visit in bar_route(piece.score)]
        if len(bars) == len(piece.score.bars):
            continue
        plain = sorted(set(bars) - {b.index for b in piece.score.bars if 1 in b.endings})
        made = clusters(piece.score)
        notes: list[Heard] = []
        for index in plain:
            bar = piece.score.bars[index]
            some = [one for one in made if bar.start <= exact(one.onset) < bar.end]
            begin = notes[-1].time + 0.3 if notes else 0.0
            notes += played(some, at=begin)
        assert slips(piece, notes) == ()


def test_where_it_was_left_for_good_is_told_at_the_end() -> None:
    follower = Follower(PIECE)
    for note in played(chords(0, 40)):
        follower.hear(note)
    assert follower.place == 39
    assert not follower.at_end
    assert follower.take() == ()
    (slip,) = follower.end()
    assert (slip.kind, float(slip.broke_at)) == ("end", 39)
    assert slip.taken_up_at is None
    assert follower.end() == ()


def test_at_the_end_of_the_piece_nothing_lacks() -> None:
    follower = Follower(PIECE)
    notes = played(chords(0, 64))
    for note in notes:
        follower.hear(note)
    assert follower.at_end
    assert follower.end() == ()
    assert follower.counts() == {"right": len(notes)}
    assert [onset for _, onset in follower.matched()] == [
        chord.onset for chord in chords(0, 64) for _ in chord.of("both")
    ]


def test_a_slip_is_known_before_the_end() -> None:
    follower, piece = Follower(DEMO[0]), DEMO[0]
    known = None
    for number, note in enumerate(performed(piece, Broken(30, 31))):
        follower.hear(note)
        if known is None and follower.take():
            known = number
    assert known is not None
    assert known < 250


def test_the_start_where_it_was_taken_up_is_named() -> None:
    second, third = (start.id for start in PIECE.deck.starts[1:3])
    slip = Slip("back", 9.0, Fraction(30), Fraction(16), 3.0)
    assert taken_up(PIECE, slip) == second
    assert taken_up(PIECE, Slip("on", 9.0, Fraction(20), Fraction(33), 3.0)) == third
    assert taken_up(PIECE, Slip("on", 9.0, Fraction(20), Fraction(38), 3.0)) == ""
    assert taken_up(PIECE, Slip("end", 9.0, Fraction(20))) == ""


def test_notes_that_are_not_of_the_piece_have_no_place_and_no_slips() -> None:
    rng, follower = Random(3), Follower(PIECE)
    for number in range(400):
        follower.hear(Heard(rng.randrange(21, 109), 0.2 * number))
    assert follower.place is None
    assert len(follower.end()) <= 1
    assert follower.counts()["right"] < 40


def test_nothing_at_all_is_no_slip() -> None:
    follower = Follower(PIECE)
    assert follower.end() == ()
    assert not follower.counts()


def test_a_piece_without_notes_is_refused() -> None:
    bar = Bar(0, "1", Fraction(0), Fraction(4), Meter(4, 4))
    empty = Score("Silence", (Staff(0, "piano"),), (bar,), ())
    with pytest.raises(TrainerError, match="notes of this piece are not known"):
        Follower(Piece(PIECE.deck, empty))


def test_an_event_costs_no_more_late_than_early() -> None:
    """Ten thousand notes; each is heard within some fixed share of a look at the port."""
    piece = DEMO[0]
    notes = performed(piece)
    follower, times = Follower(piece), []
    for number in range(10_000):
        note = notes[number % len(notes)]
        time = note.time + number // len(notes) * (notes[-1].time + 1)
        began = thread_time()
        follower.hear(Heard(note.pitch, time))
        times.append(thread_time() - began)
    early, late = times[1000:4000], times[7000:]
    assert median(late) < 2 * median(early)
    assert sum(times) / len(times) < 0.004
