"""The count before an entry: which beats are said, and when. Pure.

It says the felt beats of the metre and nothing else: not the key, not a note, not how the beats
are divided. On which beat to begin is part of the call. So a count gives away metre and tempo
only: it is no hint, and it is not recorded with a try. (The hint "key and count" tells more.)
"""

from __future__ import annotations

from fractions import Fraction
from math import ceil

from trainer.score.model import Score
from trainer.score.tempo import quarter, stretch
from trainer.values import Frozen

LEAST = 2  # beats; fewer give no tempo
MOST = 12  # beats; of a longer count the last ones are said


class Beat(Frozen, frozen=True):
    """One beat of a count: its number in the bar, and the seconds from the first one to it."""

    number: int
    at: float


class Count(Frozen, frozen=True):
    """The beats before an entry, at least LEAST and at most MOST. `seconds` go from the first
    of them to the entry, and `beat` is how long each lasts; the last is cut short where the
    entry lies within a beat."""

    beats: tuple[Beat, ...]
    seconds: float
    beat: float

    def words(self, said: int | None = None) -> str:
        """The numbers of the first `said` beats, or of all: "1 2 3  1 2", a wider gap at each
        bar line."""
        numbers = [beat.number for beat in self.beats[:said]]
        gaps = ["  " if number == 1 else " " for number in numbers]
        return "".join(f"{gap}{n}" for gap, n in zip(gaps, numbers, strict=True)).strip()

    @property
    def rate(self) -> int:
        """Beats a minute, rounded."""
        return round(60 / self.beat)


def count_before(score: Score, onset: Fraction, rate: float | None = None) -> Count:
    """The count before an entry at `onset`, at `rate` felt beats a minute or as written.

    A whole bar before a first beat. An entry within the bar is counted up to from the bar's own
    first beat, with whole bars before it where that would be fewer than LEAST beats: "1 2" and
    in on 3; "1 2 3 4  1" and in on 2 (common practice, no source). Bars before are counted in
    the entry's metre and tempo.
    """
    bar = score.bar_at(onset)
    meter = bar.meter
    inside = bar.lead + onset - bar.start
    here = ceil(inside / meter.beat)
    in_bar = int(meter.length / meter.beat)
    bars = ceil(max(0, LEAST - here) / in_bar)
    numbers = [*range(1, in_bar + 1)] * bars + [*range(1, here + 1)]
    left_out = max(0, len(numbers) - MOST)
    pace = quarter(score, onset) * stretch(score, onset, rate)
    beat = float(meter.beat) * pace
    length = inside + bars * meter.length - left_out * meter.beat
    return Count(
        tuple(Beat(number, n * beat) for n, number in enumerate(numbers[left_out:])),
        float(length) * pace,
        beat,
    )
