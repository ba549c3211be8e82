"""Starts that a person has numbered in the score, as rehearsal marks.

Numbers that go up by one from mark to mark are a division of the piece into starts, and nothing is
to be added to it. Those of an edition, some lines or a page apart, are not: the first of the starts
stands at the first note, or else they follow each other closely.
"""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import pairwise

from trainer.score.model import Score

_NUMBER = re.compile("[0-9]{1,4}")
CLOSE = 8
"""Bars from number to number, on average, above which they are those of an edition (common
practice, no source)."""


def numbered(score: Score) -> dict[int, Fraction]:
    """Where each numbered start of a score begins, in ql, by its number, in score order. Empty
    where the score's rehearsal marks do not number its starts. Other marks, such as letters, are
    passed over."""
    marks = [mark for mark in score.marks_of("rehearsal") if _NUMBER.fullmatch(mark.text)]
    found = {int(mark.text): mark.onset for mark in marks}
    places = list(found.items())
    if len(places) < 2 or len(places) < len(marks):
        return {}
    if any(b[0] != a[0] + 1 or b[1] <= a[1] for a, b in pairwise(places)):
        return {}
    first = places[0][1]
    bars = len(score.bars) - score.bar_at(first).index
    at_the_beginning = bool(score.onsets) and first <= score.onsets[0]
    return found if at_the_beginning or bars <= CLOSE * len(places) else {}
