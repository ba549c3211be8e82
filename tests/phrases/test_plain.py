"""What a person plainly wrote is a start, at that very strike; what only looks like it is not."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest
from msgspec.structs import replace

from tests.phrases.build import broken_chords, melody
from trainer.phrases.plain import plain
from trainer.phrases.segment import propose
from trainer.phrases.table import tabulate
from trainer.score.model import Mark, Score

HOME, AWAY = (48, 60, 64, 67), (53, 60, 65, 69)


def chords(*marks: Mark, bars: int = 16) -> Score:
    return broken_chords([HOME, AWAY] * (bars // 2), marks=marks)


def written(score: Score) -> dict[Fraction, str]:
    """The strikes at which something is plainly written, with the clue's name."""
    table = tabulate(score)
    assert table is not None
    return {table.strikes[strike]: what.name for strike, what in plain(table).items()}


def with_bars(score: Score, **changes: dict[int, object]) -> Score:
    """The score with some fields of some bars changed: `double={3: True}`."""
    bars = list(score.bars)
    for field, values in changes.items():
        for index, value in values.items():
            bars[index] = replace(bars[index], **{field: value})
    return replace(score, bars=tuple(bars))


def texts(*placed: tuple[int, str]) -> list[Mark]:
    return [Mark("text", Fraction(onset), text) for onset, text in placed]


def test_a_double_bar_and_repeat_signs_begin_a_section() -> None:
    score = with_bars(chords(), double={3: True}, repeat_times={7: 2}, repeat_start={12: True})
    assert written(score) == {Fraction(at): "double bar" for at in (16, 32, 48)}
    for density in ("fewer", "usual", "more"):
        assert {Fraction(16), Fraction(32), Fraction(48)} <= {
            p.onset for p in propose(score, density)
        }


def test_a_repeat_sign_between_two_endings_divides_nothing() -> None:
    first: dict[int, object] = {6: (1,), 7: (1,)}
    for second in ({8: (2,), 9: (2,)}, {}):  # many prints leave out the second bracket
        score = with_bars(chords(), repeat_times={7: 2}, endings={**first, **second})
        assert written(score) == {}
    score = with_bars(chords(), repeat_times={7: 2}, endings=first, repeat_start={9: True})
    assert written(score) == {Fraction(36): "double bar"}


def test_a_repeat_that_begins_after_the_upbeat_is_the_piece_itself() -> None:
    line: list[tuple[int | None, Fraction | int]] = [(60, 1)] * 33
    score = with_bars(melody(line, pickup=1), repeat_start={1: True})
    assert written(score) == {}


def test_a_double_bar_within_a_split_bar_counts_at_its_very_strike() -> None:
    score = chords()
    whole = score.bars[4]
    first = replace(whole, length=Fraction(3), double=True)
    rest = replace(whole, start=whole.start + 3, length=Fraction(1), lead=Fraction(3))
    bars = (*score.bars[:4], first, replace(rest, continues=True), *score.bars[5:])
    bars = tuple(replace(bar, index=index) for index, bar in enumerate(bars))
    found = propose(replace(score, bars=bars))
    start = next(proposal for proposal in found if proposal.onset == 19)
    assert start.reasons[0].words == "a double bar before it"


def test_the_strike_after_a_fermata() -> None:
    marks = [Mark("fermata", Fraction(14), end=Fraction(15), staff=staff) for staff in (0, 1)]
    assert written(chords(*marks)) == {Fraction(15): "fermata"}


def test_of_fermatas_in_a_row_the_last_divides() -> None:
    marks = [Mark("fermata", Fraction(at), end=Fraction(at + 1), staff=0) for at in (12, 13, 15)]
    assert written(chords(*marks)) == {Fraction(16): "fermata"}


@pytest.mark.parametrize(
    "placed",
    [
        [(4, "4"), (9, "1"), (18, "4"), (30, "2")],
        [(4, "1"), (5, "2"), (6, "3")],
        [(4, "C"), (6, "F"), (8, "G")],
        [(8, "3"), (24, "3")],
    ],
    ids=["fingers", "fingers in one bar", "chord names", "one finger twice"],
)
def test_fingerings_and_chords_typed_as_text_are_no_starts(
    placed: Sequence[tuple[int, str]],
) -> None:
    assert written(chords(*texts(*placed))) == {}


@pytest.mark.parametrize(
    "placed", [[(16, "2"), (34, "3"), (50, "4")], [(16, "A"), (32, "B"), (48, "A")], [(18, "[7]")]]
)
def test_numbers_and_letters_that_number_places_are_starts(
    placed: Sequence[tuple[int, str]],
) -> None:
    assert set(written(chords(*texts(*placed)))) == {Fraction(onset) for onset, _ in placed}


def song(words: str, lengths: Sequence[Fraction | int]) -> Score:
    """A melody with one syllable a note."""
    score = melody([(60 + at % 5, length) for at, length in enumerate(lengths)])
    onsets = [note.onset for note in score.notes]
    marks = [
        Mark("lyric", onset, word, staff=0)
        for onset, word in zip(onsets, words.split(), strict=True)
    ]
    return replace(score, marks=tuple(marks))


LINES = "Now the e- vening wind is gone, all the boats are com- ing home."


def test_each_line_of_a_song_begins_a_phrase() -> None:
    words = LINES + " " + LINES
    lengths: list[Fraction | int] = [1, 1, 1, 1, 1, 1, 2, 1, 1, 1, 1, 1, 1, 2]
    assert written(song(words, lengths * 2)) == {Fraction(at): "line" for at in (8, 16, 24)}


def test_a_line_shorter_than_a_bar_goes_with_the_one_before() -> None:
    words = "Come, sing: now all the boats are home. " * 2
    lengths: list[Fraction | int] = [1, 1, 1, 1, 1, 1, 1, 1]
    assert set(written(song(words, lengths * 2))) == {Fraction(8)}


def test_a_few_dynamics_typed_as_lyrics_are_no_song() -> None:
    marks = [Mark("lyric", Fraction(8 * at), "p.", staff=0) for at in range(8)]
    assert written(chords(*marks)) == {}


def test_later_endings_are_counted_from_where_the_first_began() -> None:
    """Eight bars, a first ending of one bar and a second: the next strain is bar 8 as played."""
    score = with_bars(chords(), repeat_times={7: 2}, endings={7: (1,), 8: (2,)})
    table = tabulate(score)
    assert table is not None
    assert table.frames.count.tolist() == [0, 1, 2, 3, 4, 5, 6, 7, 7, 8, 9, 10, 11, 12, 13, 14]


def test_no_count_of_bars_is_told_across_endings() -> None:
    """Played and printed bars differ there, so that neither number would be plain."""
    score = with_bars(chords(), repeat_times={7: 2}, endings={7: (1,), 8: (2,)}, double={11: True})
    told = {
        int(proposal.onset): [r.words for r in proposal.reasons if "after the start" in r.words]
        for proposal in propose(score)
    }
    assert told == {0: [], 16: ["4 bars after the start before it"], 32: [], 48: []}
