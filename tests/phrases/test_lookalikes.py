"""Look-alikes: which openings are alike, and where they part."""

from __future__ import annotations

import json
from fractions import Fraction
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.phrases.build import broken_chords, melody, moved
from tests.score.reading import read
from trainer.phrases.lookalikes import families
from trainer.score.cite import beat_token
from trainer.score.model import Score

DEMOS = Path(__file__).parents[2] / "demo_scores"

A: list[tuple[int | None, Fraction | int]] = [(60, 1), (64, 1), (62, 1), (65, 1)]
B: list[tuple[int | None, Fraction | int]] = [(67, 1), (65, 1), (64, 1), (62, 1)]
C: list[tuple[int | None, Fraction | int]] = [(67, 1), (65, 1), (63, 1), (60, 1)]
UP = [(pitch + 5 if pitch else None, length) for pitch, length in A]


def at(*places: int) -> tuple[Fraction, ...]:
    return tuple(Fraction(place) for place in places)


def alone(score: Score, *starts: int) -> list[Fraction | None]:
    return [distinct.at for distinct in families(score, at(*starts)).distinct]


def test_two_endings_of_one_opening() -> None:
    score = melody([*A, *B, *A, *C])
    (pair,) = families(score, at(0, 8)).pairs
    assert pair.kind == "same"
    assert pair.parts_one == 6
    assert pair.parts_other == 14
    assert pair.difference is not None
    assert [head.pitch for head in pair.difference.one] == [64]
    assert [head.pitch for head in pair.difference.other] == [63]
    assert pair.words == "the melody goes to E♭ instead of E in b. 4, beat 3"
    assert not pair.repeat
    assert alone(score, 0, 8) == list(at(6, 14))


def test_a_repeat_is_told_apart_from_a_near_one() -> None:
    found = families(melody([*A, *B, *A, *B, *A, *C]), [Fraction(0), Fraction(8), Fraction(16)])
    repeats = {(pair.one, pair.other): pair.repeat for pair in found.pairs}
    assert repeats == {at(0, 8): True, at(0, 16): False, at(8, 16): False}
    assert found.families[0].starts == at(0, 8, 16)


def test_a_longer_stretch_inside_outranks_a_shorter_opening() -> None:
    """Both phrases begin with A; then bars 2 and 6 differ, and three equal bars part late."""
    one = [*A, *B, *UP, *A, *C, *B]
    other = [*A, *C, *UP, *A, *C, *UP]
    (pair,) = families(melody([*one, *other]), at(0, 24)).pairs
    assert pair.kind == "same"
    assert (pair.from_one, pair.from_other, pair.parts_one, pair.parts_other) == at(8, 32, 20, 44)
    assert pair.words.startswith("bb. 9-11 are bb. 3-5; ")


def test_transposed_opening() -> None:
    score = melody([*A, *B, *UP, *C])
    (pair,) = families(score, at(0, 8)).pairs
    assert pair.kind == "transposed"
    assert pair.interval == 5
    assert pair.parts_one == 4
    assert alone(score, 0, 8) == list(at(0, 8))


def test_where_the_piece_ends() -> None:
    (pair,) = families(melody([*A, *B, *A]), at(0, 8)).pairs
    assert pair.parts_one == 4
    assert pair.parts_other == 12
    assert pair.words == "the piece ends, where b. 2 goes on"


def test_a_figure_that_all_share_makes_no_family() -> None:
    chords = [(48, 60, 64, 67), (53, 57, 60, 65), (43, 59, 62, 67), (45, 57, 60, 64)] * 2
    chords += [(41, 57, 60, 65), (40, 55, 60, 64), (38, 57, 62, 65), (43, 55, 59, 62)]
    score = broken_chords(chords)
    found = families(score, [Fraction(16 * k) for k in range(3)])
    assert [(pair.one, pair.other) for pair in found.pairs] == [at(0, 16)]
    assert found.pairs[0].kind == "same"


LEAD: list[tuple[int | None, Fraction | int]] = [(55, 1)]
OTHER: list[tuple[int | None, Fraction | int]] = [(59, Fraction(1, 2)), (57, Fraction(1, 2))]


def test_equal_bars_after_different_upbeats() -> None:
    """Two bars are equal from the bar line on; only the upbeats to them differ."""
    score = melody([*LEAD, *A, *B, *B[:3], *OTHER, *A, *B, (72, 4)], pickup=1)
    (pair,) = families(score, at(0, 12)).pairs
    assert (pair.kind, pair.from_one, pair.from_other) == ("same", Fraction(1), Fraction(13))
    assert pair.words == "bb. 4-5 are bb. 1-2; the melody goes to C instead of G in b. 6"


def test_equal_bars_inside_two_phrases() -> None:
    """Bars 2-3 come again as bars 6-7, in phrases that begin and end differently."""
    first = [*C, *A, *B, *A]
    second = [*UP, *A, *B, *UP]
    (pair,) = families(melody([*first, *second]), at(0, 16)).pairs
    assert (pair.from_one, pair.from_other) == at(4, 20)
    assert (pair.parts_one, pair.parts_other) == at(12, 28)
    assert not pair.repeat
    assert pair.words == "bb. 6-7 are bb. 2-3; the melody goes to F instead of C in b. 8"


def test_one_equal_bar_inside_two_phrases_is_no_trap() -> None:
    assert families(melody([*C, *A, *B, *UP, *A, *C]), at(0, 12)).pairs == ()


@pytest.mark.parametrize(
    ("semitones", "words"),
    [(5, "a fourth higher"), (-12, "an octave lower"), (14, "an octave and a tone higher")],
)
def test_a_transposed_phrase_is_named_by_its_interval(semitones: int, words: str) -> None:
    there = [(pitch + semitones if pitch else None, length) for pitch, length in [*A, *B]]
    (pair,) = families(melody([*A, *B, *A, *there, *C]), at(0, 12)).pairs
    assert pair.kind == "transposed"
    assert pair.words == f"the same {words}; from b. 6 on the melody no longer answers b. 3"


def test_few_or_no_starts() -> None:
    score = melody([*A, *B])
    assert families(score, []).pairs == ()
    assert alone(score, 0) == list(at(0))
    assert families(melody([(None, 4)]), [Fraction(0)]).distinct == ()


phrases = st.lists(st.sampled_from([A, B, C, UP]), min_size=2, max_size=12)


def _sounding(score: Score, start: Fraction, end: Fraction) -> list[tuple[Fraction, int]]:
    return [(n.onset - start, n.pitch) for n in score.notes_between(start, end)]


@settings(max_examples=60, deadline=None)
@given(phrases, st.integers(-4, 4))
def test_openings_agree_up_to_where_they_part(
    parts: list[list[tuple[int | None, Fraction | int]]], semitones: int
) -> None:
    score = melody([event for part in parts for event in part])
    starts = [Fraction(4 * k) for k in range(len(parts))]
    found = families(score, reversed(starts))
    assert found == families(score, starts)
    linked = {(pair.one, pair.other) for pair in found.pairs}
    assert len(linked) == len(found.pairs)
    assert all(one < other for one, other in linked)
    for pair in found.pairs:
        stop_one = pair.parts_one if pair.parts_one is not None else score.end - pair.other
        stop_other = pair.other + stop_one - pair.one
        one, other = (
            _sounding(score, pair.one, stop_one),
            _sounding(score, pair.other, stop_other),
        )
        if pair.parts_one is None or pair.kind == "shape" or pair.from_one != pair.one:
            continue
        assert [(at, pitch + pair.interval) for at, pitch in one] == other
        assert pair.parts_one > pair.one
        assert pair.parts_other is not None
        assert pair.parts_other - pair.other == pair.parts_one - pair.one
    again = families(moved(score, semitones), starts)
    assert [(p.one, p.other, p.kind, p.parts_one) for p in again.pairs] == [
        (p.one, p.other, p.kind, p.parts_one) for p in found.pairs
    ]


@settings(max_examples=60, deadline=None)
@given(phrases)
def test_the_discriminating_note_tells_a_start_from_all_others(
    parts: list[list[tuple[int | None, Fraction | int]]],
) -> None:
    score = melody([event for part in parts for event in part])
    found = families(score, [Fraction(4 * k) for k in range(len(parts))])
    told = {
        d.start: _sounding(score, d.start, d.at + Fraction(1, 8))
        for d in found.distinct
        if d.at is not None
    }
    for (one, first), (other, second) in combinations(told.items(), 2):
        ends = one + 100, other + 100
        long_one, long_other = _sounding(score, one, ends[0]), _sounding(score, other, ends[1])
        assert first != long_other[: len(first)] or len(long_other) < len(first) + 1
        assert second != long_one[: len(second)] or len(long_one) < len(second) + 1


@pytest.mark.parametrize("path", sorted(DEMOS.glob("*.starts.json")), ids=lambda path: path.stem)
def test_demo_scores_part_where_their_composer_says(path: Path) -> None:
    """Pairs whose openings agree for a bar; what the composer lists beyond them agrees less."""
    told = json.loads(path.read_text())
    score = read(path.with_name(path.name.replace(".starts.json", ".musicxml")).read_text())
    starts = [Fraction(start["offset_ql"]) for start in told["starts"]]
    found = {
        (starts.index(pair.one) + 1, starts.index(pair.other) + 1): pair.parts_one
        for pair in families(score, starts).pairs
        if pair.kind == "same" and pair.from_one == pair.one
    }
    wanted = {tuple(pair["starts"]): pair["part_at"] for pair in told["look_alikes"]}
    assert set(found) <= set(wanted)
    assert len(found) >= len(wanted) - 1
    for pair, parts in found.items():
        assert parts is not None
        bar = score.bar_at(parts)
        place = (bar.label, beat_token(bar.beat_at(parts)))
        beat = Fraction(wanted[pair]["beat"]).limit_denominator(48)
        assert place == (wanted[pair]["bar"], beat_token(beat))
