"""The local key of each bar, by what sounds in it and by what its chords do there.

Profiles alone hear a passage on the dominant in the key of the tonic, and the other way round.
So the chords are named once with the keys that the profiles give, and the keys then chosen
again with both: a chord speaks for the keys in which it is the tonic, the dominant or another
chord of the scale. Tonic and dominant seventh speak loudest; the weights are ours, common
practice without a source.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from trainer.score.chords import Chord
from trainer.score.harmony import Stretch, harmony
from trainer.score.key import Key, best_keys, keys_by_profile, profile_fit, windowed
from trainer.score.model import Score
from trainer.score.sounding import Sounding

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

STAY = 1.2  # what a change of key costs, in the units of fit

_MAJOR, _MINOR, _DIMINISHED, _SEVENTH = range(4)  # the kinds of chord that tell keys apart
_KINDS = {"minor": _MINOR, "m7": _MINOR, "7": _SEVENTH}
_KINDS |= dict.fromkeys(("diminished", "m7b5", "dim7"), _DIMINISHED)
_SPEAKS = (  # kind and root over the tonic: what a chord says for a major key, a minor key
    {
        (_MAJOR, 0): 1.0,
        (_MAJOR, 7): 0.6,
        (_MAJOR, 5): 0.5,
        (_MINOR, 2): 0.3,
        (_MINOR, 9): 0.3,
        (_MINOR, 4): 0.0,
        (_DIMINISHED, 11): 0.6,
        (_SEVENTH, 7): 1.0,
        (_SEVENTH, 2): 0.2,
        (_MAJOR, 2): -0.2,
    },
    {
        (_MINOR, 0): 1.0,
        (_MAJOR, 7): 0.8,
        (_MINOR, 5): 0.5,
        (_MAJOR, 8): 0.3,
        (_MAJOR, 3): 0.3,
        (_MAJOR, 10): 0.0,
        (_MINOR, 7): 0.0,
        (_DIMINISHED, 2): 0.5,
        (_DIMINISHED, 11): 0.8,
        (_SEVENTH, 7): 1.0,
        (_MAJOR, 0): 0.3,
        (_MAJOR, 5): -0.2,
    },
)
_FOREIGN = -1.0  # what every other chord says


def keys(score: Score, sounding: Sounding | None = None) -> tuple[Key, ...]:
    """The local key of each bar, in order of the bars; `sounding` where it is made already."""
    return keys_and_chords(score, sounding)[0]


def keys_and_chords(
    score: Score, sounding: Sounding | None = None
) -> tuple[tuple[Key, ...], tuple[Stretch, ...]]:
    """The local keys, and, as far as anything sounds, the chords by which they were chosen: those
    of the keys that the profiles alone give. They are named a little less well than `harmony`
    names them with the local keys, in half the time."""
    sounding = sounding or Sounding(score.notes)
    heard = [bar for bar in score.bars if float(bar.start) < sounding.close] or score.bars[:1]
    first = keys_by_profile(heard, sounding)
    chords = harmony(score, heard, first, sounding)
    fit = profile_fit(heard, sounding) + _chord_fit(chords, len(heard))
    found = best_keys(fit, heard, STAY)
    return found + found[-1:] * (len(score.bars) - len(heard)), chords


def _chord_fit(stretches: Sequence[Stretch], bars: int) -> Floats:
    """What the chords around each bar say for each of 24 keys, on average over all time."""
    import numpy as np

    time = np.zeros((bars, 49))
    for stretch in stretches:
        time[stretch.bar, _number(stretch.chord)] += float(stretch.end - stretch.onset)
    around = windowed(time)
    return np.asarray(around[:, :-1] / around.sum(axis=1, keepdims=True) @ _table())


def _number(chord: Chord | None) -> int:
    return 48 if chord is None else 12 * _KINDS.get(chord.quality, _MAJOR) + chord.root


@lru_cache(maxsize=1)
def _table() -> Floats:
    """What each chord (4 kinds by 12 roots) says for each of 24 keys."""
    import numpy as np

    table = np.full((48, 24), _FOREIGN)
    for mode, speaks in enumerate(_SPEAKS):
        for (kind, degree), worth in speaks.items():
            for tonic in range(12):
                table[12 * kind + (tonic + degree) % 12, 12 * mode + tonic] = worth
    return table
