"""What speaks for a span between two starts: its length, and what its two ends share.

A span cue is a function from the spans to one number each, with its weight in log odds (see
`cues.py` for where they come from), and a sentence where the length is a reason by itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from trainer.phrases.likeness import REACH
from trainer.phrases.places import Places
from trainer.phrases.table import Floats, Ints

NOTES = 28  # the longest span of a single melody, in notes


@dataclass(frozen=True, eq=False)
class Spans:
    """All spans up to the longest, as arrays of shape (places + 1, longest + 1).

    Row j, column d: the span from place j - d to place j; the last row is the end of the piece.
    `first` is the place where it begins (0 where there is none), `steps` is d, `bars` counts
    bars to the nearest, `quarters` is its length in ql, `inner` is 1 unless it is the last.
    """

    places: Places
    first: Ints
    steps: Ints
    bars: Floats
    quarters: Floats
    inner: Floats


def spans_of(places: Places) -> Spans:
    frames, single = places.table.frames, places.table.single
    count, longest = len(places), NOTES if single else REACH
    row, steps = np.arange(count + 1)[:, None], np.arange(longest + 1)[None, :]
    first = np.clip(row - steps, 0, count - 1)
    edges = np.append(places.at, max(places.table.close, places.at[-1]))
    quarters = edges[:, None] - edges[first]
    inner = np.broadcast_to((row < count).astype(np.float64), first.shape)
    if single:
        bar = places.line.bar
        end = bar[0] + (edges[-1] - edges[0]) / frames.full[0]
        nearest = np.floor(np.append(bar, max(end, bar[-1])) + 0.5)
        bars = nearest[:, None] - nearest[first]
    else:
        bars = np.maximum(steps - ((first == 0) & (frames.lead[0] > 0)), 0).astype(np.float64)
    return Spans(places, first, steps + 0 * first, bars, quarters, inner)


@dataclass(frozen=True)
class SpanCue:
    name: str
    evidence: Callable[[Spans], Floats]
    weight: float
    words: str = ""


def _exactly(bars: int) -> Callable[[Spans], Floats]:
    return lambda spans: (spans.bars == bars) * spans.inner


def _over(bars: int) -> Callable[[Spans], Floats]:
    return lambda spans: (spans.bars > bars) * spans.inner


def _multiple(bars: int) -> Callable[[Spans], Floats]:
    return lambda spans: (spans.bars % bars == 0) * spans.inner


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


TEXTURE: tuple[SpanCue, ...] = (
    SpanCue("each", lambda spans: spans.inner, -2.3),
    SpanCue("one bar", lambda spans: (spans.bars <= 1) * spans.inner, -0.2),
    SpanCue("two bars", _exactly(2), -0.1),
    SpanCue("three bars", _exactly(3), 0.8),
    SpanCue("four bars", _exactly(4), 0.9, "four bars after the start before it"),
    SpanCue("eight bars", _exactly(8), 0.5, "eight bars after the start before it"),
    SpanCue("sixteen bars", _exactly(16), 0.2, "sixteen bars after the start before it"),
    SpanCue("fours", _multiple(4), 0.5),
    SpanCue("twos", _multiple(2), 0.3),
    SpanCue("bars", lambda spans: _size(spans) * spans.inner, 0.6),
    SpanCue("bars squared", lambda spans: _size(spans) ** 2 * spans.inner, 0.3),
    SpanCue("time", _time, 1.2),
    SpanCue("time squared", lambda spans: _time(spans) ** 2, -0.4),
    SpanCue("last", lambda spans: _size(spans) * (1 - spans.inner), 1.6),
    SpanCue("alike", lambda spans: _rows(spans.places.likeness.forward), 0.3),
    SpanCue("parallel", lambda spans: _rows(spans.places.likeness.parallel), 0.5),
)


# A single melody


def _notes(spans: Spans) -> Floats:
    """Natural logarithm of the number of notes, from eight."""
    notes: Floats = np.log(np.maximum(spans.steps, 1) / 8)
    return notes


def _few_notes(spans: Spans) -> Floats:
    few: Floats = (spans.steps <= 4).astype(np.float64)
    return few


def _beats(spans: Spans) -> Floats:
    """Octaves from six beats."""
    beat = float(np.median(spans.places.beat))
    beats: Floats = np.log2(np.maximum(spans.quarters / beat, 0.1) / 6)
    return beats


def _whole_bars(spans: Spans) -> Floats:
    bar = spans.places.table.frames.full[spans.places.frame][spans.first]
    share = spans.quarters / bar
    whole: Floats = (np.abs(share - np.rint(share)) < 1e-3) * spans.inner
    return whole


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


MELODY: tuple[SpanCue, ...] = (
    SpanCue("each", lambda spans: spans.inner, 0.0),
    SpanCue("no bar", _exactly(0), -0.1),
    SpanCue("one bar", _exactly(1), -0.6),
    SpanCue("two bars", _exactly(2), 0.2, "two bars after the start before it"),
    SpanCue("three bars", _exactly(3), -0.8),
    SpanCue("four bars", _exactly(4), 0.5, "four bars after the start before it"),
    SpanCue("five bars", _exactly(5), -0.6),
    SpanCue("six bars", _exactly(6), 0.4),
    SpanCue("more bars", _over(6), 0.4),
    SpanCue("last odd", _last(_odd), -0.7),
    SpanCue("last fours", _last(_fours), 0.2),
    SpanCue("last", _last(_eighths), -0.2),
    SpanCue("notes", _notes, 0.6),
    SpanCue("notes squared", _squared(_notes), -0.4),
    SpanCue("few notes", _few_notes, -0.4),
    SpanCue("beats", _beats, 1.3),
    SpanCue("beats squared", _squared(_beats), 0.0),
    SpanCue("whole bars", _whole_bars, 0.6),
    SpanCue("longer inside", _inner(_longer_inside), -0.7),
    SpanCue("rests inside", _rests_inside, -1.2),
    SpanCue("same phase", _inner(_same_phase), 0.6, "it begins where in the bar the last did"),
    SpanCue("same rhythm", _same_rhythm, 0.2, "its rhythm is that of the start before it"),
)
