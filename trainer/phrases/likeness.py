"""How alike the bars of a score are, and so where a passage returns.

A frame (bar) is a set of tokens, and two frames are alike as far as their sets overlap (Jaccard
index), in three ways that are averaged: every note at its place; the steps of the top line,
which do not change when it is transposed; the rhythm of each hand. What all pairs of frames
have in common (their median likeness) is taken off, so that a piece with one figure throughout
is told apart by what its figures hold.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from trainer.phrases.table import SLOTS, Floats, Ints, Table

WINDOW = 512  # frames compared with each other; longer pieces in overlapping windows
MARGIN = 128  # by which they overlap on each side
REACH = 36  # frames: the longest span compared and proposed


@dataclass(frozen=True, eq=False)
class Likeness:
    """One entry a frame.

    `returns`: how far another passage begins in the same way without having led to it in the
    same way, 0 to 1; `partner`: the frame of that passage, and `alike` how like its first frame
    is to this one, 0 to 1. `novelty`: how much more the frames on each side of its beginning
    are alike than across. `forward`, frames x (REACH + 1): likeness of the four frames
    from here to those from `d` frames earlier.
    """

    returns: Floats
    partner: Ints
    alike: Floats
    novelty: Floats
    forward: Floats


def likeness(table: Table) -> Likeness:
    """Quadratic within a window of frames only."""
    count = len(table.frames)
    result = Likeness(
        np.zeros(count),
        np.arange(count),
        np.zeros(count),
        np.zeros(count),
        np.zeros((count, REACH + 1)),
    )
    kinds = _tokens(table)
    for first, last, keep_from, keep_to in _windows(count):
        _fill(result, kinds, first, last, slice(keep_from, keep_to))
    return result


def contents(table: Table) -> list[tuple[int, ...]]:
    """What is struck in each frame: the codes of its notes at their places, in order."""
    order = np.lexsort((table.pitch, table.slot, table.frame))
    found: list[list[int]] = [[] for _ in range(len(table.frames))]
    codes = _pitch_tokens(table)
    for at, code in zip(table.frame[order].tolist(), codes[order].tolist(), strict=True):
        found[at].append(code)
    return [tuple(codes) for codes in found]


def verbatim(content: Sequence[tuple[int, ...]], frames: int = 4) -> Ints:
    """For each frame the first frame from which the same notes are struck for four frames."""
    seen: dict[tuple[tuple[int, ...], ...], int] = {}
    result = np.arange(len(content))
    for start in range(len(content) - frames + 1):
        result[start] = seen.setdefault(tuple(content[start : start + frames]), start)
    return result


def _windows(count: int) -> Iterator[tuple[int, int, int, int]]:
    """Windows of frames, each with the part of it that is kept."""
    if count <= WINDOW:
        yield 0, count, 0, count
        return
    step = WINDOW - 2 * MARGIN
    for keep in range(0, count, step):
        yield max(0, keep - MARGIN), min(count, keep + step + MARGIN), keep, min(count, keep + step)


def _fill(
    result: Likeness, kinds: tuple[tuple[Ints, Ints], ...], first: int, last: int, keep: slice
) -> None:
    alike = np.mean([_raised(_jaccard(kind, first, last)) for kind in kinds], axis=0)
    before = _along(alike, {-1: 1.0, -2: 1.0})
    after = _along(alike, {0: 1.0, 1: 1.0, 2: 0.7, 3: 0.5})
    parallel = after * (1 - before)
    np.fill_diagonal(parallel, 0)
    here = slice(keep.start - first, keep.stop - first)
    chosen = parallel.argmax(axis=1)
    result.alike[keep] = alike[np.arange(len(alike)), chosen][here]
    result.returns[keep] = parallel.max(axis=1)[here]
    result.partner[keep] = chosen[here] + first
    result.novelty[keep] = _novelty(alike, 4)[here]
    for span in range(1, REACH + 1):
        if span < last - first:
            rows = np.arange(max(here.start, span), here.stop)
            result.forward[rows + first, span] = after[rows - span, rows]


def _along(alike: Floats, weights: dict[int, float]) -> Floats:
    """The mean of a matrix along its diagonals, at the given steps; nothing outside."""
    size = len(alike)
    total = np.zeros_like(alike)
    for step, weight in weights.items():
        here, there = slice(max(0, -step), size - max(0, step)), slice(max(0, step), size)
        if step < 0:
            there = slice(0, size + step)
        if abs(step) < size:
            total[here, here] += weight * alike[there, there]
    return total / sum(weights.values())


def _novelty(alike: Floats, width: int) -> Floats:
    """How much more alike `width` frames are on each side of a boundary than across it."""
    size = len(alike)
    sums = np.zeros((size + 1, size + 1))
    sums[1:, 1:] = alike.cumsum(axis=0).cumsum(axis=1)
    at = np.arange(1, size)
    low, high = np.maximum(at - width, 0), np.minimum(at + width, size)

    def mean(top: Ints, bottom: Ints, left: Ints, right: Ints) -> Floats:
        total = sums[bottom, right] - sums[top, right] - sums[bottom, left] + sums[top, left]
        found: Floats = total / ((bottom - top) * (right - left))
        return found

    inside = (mean(low, at, low, at) + mean(at, high, at, high)) / 2
    return np.concatenate(([0.0], inside - mean(low, at, at, high)))


def _raised(alike: Floats) -> Floats:
    """Likeness above what is common to most pairs: 0 at the median, 1 for equal frames."""
    size = len(alike)
    usual = float(np.median(alike[np.triu_indices(size, 1)])) if size > 1 else 0.0
    raised: Floats = np.clip((alike - usual) / max(1 - usual, 0.2), 0, 1)
    return raised


def _jaccard(kind: tuple[Ints, Ints], first: int, last: int) -> Floats:
    """Overlap of token sets for the frames in [first, last); two empty frames are equal."""
    frame, token = kind
    inside = slice(*np.searchsorted(frame, (first, last)))
    names, column = np.unique(token[inside], return_inverse=True)
    present = np.zeros((last - first, max(len(names), 1)), dtype=np.float32)
    present[frame[inside] - first, column] = 1
    both = present @ present.T
    sizes = present.sum(axis=1)
    either = sizes[:, None] + sizes[None, :] - both
    overlap: Floats = np.where(either > 0, both / np.maximum(either, 1), 1.0).astype(np.float64)
    return overlap


def _tokens(table: Table) -> tuple[tuple[Ints, Ints], ...]:
    """The three kinds of tokens: (frame of each, code of each), in order of frames."""
    rhythm = table.staff * (SLOTS * 2) + table.slot
    top_frame, top_code = _top_line(table)
    return (
        (table.frame, _pitch_tokens(table)),
        (top_frame, top_code),
        (table.frame, rhythm),
    )


def _pitch_tokens(table: Table) -> Ints:
    return table.slot * 1024 + table.pitch


def _top_line(table: Table) -> tuple[Ints, Ints]:
    """Steps of the upper staff's highest notes; the first of each frame counts as a place."""
    upper = table.upper
    frame, slot, pitch = table.frame[upper], table.slot[upper], table.pitch[upper]
    order = np.lexsort((-pitch, slot, frame))
    frame, slot, pitch = frame[order], slot[order], pitch[order]
    new = np.ones(len(frame), dtype=bool)
    new[1:] = (frame[1:] != frame[:-1]) | (slot[1:] != slot[:-1])
    frame, slot, pitch = frame[new], slot[new], pitch[new]
    step = np.full(len(frame), 500)
    same = frame[1:] == frame[:-1]
    step[1:][same] = (pitch[1:] - pitch[:-1])[same]
    return frame, slot * 1024 + step
