"""Blocked chords, chord names, numerals and local keys."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.benchmarks import name_chords
from tests.phrases.build import moved
from trainer.draw.hints import chord_name, hand_words
from trainer.score.blocks import FINGERS, Block, HandBlock, blocks
from trainer.score.chords import CADENTIAL, QUALITIES, TONES, Chord, numeral
from trainer.score.harmony import UNSURE
from trainer.score.key import Key, spelled
from trainer.score.keys import keys
from trainer.score.model import Bar, Meter, Note, Score, Staff

F = Fraction
HANDS = (Staff(0, "Piano", "right hand"), Staff(1, "Piano", "left hand"))
C_MAJOR, A_MINOR = Key("C", 0, "major"), Key("A", 0, "minor")

# A note in short: onset, length, pitch, staff.
Short = tuple[Fraction | float, Fraction | float, int, int]


def spelled_note(onset: Fraction, length: Fraction, pitch: int, staff: int, near: int = 0) -> Note:
    step, alter = spelled(pitch % 12, near)
    octave = (pitch - alter) // 12 - 1
    return Note(onset, length, pitch, step, alter, octave, staff)


def written_note(name: str, staff: int) -> Note:
    """A whole note at the beginning, such as "B-5"."""
    step, octave, alter = name[0], int(name[-1]), name.count("#") - name.count("-")
    pitch = 12 * (octave + 1) + "C D EF G A B".index(step) + alter - 24 * staff
    return Note(F(0), F(4), pitch, step, alter, octave - 2 * staff, staff)


def score_of(
    notes: Sequence[Short],
    *,
    bars: int = 1,
    meter: Meter = Meter(4, 4),  # noqa: B008
    fifths: int = 0,
    length: Fraction | None = None,
    staves: tuple[Staff, ...] = HANDS,
) -> Score:
    size = length or meter.length
    made = tuple(
        Bar(index, str(index + 1), size * index, size, meter, fifths=fifths)
        for index in range(bars)
    )
    written = [spelled_note(F(on), F(long), p, staff, fifths) for on, long, p, staff in notes]
    return Score("", staves, made, tuple(sorted(written, key=lambda n: (n.onset, n.pitch))))


def chord_of(onset: float, length: float, left: Sequence[int], right: Sequence[int]) -> list[Short]:
    both = [(1, pitch) for pitch in left] + [(0, pitch) for pitch in right]
    return [(onset, length, pitch, staff) for staff, pitch in both]


def names(found: Sequence[Block]) -> list[tuple[str, int, str, int] | None]:
    chords = [block.chord for block in found]
    return [(c.step, c.alter, c.quality, c.inversion) if c else None for c in chords]


def spans(found: Sequence[Block]) -> list[tuple[float, float]]:
    return [(float(block.onset), float(block.end)) for block in found]


CADENCE = [
    *chord_of(0, 4, [48], [60, 64, 67]),
    *chord_of(4, 2, [53], [60, 65, 69]),
    *chord_of(6, 2, [55], [59, 65, 67, 74]),
    *chord_of(8, 4, [48], [60, 64, 67, 72]),
]


def test_a_cadence_is_split_where_the_chord_changes() -> None:
    found = blocks(score_of(CADENCE, bars=3))
    assert spans(found) == [(0, 4), (4, 6), (6, 8), (8, 12)]
    assert names(found) == [
        ("C", 0, "major", 0),
        ("F", 0, "major", 0),
        ("G", 0, "7", 0),
        ("C", 0, "major", 0),
    ]
    assert [block.numeral for block in found] == ["I", "IV", "V7", "I"]
    assert {(block.key.step, block.key.mode) for block in found} == {("C", "major")}


def test_a_broken_chord_is_one_block_and_passing_notes_are_set_apart() -> None:
    figure: list[Short] = [(F(k, 2), F(1, 2), (48, 55, 52, 55)[k % 4], 1) for k in range(8)]
    tune: list[Short] = [(0, 2, 72, 0), (2, 1, 74, 0), (3, 1, 76, 0)]
    (block,) = blocks(score_of(figure + tune))
    assert names([block]) == [("C", 0, "major", 0)]
    right, left = block.hands
    assert [note.pitch for note in left.notes] == [48, 52, 55]
    assert not left.passing
    assert [note.pitch for note in right.notes] == [72, 76]
    assert [note.pitch for note in right.passing] == [74]


def test_a_wide_chord_is_flagged_and_spread_in_grips_from_below() -> None:
    score = score_of(chord_of(0, 4, [36, 43, 52], [64, 67, 72]))
    right, left = blocks(score)[0].hands
    assert not right.wide
    assert not right.spread
    assert left.wide
    assert [[note.pitch for note in grip] for grip in left.spread] == [[36, 43], [52]]
    assert not blocks(score, span=16)[0].hands[1].wide
    small = blocks(score, span=7)[0].hands[0]
    assert small.wide
    assert [[note.pitch for note in grip] for grip in small.spread] == [[64, 67], [72]]


def test_more_notes_than_fingers_are_spread_but_not_wide() -> None:
    (hand,) = blocks(score_of([(0, 4, pitch, 0) for pitch in (60, 62, 64, 66, 67, 69)]))[0].hands
    assert len(hand.notes) > FINGERS or hand.passing
    assert all(len(grip) <= FINGERS for grip in hand.spread)
    assert not hand.wide


def test_one_held_chord() -> None:
    (block,) = blocks(score_of(chord_of(0, 4, [48], [64, 67, 72])))
    assert names([block]) == [("C", 0, "major", 0)]


def test_a_single_melody_is_sure_of_no_chord_where_it_implies_none() -> None:
    line = (Staff(0, "Voice"),)
    scale: list[Short] = [(k, 1, p, 0) for k, p in enumerate((60, 62, 64, 65, 67, 69, 71, 72))]
    found = blocks(score_of(scale, bars=2, staves=line))
    assert all(block.chord is None and block.numeral == "" for block in found)
    assert [n.pitch for block in found for hand in block.hands for n in hand.notes] == [60, 67]
    held = blocks(score_of([(0, 4, 60, 0)], staves=line))
    assert names(held) == [None]


def test_a_single_line_of_broken_chords_names_them() -> None:
    pitches = (48, 60, 64, 67, 72, 67, 64, 60)
    line: list[Short] = [(F(k, 2), F(1, 2), p, 0) for k, p in enumerate(pitches)]
    assert names(blocks(score_of(line, staves=(Staff(0, "Cello"),)))) == [("C", 0, "major", 0)]


def test_other_bars() -> None:
    five = score_of(chord_of(0, 2.5, [43], [59, 62]) * 2, meter=Meter(5, 8), bars=2)
    first, second = blocks(five)
    assert names([first, second]) == [("G", 0, "major", 0), None]
    assert second.hands == ()
    free = score_of(CADENCE, length=F(12))
    assert [block.chord and block.chord.root for block in blocks(free)] == [0, 5, 7, 0]
    assert blocks(free, 3, F(3)) == ()
    assert blocks(free, 100, F(200)) == ()


def test_a_passage_has_the_chords_of_the_whole() -> None:
    score = score_of(CADENCE, bars=3)
    part = blocks(score, 5, F(9))
    assert spans(part) == [(5, 6), (6, 8), (8, 9)]
    assert [block.chord for block in part] == [block.chord for block in blocks(score)[1:]]
    assert [block.numeral for block in part] == ["IV", "V7", "I"]
    assert [note.pitch for note in part[0].hands[1].notes] == [53]


@pytest.mark.parametrize(
    ("root", "quality", "inversion", "key", "expected"),
    [
        ("C", "major", 0, C_MAJOR, "I"),
        ("D", "minor", 1, C_MAJOR, "ii6"),
        ("G", "7", 1, C_MAJOR, "V6/5"),
        ("G", "7", 2, C_MAJOR, "V4/3"),
        ("G", "7", 3, C_MAJOR, "V4/2"),
        ("C", "major", 2, C_MAJOR, "I6/4"),
        ("B", "diminished", 1, C_MAJOR, "vii°6"),
        ("B", "m7b5", 0, C_MAJOR, "viiø7"),
        ("D", "7", 0, C_MAJOR, "V7/V"),
        ("C", "7", 1, C_MAJOR, "V6/5/IV"),
        ("D", "major", 0, C_MAJOR, "II"),
        ("A", "minor", 0, A_MINOR, "i"),
        ("E", "major", 1, A_MINOR, "V6"),
        ("E", "minor", 0, A_MINOR, "v"),
        ("C", "major", 0, A_MINOR, "III"),
        ("C", "augmented", 1, A_MINOR, "III+6"),
        ("B", "diminished", 1, A_MINOR, "ii°6"),
        ("A", "7", 0, A_MINOR, "V7/iv"),
    ],
)
def test_numerals_by_common_practice(
    root: str, quality: str, inversion: int, key: Key, expected: str
) -> None:
    kind = next(one for one in QUALITIES if one == quality)
    assert numeral(Chord(root, 0, kind, inversion, 1.0), key) == expected


def test_numerals_with_signs_and_of_other_degrees() -> None:
    neapolitan = Chord("B", -1, "major", 1, 1.0)
    assert numeral(neapolitan, A_MINOR) == "♭II6"
    assert numeral(Chord("G", 1, "dim7", 0, 1.0), A_MINOR) == "vii°7"
    second = Chord("D", 0, "major", 0, 1.0)
    assert numeral(second, C_MAJOR, Chord("G", 0, "major", 0, 1.0)) == "V/V"
    assert numeral(second, C_MAJOR, Chord("C", 0, "major", 0, 1.0)) == "II"


def test_the_cadential_six_four_is_named_where_it_goes_to_the_dominant() -> None:
    six_four = Chord("C", 0, "major", 2, 1.0)
    dominant = Chord("G", 0, "7", 0, 1.0)
    assert numeral(six_four, C_MAJOR, dominant) == CADENTIAL
    assert numeral(six_four, C_MAJOR, Chord("F", 0, "major", 0, 1.0)) == "I6/4"
    assert numeral(Chord("C", 0, "major", 0, 1.0), C_MAJOR, dominant) == "I"


def test_the_bass_belongs_to_the_block_though_it_is_foreign_to_the_chord() -> None:
    (block,) = blocks(score_of(chord_of(0, 4, [41], [67, 71, 74])))[:1]
    assert [note.pitch for hand in block.hands for note in hand.notes][-1] == 41


def test_a_bass_that_stays_under_foreign_chords_is_a_pedal_point() -> None:
    over_c = ([64, 67, 72], [62, 67, 71, 77], [65, 69, 72], [62, 65, 71, 79], [64, 67, 72])
    held = [(4 * bar, 4, 36, 1) for bar in range(5)]
    notes = [short for bar, up in enumerate(over_c) for short in chord_of(4 * bar, 4, [], up)]
    found = blocks(score_of([*held, *notes], bars=5))
    assert [block.pedal and block.pedal.step for block in found] == [None, "C", None, "C", None]
    assert chord_name(found[1], "english") == "G dominant seventh (V7) over the pedal C"
    passing = score_of([*chord_of(0, 4, [36], over_c[1]), *chord_of(4, 4, [43], over_c[1])], bars=2)
    assert [block.pedal for block in blocks(passing)] == [None, None]


def test_what_a_hand_cannot_hold_is_said_grip_by_grip() -> None:
    (block,) = blocks(score_of(chord_of(0, 4, [36, 43, 52, 60], [67])))
    assert [hand_words(hand, "english") for hand in block.hands] == ["G4", "C2 G2, then E3 C4"]


def test_plain_chords_are_always_named() -> None:
    for low, high in (([48], [60, 64, 67]), ([47], [62, 67]), ([43], [59, 65])):
        assert all(block.chord for block in blocks(score_of(chord_of(0, 4, low, high))))


@pytest.mark.parametrize("root", ["C#", "E", "G", "B-"])
def test_a_diminished_seventh_chord_has_the_root_that_its_spelling_says(root: str) -> None:
    thirds = {
        "C#": "C#5 E5 G5 B-5",
        "E": "E5 G5 B-5 D-5",
        "G": "G5 B-5 D-5 F-5",
        "B-": "B-5 D-5 F-5 A--5",
    }[root]
    for low in range(4):
        notes = [
            written_note(name, 1 if place == low else 0)
            for place, name in enumerate(thirds.split())
        ]
        (found,) = names(blocks(replace(score_of([], bars=1), notes=tuple(notes))))
        assert found is not None
        assert found[:3] == (root[0], {"#": 1, "-": -1}.get(root[1:], 0), "dim7")
        assert found[3] == low


@pytest.mark.parametrize(("tone", "root"), [(59, "G"), (57, None), (64, "C")])
def test_a_tone_alone_belongs_to_the_chord_beside_it_that_has_it(
    tone: int, root: str | None
) -> None:
    around = [*chord_of(0, 4, [43], [59, 62, 67]), (4, 4, tone, 0), *chord_of(8, 4, [48], [64, 67])]
    score = score_of(around, bars=3)
    block = blocks(score)[1]
    assert (block.chord and block.chord.step) == root
    assert blocks(score, 4, F(8))[0].chord == block.chord


def test_spelling_follows_the_signature_and_then_the_page() -> None:
    assert [spelled(6, near) for near in (0, 3, -4)] == [("F", 1), ("F", 1), ("G", -1)]
    assert spelled(8, -3) == ("A", -1)
    flats = score_of(chord_of(0, 4, [44], [60, 63, 68]), fifths=-4)
    assert names(blocks(flats)) == [("A", -1, "major", 0)]
    assert (keys(flats)[0].step, keys(flats)[0].alter) == ("A", -1)


@pytest.mark.parametrize("fifths", range(-7, 8))
def test_a_key_is_named_with_its_own_signature(fifths: int) -> None:
    shift = fifths * 7 % 12
    up = [(on, long, pitch + shift, staff) for on, long, pitch, staff in CADENCE]
    key = keys(score_of(up, bars=3, fifths=fifths))[1]
    assert key.mode == "major"
    assert key.fifths == fifths
    assert key.tonic == shift


# Properties

SCALE = (0, 2, 4, 5, 7, 9, 11)
SHORTS = st.tuples(
    st.integers(0, 31).map(lambda k: F(k, 2)),
    st.sampled_from([F(1, 3), F(1, 2), F(1), F(3, 2), F(2), F(4)]),
    st.builds(
        lambda degree, octave: SCALE[degree] + 12 * octave, st.integers(0, 6), st.integers(3, 6)
    ),
    st.integers(0, 1),
)
METERS = st.sampled_from([Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(5, 8), Meter(2, 2)])


@st.composite
def scores(draw: st.DrawFn) -> Score:
    meter = draw(METERS)
    bars = -(-20 // meter.length)
    return score_of(draw(st.lists(SHORTS, max_size=40)), meter=meter, bars=int(bars))


@given(scores(), st.integers(-6, 6))
def test_transposed_music_has_the_same_numerals_on_moved_roots(score: Score, up: int) -> None:
    here, there = blocks(score), blocks(moved(score, up))
    assert [block.onset for block in here] == [block.onset for block in there]
    assert [block.numeral for block in here] == [block.numeral for block in there]
    for one, other in zip(here, there, strict=True):
        assert (one.key.tonic + up) % 12 == other.key.tonic
        assert one.key.mode == other.key.mode
        if one.chord is None or other.chord is None:
            assert one.chord is other.chord
        else:
            assert (one.chord.root + up) % 12 == other.chord.root
            assert one.chord.quality == other.chord.quality
            assert one.chord.inversion == other.chord.inversion


@given(scores(), st.integers(0, 40), st.integers(0, 40))
def test_blocks_fill_the_passage_and_hold_every_note_struck(
    score: Score, at: int, size: int
) -> None:
    begin, end = F(at, 2), F(at + size, 2)
    found = blocks(score, begin, end)
    inside = min(end, score.end)
    if begin >= inside:
        assert found == ()
        return
    assert found[0].onset == begin
    assert found[-1].end == inside
    assert all(one.end == other.onset for one, other in pairwise(found))
    for block in found:
        assert score.bar_at(block.onset).end >= block.end > block.onset
        assert UNSURE <= (block.chord.confidence if block.chord else 1) <= 1
    for note in score.notes_between(begin, inside):
        (block,) = [b for b in found if b.onset <= note.onset < b.end]
        (hand,) = [hand for hand in block.hands if hand.staff == note.staff]
        assert [n.pitch for n in hand.notes + hand.passing].count(note.pitch) == 1


def sits(hand: HandBlock, span: int) -> bool:
    """Whether a hand of this span can take it: in one grip, or in the grips given."""
    grips = hand.spread or (hand.notes,)
    return sum(grips, ()) == hand.notes and all(
        not grip or (grip[-1].pitch - grip[0].pitch <= span and len(grip) <= FINGERS)
        for grip in grips
    )


@given(scores(), st.integers(1, 24))
def test_no_block_asks_more_than_the_hand_can_hold(score: Score, span: int) -> None:
    for block in blocks(score, span=span):
        for hand in block.hands:
            assert sits(hand, span)
            reach = hand.notes[-1].pitch - hand.notes[0].pitch if hand.notes else 0
            assert hand.wide == (reach > span)


def test_every_kind_of_chord_has_three_or_four_tones() -> None:
    assert {len(TONES[quality]) for quality in QUALITIES} == {3, 4}


# An outside check, on the shortest of the pieces held out and a chorale; the whole of it is
# `tests.benchmarks.name_chords`.
LIGHT = ("riemenschneider018", "madrigal.4.9", "madrigal.4.18", "madrigal.4.19")


def test_roots_agree_with_published_analyses() -> None:
    """RomanText analyses of music21's corpus; none of these pieces was tuned on."""
    assert not any(name_chords.tuned_on(name) for name in LIGHT)
    tallies = [name_chords.measure(*name_chords.piece(name)) for name in LIGHT]
    assert sum(tally.all["one label: root"] for tally in tallies) > 50
    assert name_chords.share(tallies, "one label: root") > 0.8
    assert name_chords.share(tallies, "by time: root") > 0.75
    assert name_chords.share(tallies, "by time: root, where named") > 0.8
