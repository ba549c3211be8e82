"""Attempts at a made-up piece: what is accepted, and what is said of it."""

from __future__ import annotations

import tracemalloc
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from random import Random
from time import process_time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.listen.build import PART, WAITING, after, chords, heard, played, start
from tests.pieces import piece_of
from trainer.errors import TrainerError
from trainer.listen.match import Listener
from trainer.listen.model import Costs, Heard, Policy
from trainer.listen.score import waiting
from trainer.score.model import Bar, Meter, Note, Score, Staff

CLEAN = played(chords(16, 28))


def test_a_clean_attempt_is_accepted_with_nothing_wrong() -> None:
    verdict = heard(CLEAN, 2)
    assert verdict.accepted
    assert verdict.answer == "yes"
    assert (verdict.played, verdict.same) == (start(2), (start(2),))
    assert (verdict.wrong, verdict.missed, verdict.extra) == (0, 0, 0)
    assert verdict.latency == pytest.approx(1.0)
    assert verdict.tempo == pytest.approx(120, rel=0.01)
    assert verdict.steadiness == pytest.approx(1, abs=0.05)
    assert (verdict.restarts, verdict.pauses, verdict.jump) == ((), (), None)
    assert not verdict.stopped
    assert verdict.hands == "both"
    assert all(0 <= chance <= 1 for chance in verdict.sure.values())


@pytest.mark.parametrize("asked", [1, 2, 3, 4])
def test_each_start_is_told_from_all_others(asked: int) -> None:
    notes = played(chords(16 * (asked - 1), 16 * asked))
    assert [heard(notes, other).accepted for other in (1, 2, 3, 4)] == [
        other == asked for other in (1, 2, 3, 4)
    ]
    assert heard(notes, asked % 4 + 1).played == start(asked)


def test_the_join_is_reached_with_the_first_chord_of_the_next_start() -> None:
    assert not heard(played(chords(16, 32)), 2).join_reached
    assert heard(played(chords(16, 33)), 2).join_reached


def test_errors_are_counted() -> None:
    wrong = [replace(n, pitch=n.pitch + 1) if i == 6 else n for i, n in enumerate(CLEAN)]
    found = heard(wrong, 2)
    assert (found.accepted, found.wrong, found.missed, found.extra) == (True, 1, 0, 0)
    found = heard([note for i, note in enumerate(CLEAN) if i != 6], 2)
    assert (found.accepted, found.wrong, found.missed, found.extra) == (True, 0, 1, 0)
    found = heard([*CLEAN[:6], Heard(40, CLEAN[5].time + 0.2), *CLEAN[6:]], 2)
    assert (found.accepted, found.wrong, found.missed, found.extra) == (True, 0, 0, 1)


def test_a_restart_is_heard_where_it_happens() -> None:
    notes = after(played(chords(16, 20)), CLEAN, 1.5)
    verdict = heard(notes, 2)
    assert verdict.accepted
    assert list(verdict.restarts) == pytest.approx([notes[6].time])
    assert verdict.latency == pytest.approx(1.0)
    assert (verdict.wrong, verdict.missed, verdict.extra) == (0, 0, 0)


@pytest.mark.parametrize("until", [19, 24])
def test_a_restart_needs_no_pause(until: int) -> None:
    verdict = heard(after(played(chords(16, until)), CLEAN, 0.5), 2)
    assert verdict.accepted
    assert len(verdict.restarts) == 1


@pytest.mark.parametrize("length", [1, 2, 3, 5])
@pytest.mark.parametrize("slip", [None, 61, 90])
def test_a_restart_is_heard_whatever_is_struck_before_its_first_note(
    length: int, slip: int | None
) -> None:
    """Of a start, then a pause, then a wrong key with the first chord."""
    first = played(chords(16, 16 + length))
    notes = after(first, CLEAN, 1.5)
    if slip is not None:
        notes.insert(len(first), Heard(slip, notes[len(first)].time - 0.02))
    verdict = heard(notes, 2)
    assert (verdict.accepted, len(verdict.restarts), verdict.jump) == (True, 1, None)
    assert (verdict.wrong, verdict.missed) == (0, 0)
    assert verdict.extra == (slip is not None)


def test_a_wrong_chord_that_shares_a_note_with_the_first_is_a_false_start() -> None:
    shared = chords(16, 17)[0].right[0]
    wrong = [Heard(pitch, 1 + 0.01 * i) for i, pitch in enumerate((shared, 61, 90))]
    verdict = heard(after(wrong, CLEAN, 1.5), 2)
    assert (verdict.accepted, len(verdict.restarts), verdict.extra) == (True, 1, 2)


def test_what_sounds_like_the_start_is_the_start_again() -> None:
    """Where the piece says the same elsewhere, whatever a jump may cost."""
    cheap = Policy(costs=replace(Costs(), jump=1.0, jump_gap=1.0))
    notes = after(played(chords(32, 38)), played(chords(32, 40)), 1.5)
    verdict = heard(notes, 3, policy=cheap)
    assert (len(verdict.restarts), verdict.jump) == (1, None)


@pytest.mark.parametrize("late", ["left", "right"])
def test_a_hand_that_comes_after_the_other_is_not_wrong(late: str) -> None:
    """By so much that some of its notes come with the next chord of the other."""
    quick = {hand: played(chords(16, 32), pace=0.2, hands=hand) for hand in ("left", "right")}
    quick[late] = [replace(note, time=note.time + 0.22) for note in quick[late]]
    notes = sorted([*quick["left"], *quick["right"]], key=lambda note: note.time)
    verdict = heard(notes, 2)
    assert (verdict.accepted, verdict.hands) == (True, "both")
    assert (verdict.wrong, verdict.missed, verdict.extra) == (0, 0, 0)


def test_a_false_start_is_no_wrong_start() -> None:
    foreign = [Heard(pitch, 0.4 + 0.3 * i) for i, pitch in enumerate((61, 90, 63))]
    notes = after(foreign, CLEAN, 2.0)
    verdict = heard(notes, 2)
    assert verdict.accepted
    assert verdict.latency == pytest.approx(notes[3].time)
    assert len(verdict.restarts) == 1
    assert verdict.extra == 3


def test_a_stutter_is_forgiven_and_is_no_restart() -> None:
    stuttered = played(chords(16, 22))
    stuttered = after(stuttered, played(chords(20, 28)), 0.6)
    verdict = heard(stuttered, 2)
    assert verdict.accepted
    assert not verdict.restarts
    assert (verdict.wrong, verdict.missed) == (0, 0)


@pytest.mark.parametrize("hand", ["right", "left"])
def test_one_hand_alone_is_heard_as_such(hand: str) -> None:
    notes = played(chords(48, 60), hands=hand)
    verdict = heard(notes, 4)
    assert verdict.accepted
    assert verdict.hands == hand
    assert verdict.missed == 0
    strict = heard(notes, 4, policy=Policy(one_hand="reject"))
    assert (strict.accepted, strict.played) == (False, start(4))


def test_a_jump_is_named_and_the_bar_it_left() -> None:
    notes = after(played(chords(16, 24)), played(chords(48, 60)), 0.8)
    verdict = heard(notes, 2)
    assert verdict.accepted
    assert verdict.jump is not None
    assert (verdict.jump.to, verdict.jump.same) == (start(4), (start(4),))
    assert verdict.broke_at == 23
    assert not verdict.join_reached


def test_a_jump_to_a_look_alike_names_both() -> None:
    notes = after(played(chords(48, 56)), played(chords(0, 8)), 0.8)
    verdict = heard(notes, 4)
    assert verdict.jump is not None
    assert set(verdict.jump.same) == {start(1), start(3)}


def test_a_jump_that_is_taken_back_by_beginning_again_is_none() -> None:
    strayed = after(played(chords(16, 22)), played(chords(48, 56)), 0.8)
    verdict = heard(after(strayed, played(chords(16, 34)), 2.0), 2)
    assert (verdict.accepted, verdict.jump, verdict.join_reached) == (True, None, True)
    assert list(verdict.restarts) == pytest.approx([strayed[-1].time + 2])
    assert verdict.left == (55,)
    assert verdict.joined is not None
    assert verdict.joined > verdict.restarts[0]


def test_a_wrong_start_says_which_and_where_they_part() -> None:
    verdict = heard(played(chords(0, 12)), 3)
    assert verdict.answer == "no"
    assert verdict.played == start(1)
    assert verdict.parts == PART
    other = heard(CLEAN, 4)
    assert (other.played, other.parts) == (start(2), 48)


def test_look_alikes_are_equally_right_until_the_note_that_tells_them_apart() -> None:
    alike = played(chords(0, 8))
    for asked in (1, 3):
        verdict = heard(alike, asked)
        assert verdict.accepted
        assert set(verdict.same) == {start(1), start(3)}


def test_the_provisional_answer_is_final_at_the_telling_note() -> None:
    listener = Listener(WAITING, start(3))
    said = [listener.hear(note) for note in played(chords(0, 12))]
    assert said[:3] == [None] * 3
    kept = [one for one in said if one]
    count = len(played(chords(0, 8)))
    until = [one for one in kept if one.notes <= count]
    assert {one.answer for one in until} == {"yes"}
    assert not any(one.final for one in until)
    assert kept[-1].final
    assert (kept[-1].answer, kept[-1].leading) == ("no", start(1))


def test_one_clear_start_is_final_after_four_notes() -> None:
    listener = Listener(WAITING, start(4))
    said = [listener.hear(note) for note in played(chords(48, 52))]
    assert said[3] is not None
    assert (said[3].answer, said[3].final) == ("yes", True)


def test_a_stop_and_a_hesitation() -> None:
    short = played(chords(16, 20))
    verdict = heard(short, 2, until=short[-1].time + 4)
    assert verdict.accepted
    assert verdict.stopped
    assert verdict.broke_at == 19
    assert not heard(short, 2, until=short[-1].time + 0.5).stopped
    halting = after(played(chords(16, 22)), played(chords(22, 28)), 3.0)
    pauses = heard(halting, 2).pauses
    assert [pause.onset for pause in pauses] == [22]
    assert pauses[0].seconds == pytest.approx(2.5, abs=0.2)


def test_an_upbeat_may_be_played_first_unless_it_may_not() -> None:
    notes = played(chords(14, 28))
    verdict = heard(notes, 2)
    assert (verdict.accepted, verdict.upbeat) == (True, True)
    assert not heard(notes, 2, policy=Policy(upbeat="reject")).upbeat


@pytest.mark.parametrize(("shift", "rule"), [(12, "octave"), (-12, "octave"), (3, "transposed")])
def test_an_octave_off_and_a_transposition_are_told(shift: int, rule: str) -> None:
    moved = [replace(note, pitch=note.pitch + shift) for note in CLEAN]
    verdict = heard(moved, 2)
    assert (verdict.accepted, verdict.shift, verdict.played) == (False, shift, start(2))
    lenient = Policy(octave="accept") if rule == "octave" else Policy(transposed="accept")
    assert heard(moved, 2, policy=lenient).accepted


def test_nothing_of_the_piece() -> None:
    rng = Random(3)
    noise = [Heard(rng.randrange(60, 84), 1 + 0.3 * i) for i in range(30)]
    assert [heard(noise, asked).accepted for asked in (1, 2, 3, 4)] == [False] * 4
    verdict = heard([], 2, until=10)
    assert (verdict.accepted, verdict.played, verdict.latency) == (False, "", None)
    foreign = heard([Heard(20, 1.0), Heard(21, 2.0)], 2)
    assert (foreign.accepted, foreign.played) == (False, "")


def test_an_unknown_start_is_refused_in_one_sentence() -> None:
    with pytest.raises(TrainerError, match="no start 'x'"):
        Listener(WAITING, "x")


def test_an_hour_of_silence_then_the_start() -> None:
    notes = [replace(note, time=note.time + 3600) for note in CLEAN]
    verdict = heard(notes, 2, until=2 * 3600)
    assert verdict.accepted
    assert verdict.latency == pytest.approx(3601)


@dataclass
class Spent:
    seconds: list[float]
    memory: int


def test_ten_thousand_random_notes_do_not_slow_down_or_pile_up() -> None:
    rng = Random(1)
    policy = Policy(most=500)
    listener = Listener(WAITING, start(2), policy)
    spent = Spent([], 0)
    tracemalloc.start()
    try:
        for thousand in range(10):
            began = process_time()
            for i in range(1000):
                time = thousand * 100 + i / 10
                listener.hear(Heard(rng.randrange(128), time, rng.randrange(1, 128)))
            spent.seconds.append(process_time() - began)
            if thousand == 1:
                spent.memory = tracemalloc.get_traced_memory()[0]
        grown = tracemalloc.get_traced_memory()[0] - spent.memory
    finally:
        tracemalloc.stop()
    assert max(spent.seconds[1:]) <= 3 * spent.seconds[0] + 0.1
    assert grown < 100_000
    assert not listener.end().accepted


def test_a_note_costs_no_more_late_than_early() -> None:
    rng = Random(1)
    listener = Listener(WAITING, start(2), Policy(most=10_000))
    spent = []
    for thousand in range(4):
        began = process_time()
        for i in range(1000):
            listener.hear(Heard(rng.randrange(40, 90), thousand * 100 + i / 10))
        spent.append(process_time() - began)
    assert spent[-1] < 3 * spent[0] + 0.1


@settings(max_examples=30, deadline=None)
@given(st.randoms(use_true_random=False), st.integers(1, 4))
def test_the_order_within_a_chord_does_not_matter(rng: Random, asked: int) -> None:
    notes = []
    for chord in chords(16 * (asked - 1), 16 * asked):
        pitches = list(chord.of("both"))
        rng.shuffle(pitches)
        notes += [Heard(p, 1 + 0.5 * chord.onset + 0.004 * i) for i, p in enumerate(pitches)]
    verdict = heard(notes, asked)
    assert verdict.accepted
    assert (verdict.wrong, verdict.missed, verdict.extra) == (0, 0, 0)


@settings(max_examples=30, deadline=None)
@given(st.floats(0, 500), st.floats(0.4, 2.5), st.integers(1, 4))
def test_neither_a_later_time_nor_another_tempo_changes_the_answer(
    shift: float, stretch: float, asked: int
) -> None:
    notes = after(played(chords(32, 35)), played(chords(32, 46)), 2.0)
    moved = [Heard(n.pitch, shift + n.time * stretch) for n in notes]
    plain, other = heard(notes, asked), heard(moved, asked)
    assert (plain.accepted, plain.played) == (other.accepted, other.played)
    assert (plain.wrong, plain.missed, plain.extra) == (other.wrong, other.missed, other.extra)
    assert other.tempo == pytest.approx((plain.tempo or 0) / stretch, rel=0.03)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 127), st.floats(0, 5), st.integers(1, 127)), max_size=25),
    st.integers(1, 4),
)
def test_whatever_is_played_gives_a_verdict(keys: list[tuple[int, float, int]], asked: int) -> None:
    time, notes = 0.0, []
    for pitch, step, velocity in keys:
        time += step
        notes.append(Heard(pitch, time, velocity))
    verdict = heard(notes, asked, until=time + 3)
    assert verdict.notes == len(notes)
    assert min(verdict.wrong, verdict.missed, verdict.extra) >= 0
    assert verdict.wrong + verdict.extra <= len(notes)
    assert all(0 <= chance <= 1 for chance in verdict.sure.values())


def test_the_same_notes_in_another_rhythm_are_told_apart_by_it() -> None:
    meter, pitches = Meter(4, 4), (60, 64, 67, 72, 71, 67, 64, 62)
    long_short = [i + (Fraction(1, 2) if i % 2 else 0) for i in range(8)]
    onsets = [Fraction(i) for i in range(8)] + [Fraction(8 + at) for at in long_short]
    notes = tuple(
        Note(at, Fraction(1, 4), pitch, "C", 0, 4, 0)
        for at, pitch in zip(onsets, pitches * 2, strict=True)
    )
    bars = tuple(Bar(i, str(i + 1), Fraction(4 * i), Fraction(4), meter) for i in range(4))
    ready = waiting(piece_of(Score("t", (Staff(0, "a"),), bars, notes), [0, 8], "d"))

    def hear(rhythm: Sequence[Fraction], asked: str) -> tuple[bool, str]:
        listener = Listener(ready, asked)
        for at, pitch in zip(rhythm, pitches, strict=True):
            listener.hear(Heard(pitch, 1 + 0.6 * float(at)))
        verdict = listener.end()
        return verdict.accepted, verdict.played

    even, uneven = onsets[:8], onsets[8:]
    assert hear(even, "d-s1") == (True, "d-s1")
    assert hear(even, "d-s2") == (False, "d-s1")
    assert hear(uneven, "d-s2") == (True, "d-s2")
    assert hear(uneven, "d-s1") == (False, "d-s2")


def test_a_grace_note_in_one_of_two_equal_passages_does_not_decide() -> None:
    twice = (60, 64, 67, 72, 71, 67, 64, 62) * 2
    grace = Note(Fraction(11), Fraction(0), 74, "D", 0, 5, 0, grace=True)
    notes = [Note(Fraction(i), Fraction(1), p, "C", 0, 4, 0) for i, p in enumerate(twice)]
    bars = tuple(Bar(i, str(i + 1), Fraction(4 * i), Fraction(4), Meter(4, 4)) for i in range(4))
    score = Score("t", (Staff(0, "a"),), bars, (*notes[:11], grace, *notes[11:]))
    ready = waiting(piece_of(score, [0, 8], "d"))
    for asked in ("d-s1", "d-s2"):
        listener = Listener(ready, asked)
        for i, pitch in enumerate((60, 64, 67, 74, 72, 71, 67)):
            listener.hear(Heard(pitch, 1 + 0.5 * i))
        verdict = listener.end()
        assert verdict.accepted
        assert (verdict.wrong, verdict.missed) == (0, 0)
        assert verdict.extra == (asked == "d-s1")  # where no grace note is written
