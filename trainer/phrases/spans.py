"""The best way to divide a piece into spans, and how sure each division is.

A division's score is the sum of what speaks for each of its starts and for each of its spans;
the chance of a division grows with the exponential of its score (a semi-Markov model: Sarawagi
and Cohen, "Semi-Markov conditional random fields for information extraction", 2004). `divide`
finds the best division and the chance of every place to be a start, in time that grows with
the number of places and with the longest span.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trainer.phrases.table import Floats

NEVER = -1e9


@dataclass(frozen=True, eq=False)
class Division:
    """`starts` of the best division; `chances`, for each place, that it is a start; and
    `spans`, of the shape of the scores, for each span, that it is one of the division's."""

    starts: list[int]
    chances: Floats
    spans: Floats


def divide(scores: Floats) -> Division:
    """The best division, and how likely each of its parts is.

    `scores[j, d]` is the score of a span from place j - d to place j with what speaks for j;
    places count from 0, which is always a start, to the last row, the end. Entries that reach
    before place 0, and d = 0, are never read. Shape (places + 1, longest span + 1).
    """
    last, reach = len(scores) - 1, scores.shape[1] - 1
    forward = np.full(last + 1, NEVER)
    best = np.full(last + 1, NEVER)
    back = np.zeros(last + 1, dtype=np.int64)
    forward[0] = best[0] = 0.0
    for j in range(1, last + 1):
        span = min(j, reach)
        row = scores[j, span:0:-1]  # from the longest span to the shortest
        forward[j] = np.logaddexp.reduce(forward[j - span : j] + row)
        ways = best[j - span : j] + row
        choice = int(ways.argmax())
        best[j], back[j] = ways[choice], j - span + choice
    backward = np.full(last + 1, NEVER)
    backward[last] = 0.0
    for i in range(last - 1, -1, -1):
        span = min(last - i, reach)
        steps = np.arange(1, span + 1)
        backward[i] = np.logaddexp.reduce(backward[i + 1 : i + span + 1] + scores[i + steps, steps])
    first = np.arange(last + 1)[:, None] - np.arange(reach + 1)[None, :]
    inside = (first >= 0) & (first < np.arange(last + 1)[:, None])
    total = forward[np.maximum(first, 0)] + scores + backward[:, None] - forward[last]
    spans: Floats = np.where(inside, np.exp(np.minimum(np.where(inside, total, NEVER), 0.0)), 0.0)
    chances = spans.sum(axis=1)[:last]
    chances[0] = 1.0
    starts = []
    at = last
    while at > 0:
        at = int(back[at])
        starts.append(at)
    return Division(starts[::-1], np.minimum(chances, 1.0), spans)
