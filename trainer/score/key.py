"""Keys, and the local key of each bar by what sounds in it.

Pitch classes, weighted by how long they sound, are compared with the Temperley-Kostka-Payne
profiles (D. Temperley, Music and Probability, MIT Press 2007, from the excerpts in S. Kostka
and D. Payne, Tonal Harmony) over windows of nine bars; the printed key signature pulls
towards its two keys and their neighbours, and a path through the bars that changes key seldom
is found by dynamic programming.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from trainer.score.model import Bar
from trainer.score.sounding import Sounding, rounded
from trainer.values import Frozen

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

Mode = Literal["major", "minor"]

MAJOR = (0.748, 0.060, 0.488, 0.082, 0.670, 0.460, 0.096, 0.715, 0.104, 0.366, 0.057, 0.400)
MINOR = (0.712, 0.084, 0.474, 0.618, 0.049, 0.460, 0.105, 0.747, 0.404, 0.067, 0.133, 0.330)

REACH = 4  # bars on either side that have a say
SIGNATURE = 0.08  # what each fifth away from the key signature costs
STAY = 0.3  # what a change of key costs; both in units of correlation
SURE = (0.0, 2.3)  # confidence, fitted to `keys.keys` on the pieces that the benchmark names

_STEPS = "FCGDAEB"  # each a fifth above the last
_HOME = {"major": 1, "minor": 4}  # where the tonic of no sharps and no flats stands among them


class Key(Frozen, frozen=True):
    """A major or minor key; `alter` counts semitones, sharps positive.

    `confidence`, from 0 to 1, estimates the chance that a trained reader would name it.
    """

    step: str
    alter: int
    mode: Mode
    confidence: float = 1.0

    @property
    def tonic(self) -> int:
        """The tonic's pitch class, 0 for C."""
        return (_STEPS.index(self.step) * 7 + 5 + self.alter) % 12

    @property
    def fifths(self) -> int:
        """The signature: sharps positive, flats negative."""
        return _STEPS.index(self.step) + 7 * self.alter - _HOME[self.mode]


def spelled(pitch_class: int, near: int) -> tuple[str, int]:
    """The step and alter of a pitch class that lies nearest to a signature of `near` fifths.

    Of the notes within half the circle: five fifths below its major tonic to six above.
    """
    centre = near + _HOME["major"] + 2  # the middle of the scale's seven notes
    place = (pitch_class * 7 + 1) % 12  # of this pitch class, on a line where F is 0
    place += 12 * round((centre - place) / 12)
    alter, step = divmod(place, 7)
    return _STEPS[step], alter


def keys_by_profile(bars: Sequence[Bar], sounding: Sounding) -> tuple[Key, ...]:
    """The local key of each bar of a score, from what sounds around it."""
    return best_keys(profile_fit(bars, sounding), bars)


def profile_fit(bars: Sequence[Bar], sounding: Sounding) -> Floats:
    """How well each of 24 keys fits each bar: 0-11 major on that pitch class, 12-23 minor.

    A correlation, from -1 to 1, less what the distance from the key signature costs.
    """
    import numpy as np

    edges = rounded([*(float(bar.start) for bar in bars), float(bars[-1].end)])
    heard = np.diff(sounding.until(edges), axis=0)
    return _correlation(windowed(heard)) - SIGNATURE * _strangeness(bars)


def best_keys(fit: Floats, bars: Sequence[Bar], stay: float = STAY) -> tuple[Key, ...]:
    """The keys with the greatest sum of `fit`, less `stay` for each change of key."""
    path = _path(fit, stay)
    return tuple(
        _key(int(state), sure, bar)
        for state, sure, bar in zip(path, _confidence(fit, path), bars, strict=True)
    )


def _key(state: int, sure: float, bar: Bar) -> Key:
    """The key of a state, its tonic spelled near to the bar's signature."""
    fifths = _fifths_of(state)
    fifths += 12 * round((bar.fifths - fifths) / 12)
    return Key(*spelled(state % 12, fifths), "major" if state < 12 else "minor", sure)


def _confidence(fit: Floats, path: Ints) -> list[float]:
    """The logistic function of how far each bar's key fits better than any other."""
    import numpy as np

    places = np.arange(len(path))
    others = fit.copy()
    others[places, path] = -np.inf
    evidence = SURE[0] + SURE[1] * (fit[places, path] - others.max(axis=1))
    return [round(float(sure), 3) for sure in 1 / (1 + np.exp(-evidence))]


def _fifths_of(state: int) -> int:
    """The signature of a state (0-11 major on that pitch class, 12-23 minor), from -5 to 6."""
    major = state if state < 12 else state + 3  # the relative major of a minor key
    return (major * 7 + 5) % 12 - 5


def windowed(heard: Floats) -> Floats:
    """Each bar with its neighbours, whose say falls off in a straight line."""
    import numpy as np

    total = np.zeros_like(heard)
    for apart in range(-REACH, REACH + 1):
        share = 1 - abs(apart) / (REACH + 1)
        here = slice(max(0, -apart), max(0, len(heard) - max(0, apart)))
        there = slice(max(0, apart), max(0, len(heard) - max(0, -apart)))
        total[here] += share * heard[there]
    return total


def _correlation(heard: Floats) -> Floats:
    """Pearson's correlation of each row with the 24 profiles, 0 where nothing sounds."""
    import numpy as np

    profiles = np.array([np.roll(p, k) for p in (MAJOR, MINOR) for k in range(12)])
    rows = heard - heard.mean(axis=1, keepdims=True)
    profiles = profiles - profiles.mean(axis=1, keepdims=True)
    size = np.linalg.norm(rows, axis=1, keepdims=True) * np.linalg.norm(profiles, axis=1)
    return np.where(size > 0, rows @ profiles.T / np.maximum(size, 1e-12), 0.0)


def _strangeness(bars: Sequence[Bar]) -> Floats:
    """How many fifths each key lies from each bar's signature; one more for the other mode."""
    import numpy as np

    own = np.array([_fifths_of(state) for state in range(24)])
    minor = np.arange(24) >= 12
    apart = np.abs((own - np.array([[bar.fifths] for bar in bars]) + 6) % 12 - 6).astype(float)
    named = np.array([[{"major": 1.0, "minor": -1.0}.get(bar.mode, 0.0)] for bar in bars])
    return np.asarray(apart + np.where(minor, named, -named).clip(min=0))


def _path(fit: Floats, stay: float) -> Ints:
    """The states with the greatest sum of `fit`, less `stay` for each change (Viterbi)."""
    import numpy as np

    best = fit[0]
    came: list[Ints] = []
    for row in fit[1:]:
        top = int(best.argmax())
        stays = best >= best[top] - stay
        came.append(np.where(stays, np.arange(24), top))
        best = np.maximum(best, best[top] - stay) + row
    state = int(best.argmax())
    path = [state]
    for back in reversed(came):
        state = int(back[state])
        path.append(state)
    return np.array(path[::-1])
