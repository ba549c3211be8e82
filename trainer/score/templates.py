"""How well each chord explains what sounds between two moments.

A sum: the logarithm of the chance of the sounding time, where a chord gives each of its tones
and each foreign tone a fixed share (a multinomial model), times the length in beats; something
for the bass; less for each tone of the chord that is missing, for a chord outside the local
key and for a rare kind of chord. All of it is linear in what is heard, so that one table
serves. The weights are ours, set on the pieces that `tests.benchmarks.name_chords` names.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from trainer.score.chords import AT_HOME, QUALITIES, TONES, Quality
from trainer.score.sounding import SILENT, Sounding

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

SHARE = (1.0, 0.85, 1.05, 0.45)  # of sounding time: root, third, fifth, seventh
FOREIGN = 0.012  # the share of all foreign tones together
BASS = (0.8, 0.3, 0.1, -0.3)  # for the tone that is lowest
FOREIGN_BASS = -0.4
MISSING = (0.2, 0.4, 0.0, 0.5)
HEARD = 0.03  # a tone with a smaller share of the time counts as missing
OUTSIDE = 1.1  # for a chord that does not belong to the key
RARE: dict[Quality, float] = {
    "diminished": 0.6,
    "augmented": 1.0,
    "7": 0.3,
    "maj7": 0.8,
    "m7": 0.6,
    "m7b5": 0.4,
    "dim7": 0.7,
}
# Confidence is the logistic function of a sum (fitted on the same pieces, and on their top
# parts alone): SURE[0], SURE[1] times the root of the margin over the best other root, and
SURE = (-0.4, 2.1)
SEVENTH = -1.2  # for a chord of four tones, which may be a suspension
ALONE = -1.8  # where one note at a time sounds, and the harmony is but implied
ONE_LINE = 0.1  # the share of time with two notes at once, up to which one line sounds

_TIME, _HEARD, _BASS, _KEY, _ALWAYS, _WIDTH = 0, 12, 24, 36, 60, 61  # columns of what is heard


class Verdict(NamedTuple):
    """The chord that explains a stretch best.

    `confidence` is from 0 to 1, and 0 where nothing sounds; `lowest` is a pitch.
    """

    root: int
    quality: Quality
    confidence: float
    lowest: int


class Ear:
    """What sounds between any two of the given times, and what explains it.

    `keys` has for each time the number of the key there: the tonic's pitch class, plus 12 in
    minor; `beats` the length of the beat in ql. Both have one entry fewer than `times`.
    """

    def __init__(self, sounding: Sounding, times: Floats, keys: Ints, beats: Floats) -> None:
        self.times = times
        self.keys = keys
        self.beats = beats
        self.until = sounding.until(times)
        self.any, self.two = sounding.together(times)
        self.low = sounding.lowest(times)

    def worth(self, first: Ints, last: Ints, lowest: Ints) -> Floats:
        """How well the best chord explains each stretch; 0 where nothing sounds."""
        import numpy as np

        return np.asarray((self._heard(first, last, lowest) @ _table()).max(axis=1))

    def verdicts(self, first: Ints, last: Ints) -> list[Verdict]:
        """The best chord of each of the stretches, which must follow one another."""
        import numpy as np

        lowest = np.minimum.reduceat(self.low[: last[-1]], first)
        worth = self._heard(first, last, lowest) @ _table()
        top = worth.argmax(axis=1)
        others = worth.reshape(len(worth), len(QUALITIES), 12).copy()
        others[np.arange(len(top)), :, top % 12] = -np.inf
        even = np.nonzero(top // 12 == QUALITIES.index("dim7"))[0]
        for up in (3, 6, 9):  # the same tones: no other chord, and the spelling tells its root
            others[even, QUALITIES.index("dim7"), (top[even] + up) % 12] = -np.inf
        margin = worth.max(axis=1) - others.max(axis=(1, 2))
        rows = zip(
            top.tolist(),
            self._confidence(first, last, top, margin).tolist(),
            lowest.tolist(),
            strict=True,
        )
        return [Verdict(state % 12, QUALITIES[state // 12], sure, low) for state, sure, low in rows]

    def _confidence(self, first: Ints, last: Ints, state: Ints, margin: Floats) -> Floats:
        """The chance that the root is right; 0 for silence, and for one pitch class alone."""
        import numpy as np

        heard = self.any[last] - self.any[first]
        alone = self.two[last] - self.two[first] <= ONE_LINE * heard
        one_tone = np.sum(self.until[last] - self.until[first] > 1e-6, axis=1) == 1
        seventh = np.array([len(TONES[quality]) == 4 for quality in QUALITIES])[state // 12]
        evidence = SURE[0] + SURE[1] * np.sqrt(margin) + SEVENTH * seventh + ALONE * alone
        nothing = (heard < 1e-6) | (alone & one_tone)
        return np.where(nothing, 0.0, 1 / (1 + np.exp(-evidence)))

    def _heard(self, first: Ints, last: Ints, lowest: Ints) -> Floats:
        """One row a stretch: shares of time, tones heard, bass, key, and a one."""
        import numpy as np

        rows = np.zeros((len(first), _WIDTH))
        time = self.until[last] - self.until[first]
        total = time.sum(axis=1)
        at = np.nonzero((lowest < SILENT) & (total > 0))[0]
        share = time[at] / total[at, None]
        length = (self.times[last[at]] - self.times[first[at]]) / self.beats[first[at]]
        rows[at, _TIME:_HEARD] = share * length[:, None]
        rows[at, _HEARD:_BASS] = share >= HEARD
        rows[at, _BASS + lowest[at] % 12] = 1
        rows[at, _KEY + self.keys[first[at]]] = 1
        rows[at, _ALWAYS] = 1
        return rows


@lru_cache(maxsize=1)
def _table() -> Floats:
    """What each thing heard is worth to each chord: 61 by 108 (9 qualities by 12 roots)."""
    import numpy as np

    return np.column_stack([_column(root, q) for q in QUALITIES for root in range(12)])


def _column(root: int, quality: Quality) -> Floats:
    """What each thing heard is worth to one chord."""
    import numpy as np

    places = [(root + tone) % 12 for tone in TONES[quality]]
    size = len(places)
    column = np.zeros(_WIDTH)
    share = np.full(12, FOREIGN / (12 - size))
    share[places] = (1 - FOREIGN) * np.array(SHARE[:size]) / sum(SHARE[:size])
    column[_TIME:_HEARD] = np.log(12 * share)
    column[_BASS:_KEY] = FOREIGN_BASS
    for place, missing, bass in zip(places, MISSING, BASS, strict=False):
        column[_HEARD + place] = missing
        column[_BASS + place] = bass
    for key in range(24):
        home = AT_HOME["major" if key < 12 else "minor"].get(quality, ())
        column[_KEY + key] = 0 if (root - key) % 12 in home else -OUTSIDE
    column[_ALWAYS] = -sum(MISSING[:size]) - RARE.get(quality, 0)
    return column
