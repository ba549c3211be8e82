"""What speaks for a span between two starts: its length, and what its two ends share.

A span clue is a function from the spans to one number each, with its weight in log odds (see
`clues.py` for where they come from).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from trainer.phrases.likeness import REACH
from trainer.phrases.melody import rest_rate
from trainer.phrases.places import Places
from trainer.phrases.table import Floats, Ints

NOTES = 28  # the longest span of a single melody, in notes


@dataclass(frozen=True, eq=False)
class Spans:
    """All spans up to the longest, as arrays of shape (places + 1, longest + 1).

    Row j, column d: the span from place j - d to place j; the last row is the end of the piece.
    `first` is the place where it begins (0 where there is none), `steps` is d, `bars` counts bars
    as played, to the nearest, `quarters` is its length in ql, `inner` is 1 unless it is the last.
    """

    places: Places
    first: Ints
    steps: Ints
    bars: Floats
    quarters: Floats
    inner: Floats


def spans_of(places: Places) -> Spans:
    single = places.table.single
    size, longest = len(places), NOTES if single else REACH
    row, steps = np.arange(size + 1)[:, None], np.arange(longest + 1)[None, :]
    first = np.clip(row - steps, 0, size - 1)
    edges = np.append(places.at, max(places.table.close, places.at[-1]))
    quarters = edges[:, None] - edges[first]
    inner = np.broadcast_to((row < size).astype(np.float64), first.shape)
    if single:
        nearest = np.floor(np.append(places.line.bar, _end(places)) + 0.5)
        bars = nearest[:, None] - nearest[first]
    else:
        count = places.table.frames.count
        until = np.append(count, count[-1] + 1)
        bars = np.maximum(until[:, None] - count[first], 0).astype(np.float64)
    return Spans(places, first, steps + 0 * first, bars, quarters, inner)


def _end(places: Places) -> float:
    """The end of a melody in bars: where in its last bar the first note would come again."""
    bar, last = places.line.bar, int(places.frame[-1])
    frames = places.table.frames
    held = (places.table.close - frames.start[last] + frames.lead[last]) / frames.full[last]
    return float(bar[0] + np.ceil(last + held - bar[0] - 1e-3))


@dataclass(frozen=True)
class SpanClue:
    """`words`, where what the two ends share is a reason by itself."""

    name: str
    evidence: Callable[[Spans], Floats]
    weight: float
    words: str = ""


def _exactly(bars: int) -> Callable[[Spans], Floats]:
    return lambda spans: (spans.bars == bars) * spans.inner


def _over(bars: int) -> Callable[[Spans], Floats]:
    return lambda spans: (spans.bars > bars) * spans.inner


def _odd(spans: Spans) -> Floats:
    odd: Floats = spans.bars % 2
    return odd


def _fours(spans: Spans) -> Floats:
    fours: Floats = (spans.bars % 4 == 0).astype(np.float64)
    return fours


def _eighths(spans: Spans) -> Floats:
    """Bars, at most eight, as a share of eight."""
    share: Floats = np.minimum(spans.bars, 8) / 8
    return share


def _size(spans: Spans) -> Floats:
    """Octaves from eight bars."""
    size: Floats = np.log2(np.maximum(spans.bars, 1) / 8)
    return size


def _time(spans: Spans) -> Floats:
    """Octaves from twenty quarters."""
    time: Floats = np.log2(np.maximum(spans.quarters, 0.5) / 20) * spans.inner
    return time


def _rows(values: Floats) -> Floats:
    return np.vstack((values, np.zeros((1, values.shape[1]))))


def _unmarked(spans: Spans) -> Floats:
    """1 throughout where the score has no dynamics, so that their absence says nothing."""
    bare = not spans.places.table.score.marks_of("dynamic")
    return spans.inner * float(bare)


def _piece(spans: Spans) -> float:
    """Octaves by which the piece is longer than 64 bars, at most 2½ either way."""
    return float(np.clip(np.log2(len(spans.places) / 64), -2.5, 2.5))


LIKE = "it begins like the start before it"

TEXTURE: tuple[SpanClue, ...] = (
    SpanClue("each", lambda spans: spans.inner, -1.43),
    SpanClue("unmarked", _unmarked, 1.42),
    SpanClue("four bars", _exactly(4), 0.35),
    SpanClue("eight bars", _exactly(8), 0.86),
    SpanClue("fours", lambda spans: _fours(spans) * spans.inner, 0.28),
    SpanClue("bars", lambda spans: _size(spans) * spans.inner, 0.32),
    SpanClue("time", _time, 0.92),
    SpanClue("last", lambda spans: _size(spans) * (1 - spans.inner), 2.00),
    SpanClue("alike", lambda spans: _rows(spans.places.likeness.forward), 1.85, LIKE),
    SpanClue("long piece", lambda spans: _piece(spans) * spans.inner, -1.13),
    SpanClue("long piece, bars", lambda spans: _piece(spans) * _size(spans) * spans.inner, -0.32),
)


# A single melody


def _notes(spans: Spans) -> Floats:
    """Natural logarithm of the number of notes, from eight."""
    notes: Floats = np.log(np.maximum(spans.steps, 1) / 8)
    return notes


def _few_notes(spans: Spans) -> Floats:
    few: Floats = (spans.steps <= 4).astype(np.float64)
    return few


def _busy(spans: Spans) -> Floats:
    """Octaves by which the melody has more than four notes a bar."""
    bars = spans.places.line.bar
    rate = len(bars) / max(float(bars[-1] - bars[0]), 1.0)
    busy: Floats = np.log2(rate / 4) * spans.inner
    return busy


def _busy_at(bars: int) -> Callable[[Spans], Floats]:
    return lambda spans: _busy(spans) * (spans.bars == bars)


def _restful(spans: Spans) -> Floats:
    """How many notes are followed by rests: 1 for one in eight, at most 2."""
    return rest_rate(spans.places) * spans.inner


def _beats(spans: Spans) -> Floats:
    """Octaves from six beats."""
    beat = float(np.median(spans.places.beat))
    beats: Floats = np.log2(np.maximum(spans.quarters / beat, 0.1) / 6)
    return beats


def _longer_inside(spans: Spans) -> Floats:
    """1 where a note inside is longer than the one that ends the span."""
    gap = spans.places.line.gap
    rows, columns = spans.first.shape
    inside = np.zeros((rows, columns))
    for steps in range(2, columns):
        ended = np.concatenate((np.zeros(min(steps, rows)), gap[: max(0, rows - steps)]))
        inside[:, steps] = np.maximum(inside[:, steps - 1], ended)
    final = np.concatenate(([0.0], gap))[:, None]
    longer: Floats = (inside > final + 1e-6).astype(np.float64)
    return longer


def _rests_inside(spans: Spans) -> Floats:
    rested = np.concatenate(([0.0], np.cumsum(spans.places.line.rest > 0)))
    row = np.arange(len(spans.first))[:, None]
    inside: Floats = np.maximum(rested[np.maximum(row - 1, 0)] - rested[spans.first], 0)
    return inside


def _same_phase(spans: Spans) -> Floats:
    phase = np.append(spans.places.line.phase, spans.places.line.phase[0])
    same: Floats = (np.abs(phase[:, None] - phase[spans.first]) < 1e-3).astype(np.float64)
    return same


def _same_rhythm(spans: Spans) -> Floats:
    """How many gaps from its beginning are those from its end, up to 6, as a share of 6."""
    beats = np.append(spans.places.line.beats, -1.0)
    last = len(beats) - 1
    row = np.arange(last + 1)[:, None]
    run = np.zeros(spans.first.shape)
    going = np.ones(spans.first.shape, dtype=bool)
    for step in range(6):
        here, there = spans.first + step, np.minimum(row + step, last)
        going &= (here < row) & (there < last) & (beats[np.minimum(here, last)] == beats[there])
        run += going
    return run / 6


def _squared(evidence: Callable[[Spans], Floats]) -> Callable[[Spans], Floats]:
    return lambda spans: evidence(spans) ** 2


def _last(evidence: Callable[[Spans], Floats]) -> Callable[[Spans], Floats]:
    return lambda spans: evidence(spans) * (1 - spans.inner)


def _inner(evidence: Callable[[Spans], Floats]) -> Callable[[Spans], Floats]:
    return lambda spans: evidence(spans) * spans.inner


MELODY: tuple[SpanClue, ...] = (
    SpanClue("each", lambda spans: spans.inner, -0.56),
    SpanClue("no bar", _exactly(0), -0.26),
    SpanClue("one bar", _exactly(1), -1.17),
    SpanClue("two bars", _exactly(2), 0.30),
    SpanClue("three bars", _exactly(3), -0.21),
    SpanClue("four bars", _exactly(4), 0.29),
    SpanClue("five bars", _exactly(5), -0.32),
    SpanClue("six bars", _exactly(6), 0.65),
    SpanClue("more bars", _over(6), 0.16),
    SpanClue("last odd", _last(_odd), -0.50),
    SpanClue("last fours", _last(_fours), 0.09),
    SpanClue("last", _last(_eighths), -0.35),
    SpanClue("notes", _notes, 0.79),
    SpanClue("notes squared", _squared(_notes), -0.90),
    SpanClue("busy", _busy, 0.04),
    SpanClue("busy, one bar", _busy_at(1), 0.17),
    SpanClue("busy, two bars", _busy_at(2), 0.61),
    SpanClue("busy, four bars", _busy_at(4), -0.48),
    SpanClue("restful", _restful, 1.97),
    SpanClue("few notes", _few_notes, -0.62),
    SpanClue("beats", _beats, 1.77),
    SpanClue("beats squared", _squared(_beats), -0.16),
    SpanClue("longer inside", _inner(_longer_inside), -0.75),
    SpanClue("rests inside", _rests_inside, -0.97),
    SpanClue("same phase", _inner(_same_phase), 0.85, "it begins where in the bar the last did"),
    SpanClue("same rhythm", _same_rhythm, 0.24, "its rhythm is that of the start before it"),
)
