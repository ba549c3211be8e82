"""How long written music lasts in seconds. Pure.

The last metronome mark up to a place holds there. Where none stands, a felt beat lasts a second
(a player's usual slow count; no source). Words such as "rit." change nothing, nor do fermatas.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from fractions import Fraction
from itertools import pairwise

from trainer.score.model import Score

SLOWEST, FASTEST = 10.0, 600.0  # quarter notes a minute; beyond them a mark is taken to be wrong
USUAL_BEAT = 1.0  # seconds a felt beat


def quarter(score: Score, onset: Fraction) -> float:
    """Seconds that a quarter note lasts at a place, from 0.1 to 6 where a mark says so.

    A pickup goes with what it leads into: a mark over the next bar line holds in it already.
    """
    bar = score.bar_at(onset)
    until = bar.end if bar.upbeat else onset
    marks = [mark.value for mark in score.marks_of("tempo") if mark.onset <= until and mark.value]
    if marks:
        return 60.0 / min(max(SLOWEST, marks[-1]), FASTEST)
    return USUAL_BEAT / float(bar.meter.beat)


def stretch(score: Score, onset: Fraction, rate: float | None) -> float:
    """How many times as long as written everything lasts at `rate` felt beats a minute at a
    place; 1 where no rate is given."""
    if rate is None:
        return 1.0
    return 60.0 / rate / float(score.bar_at(onset).meter.beat) / quarter(score, onset)


def clock(score: Score, begin: Fraction) -> Callable[[Fraction], float]:
    """From a place at or after `begin` to the seconds that have passed since `begin`."""
    marks = (m.onset for m in score.marks_of("tempo") if m.value and m.onset > begin)
    changes = [begin, *sorted(set(marks))]
    paces = [quarter(score, place) for place in changes]
    passed = [0.0]
    for (here, after), pace in zip(pairwise(changes), paces, strict=False):
        passed.append(passed[-1] + float(after - here) * pace)

    def at(onset: Fraction) -> float:
        last = max(0, bisect_right(changes, onset) - 1)
        return passed[last] + float(onset - changes[last]) * paces[last]

    return at
