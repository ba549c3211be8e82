"""What a melody does elsewhere: clues from a first division that speak in a second.

A song keeps to its habits: if most of its phrases begin on the last beat of a bar, or are eight
beats long, a doubtful one probably does, too. Each clue compares a place or a span with all
others of the first division, in proportion to their chances, itself left out.
"""

from __future__ import annotations

from collections import Counter

import numpy as np

from trainer.phrases.lengths import Spans
from trainer.phrases.spans import Division
from trainer.phrases.table import Floats

PLACE, EVEN, LENGTH = 0.70, 1.36, 0.51  # weights in log odds, fitted with those of `clues.py`


def habits(spans: Spans, first: Division) -> tuple[Floats, Floats, Floats]:
    """Evidence for each span with the place it leads to, as in `divide`: the share of other
    starts at the same place in the bar; of those an even number of bars away; and the logarithm
    of the share of other spans of the same length."""
    line = spans.places.line
    chances = first.chances
    phase = _share(np.round(line.phase * 960).astype(np.int64).tolist(), chances)
    nearest = np.floor(line.bar + 0.5).astype(np.int64)
    even = _share((nearest % 2).tolist(), chances)
    inner = spans.inner
    columns = [np.append(values, 0.0)[:, None] * inner for values in (phase, even)]
    return columns[0], columns[1], _lengths(spans, first)


def _share(values: list[int], chances: Floats) -> Floats:
    """For each place the share of the other starts that have its value."""
    totals: Counter[int] = Counter()
    for value, chance in zip(values, chances.tolist(), strict=True):
        totals[value] += chance
    others = max(float(chances.sum()) - 1, 1.0)
    return (np.array([totals[value] for value in values]) - chances) / others


def _lengths(spans: Spans, first: Division) -> Floats:
    own = first.spans * spans.inner
    names, kind = np.unique(np.rint(spans.quarters * 4).astype(np.int64), return_inverse=True)
    kind = kind.reshape(own.shape)
    totals = np.bincount(kind.ravel(), own.ravel(), minlength=len(names))
    whole = float(own.sum())
    logs: Floats = np.log((totals[kind] - own + 0.3) / (whole - own + 3.0)) * spans.inner
    return logs
