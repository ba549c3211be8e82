"""The count before an entry, and the seconds of written music."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.draw.scores import METERS, scores
from tests.draw.scores import score as written
from tests.score.bars import piece
from trainer.score.count import LEAST, MOST, count_before
from trainer.score.model import Mark, Meter, Score
from trainer.score.tempo import FASTEST, SLOWEST, clock, quarter

F = Fraction
Q, E = F(1), F(1, 2)
NONE = F(0)


def bars(meter: tuple[int, int], upbeat: Fraction = NONE, tempo: float | None = None) -> Score:
    """Four full bars, after a pickup of that length, if any."""
    time = Meter(*meter)
    lengths = [time.length] * 4
    signs = {}
    if upbeat:
        lengths = [upbeat, *lengths]
        signs = {0: {"upbeat": True, "lead": time.length - upbeat}}
    made = piece(lengths, time, signs=signs)
    return replace(made, marks=(Mark("tempo", F(0), value=tempo),)) if tempo else made


@pytest.mark.parametrize(
    ("meter", "said"),
    [
        ((2, 4), "1 2"),
        ((3, 4), "1 2 3"),
        ((4, 4), "1 2 3 4"),
        ((6, 8), "1 2"),
        ((9, 8), "1 2 3"),
        ((5, 8), "1 2 3 4 5"),
        ((3, 8), "1 2 3"),
        ((12, 8), "1 2 3 4"),
        ((1, 4), "1  1"),
    ],
)
def test_a_whole_bar_before_a_first_beat(meter: tuple[int, int], said: str) -> None:
    score = bars(meter)
    for bar in score.bars:
        count = count_before(score, bar.start)
        assert count.words() == said
        assert count.seconds == pytest.approx(len(count.beats) * count.beat)


@pytest.mark.parametrize(
    ("meter", "upbeat", "said", "beats"),
    [
        ((2, 4), Q, "1 2  1", F(3)),
        ((2, 4), E, "1 2", F(3, 2)),
        ((3, 4), Q, "1 2", F(2)),
        ((3, 4), 2 * Q, "1 2 3  1", F(4)),
        ((4, 4), Q, "1 2 3", F(3)),
        ((4, 4), E, "1 2 3 4", F(7, 2)),
        ((6, 8), E, "1 2", F(5, 3)),
        ((6, 8), 3 * E, "1 2  1", F(3)),
        ((9, 8), E, "1 2 3", F(8, 3)),
        ((9, 8), 3 * E, "1 2", F(2)),
        ((5, 8), E, "1 2 3 4", F(4)),
        ((5, 8), 3 * E, "1 2", F(2)),
    ],
)
def test_an_upbeat_is_counted_up_to(
    meter: tuple[int, int], upbeat: Fraction, said: str, beats: Fraction
) -> None:
    """Before the pickup of the piece, and before one of the same length inside it."""
    score = bars(meter, upbeat)
    for onset in (F(0), score.bars[2].end - upbeat):
        count = count_before(score, onset)
        assert count.words() == said
        assert count.seconds == pytest.approx(float(beats) * count.beat)


@st.composite
def entries(draw: st.DrawFn) -> tuple[Score, Fraction]:
    """Bars in any metre of the tests, with or without a pickup, and a place in them."""
    meter = Meter(*draw(st.sampled_from(METERS)))
    upbeat = draw(st.sampled_from([F(0), F(1, 2), meter.beat]))
    tempo = draw(st.none() | st.floats(20, 300))
    score = bars((meter.count, meter.unit), upbeat if upbeat < meter.length else F(0), tempo)
    step = draw(st.sampled_from([F(1), F(1, 2), F(1, 4), F(1, 3)]))
    places = int(score.end / step)
    return score, draw(st.integers(0, places - 1)) * step


@given(entries())
def test_every_count_lies_on_the_beats_before_its_entry(entry: tuple[Score, Fraction]) -> None:
    """Each word, laid back from the entry at the tempo, falls on the beat of that number."""
    score, onset = entry
    count = count_before(score, onset)
    bar = score.bar_at(onset)
    in_bar = int(bar.meter.length / bar.meter.beat)
    place = (bar.lead + onset - bar.start) / bar.meter.beat  # of the entry, in beats from one
    for beat in count.beats:
        at = float(place) - (count.seconds - beat.at) / count.beat
        assert at == pytest.approx(round(at), abs=1e-6)
        assert beat.number == round(at) % in_bar + 1
    assert count.beats[0].at == 0
    assert 0 < count.seconds - count.beats[-1].at <= count.beat * (1 + 1e-9)
    assert LEAST <= len(count.beats) <= MOST
    assert count.beats[0].number == 1
    assert len(count.beats) - in_bar < LEAST  # one bar fewer would not do


@given(scores(), st.data())
def test_a_count_gives_away_metre_and_tempo_only(score: Score, data: st.DataObject) -> None:
    """It is the same whatever the notes, the key, the words and the dynamics are."""
    onset = data.draw(st.sampled_from([bar.start for bar in score.bars] + [*score.onsets]))
    other = replace(
        score,
        notes=(),
        rests=(),
        bars=tuple(replace(bar, fifths=3, mode="minor") for bar in score.bars),
        marks=(Mark("dynamic", onset, "ff"), Mark("tempo", onset, "Grave")),
    )
    assert count_before(score, onset) == count_before(other, onset)


def test_a_very_long_bar_is_counted_in_its_last_beats() -> None:
    score = bars((40, 4))
    assert [beat.number for beat in count_before(score, F(0)).beats] == [*range(29, 41)]
    assert count_before(score, F(0)).seconds == pytest.approx(12.0)


def test_without_a_mark_a_felt_beat_lasts_a_second() -> None:
    for meter in METERS:
        assert count_before(bars(meter), F(0)).beat == pytest.approx(1.0)


def test_a_mark_counts_quarters() -> None:
    """90 quarters a minute are 60 dotted quarters."""
    assert count_before(bars((6, 8), tempo=90), F(0)).beat == pytest.approx(1.0)
    assert count_before(bars((4, 4), tempo=90), F(0)).rate == 90


@pytest.mark.parametrize(("value", "used"), [(0.01, SLOWEST), (9999.0, FASTEST)])
def test_an_impossible_mark_is_bounded(value: float, used: float) -> None:
    assert quarter(bars((4, 4), tempo=value), F(0)) == pytest.approx(60 / used)


def test_the_pickup_goes_by_the_mark_over_the_first_bar() -> None:
    score = replace(bars((3, 4), Q), marks=(Mark("tempo", F(1), value=120.0),))
    assert quarter(score, F(0)) == pytest.approx(0.5)


TEMPI = st.lists(st.tuples(st.integers(0, 15), st.integers(30, 240)), max_size=5)


@given(TEMPI, st.integers(0, 15), st.integers(0, 15))
def test_the_seconds_are_those_of_each_quarter_in_its_tempo(
    tempi: list[tuple[int, int]], one: int, other: int
) -> None:
    begin, end = sorted((one, other))
    marks = [Mark("tempo", F(at), value=float(value)) for at, value in sorted(tempi)]
    score = written([], bars=4, marks=marks)
    expected = 0.0
    for at in range(begin, end):
        in_force = [mark.value for mark in marks if mark.onset <= at and mark.value]
        expected += 60 / in_force[-1] if in_force else 1.0
    assert clock(score, F(begin))(F(end)) == pytest.approx(expected)


@given(entries(), st.floats(10, 400))
def test_a_count_at_a_tempo_of_ones_own(entry: tuple[Score, Fraction], rate: float) -> None:
    """The same beats, each as long as that tempo says, whatever is written."""
    score, onset = entry
    written, own = count_before(score, onset), count_before(score, onset, rate)
    assert [beat.number for beat in own.beats] == [beat.number for beat in written.beats]
    assert own.beat == pytest.approx(60 / rate)
    assert own.seconds / own.beat == pytest.approx(written.seconds / written.beat)
