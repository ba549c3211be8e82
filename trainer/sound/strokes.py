"""From a sound to the keys that were struck, each with a chance. Pure, incremental.

What a struck key does to a spectrum (`spectrum.py`) is that its partials rise together, at 1, 2,
3... times its pitch, as all keys' do; and what passes for it, the partials of another key, leaves
some of its own out. So one small network looks at each key in turn, at the bins where its partials
lie and those of what may pass for it, over some frames before and after, and gives the logit of
the chance that it was struck just then. It is the same network for all keys, and is told which key
it is. Its numbers are in `strokes.npy`, which `tests/benchmarks/fit_strokes.py` makes, on music
drawn by chance.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from trainer.sound.spectrum import BINS, FRAMES, LOWEST, THIRDS, Spectrum
from trainer.values import Frozen

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Ints = NDArray[np.int64]
    Wave = NDArray[np.float32]

KEYS, LOW_KEY = 88, 21
LAYERS = (80, 32)
WEIGHTS = Path(__file__).with_name("strokes.npy")

AROUND = (-8, -5, -3, -2, -1, 0, 1, 2, 3, 5, 8)  # frames that are looked at
BEFORE, AFTER = 8, 8
TIMES = (
    0.25,
    1 / 3,
    0.5,
    2 / 3,
    1,
    1.5,
    2,
    3,
    4,
    5,
    6,
    7,
    8,
    10,
    12,
)  # of a key's pitch: where partials lie
RANGE = 60.0  # decibels below the loudest that are still looked at
FALL = 6.0  # decibels a second by which the loudest is forgotten
LEAST = 0.1  # chance of a stroke that is told
MOST = 0.999  # a sound is never wholly sure
NOTHING = -200.0  # decibels of a bin that is not there
PORTION = 32  # frames that are looked at at once


class Stroke(Frozen, frozen=True):
    """A key that seems to have been struck: seconds from the beginning of the sound, MIDI number,
    chance from LEAST to MOST."""

    time: float
    pitch: int
    chance: float


def _bins() -> Ints:
    """For each key the bins that are looked at; BINS where there is none."""
    rows = []
    for key in range(KEYS):
        first = (LOW_KEY + key - LOWEST) * THIRDS
        row = []
        for times in TIMES:
            place = first + round(12 * THIRDS * float(np.log2(times)))
            beside = (-3, -1, 0, 1, 3) if times in (1, 2) else (-1, 0, 1)
            row += [place + away if 0 <= place + away < BINS else BINS for away in beside]
        rows.append(row)
    return np.array(rows)


LOOKED = _bins()
SIZE = len(AROUND) * LOOKED.shape[1] + 3


def loudest(frames: Floats, before: float) -> Floats:
    """For each frame the decibels of the loudest bin so far, forgotten by and by."""
    found = np.empty(len(frames), np.float32)
    for number, top in enumerate(frames.max(axis=1)):
        before = found[number] = max(float(top), before - FALL / FRAMES)
    return found


def normal(frames: Floats) -> tuple[Floats, Floats]:
    """The frames with a bin of nothing behind the last, edges for looking before and after, and
    the loudest of each moment, AFTER frames on."""
    edged = np.pad(frames, ((BEFORE, AFTER), (0, 1)), mode="edge")
    edged[:, BINS] = NOTHING
    top = loudest(edged[:, :BINS], float(edged[:AFTER, :BINS].max()))
    return edged, top[BEFORE + AFTER :]


def inputs(patches: tuple[Floats, Floats], at: Ints, keys: Ints) -> Floats:
    """What the network is given for some moments and keys, SIZE numbers each, -1 to 1."""
    edged, top = patches
    rows = (at + BEFORE)[:, None] + np.array(AROUND)
    seen = edged[rows[:, :, None], LOOKED[keys][:, None, :]].reshape(len(at), -1)
    seen = np.clip((seen - top[at][:, None]) / (RANGE / 2) + 1, -1, 1)
    place = keys[:, None] / KEYS
    told = np.concatenate([place, np.sin(np.pi * place), np.cos(2 * np.pi * place)], axis=1)
    return np.concatenate([seen, told], axis=1).astype(np.float32)


class Network:
    """Layers of weights and biases, with max(0, x) between them."""

    def __init__(self, layers: Sequence[tuple[Floats, Floats]]) -> None:
        self._layers = tuple(layers)

    @classmethod
    def kept(cls, file: Path = WEIGHTS) -> Network:
        with file.open("rb") as read:
            values = [np.load(read).astype(np.float32) for _ in range(2 * len(LAYERS) + 2)]
        return cls(list(zip(values[::2], values[1::2], strict=True)))

    def save(self, file: Path) -> None:
        with file.open("wb") as out:
            for value in (value for layer in self._layers for value in layer):
                np.save(out, value.astype(np.float16))

    def logits(self, x: Floats) -> Floats:
        for number, (weights, bias) in enumerate(self._layers):
            x = x @ weights + bias
            if number + 1 < len(self._layers):
                x = np.maximum(x, 0)
        found: Floats = x[:, 0]
        return found

    def strokes(self, frames: Floats, least: float = LEAST) -> list[Stroke]:
        """The strokes, of `least` chance, in frames that are all there."""
        finder = Finder(network=self, least=least)
        return [*finder.look(frames), *finder.end()]


class Finder:
    """Finds strokes in a sound as it comes, on an instrument that is tuned so many cents high.
    A stroke is told about a fifth of a second after it."""

    def __init__(
        self, cents: float = 0.0, network: Network | None = None, least: float = LEAST
    ) -> None:
        self._least = least
        self._spectrum = Spectrum(cents)
        self._network = network or Network.kept()
        self._edged: Floats = np.zeros((0, BINS + 1), np.float32)
        self._top: Floats = np.zeros(0, np.float32)  # the loudest, for each row
        self._curves: Floats = np.zeros((0, KEYS), np.float32)
        self._first = 0  # the number of the first frame in `_curves`

    def feed(self, samples: Wave) -> list[Stroke]:
        """The strokes that are known with these samples; -1 to 1, RATE a second."""
        return self.look(self._spectrum.feed(samples))

    def flush(self) -> list[Stroke]:
        """Those that are left when nothing more comes."""
        return [*self.look(self._spectrum.flush()), *self.end()]

    def look(self, frames: Floats) -> list[Stroke]:
        """The same from frames."""
        if not len(frames):
            return []
        rows = np.pad(frames, ((0, 0), (0, 1)), constant_values=NOTHING)
        if not len(self._edged):
            rows = np.concatenate([np.repeat(rows[:1], BEFORE, axis=0), rows])
        before = float(self._top[-1]) if len(self._top) else NOTHING
        self._top = np.concatenate([self._top, loudest(rows[:, :BINS], before)])
        self._edged = np.concatenate([self._edged, rows])
        count = len(self._edged) - BEFORE - AFTER
        if count <= 0:
            return []
        patches = self._edged, self._top[BEFORE + AFTER :]
        found = np.concatenate([self._curves, self._seen(patches, count)])
        self._edged, self._top = self._edged[count:], self._top[count:]
        strokes = sorted(
            picked(found, self._first, self._least), key=lambda one: (one.time, one.pitch)
        )
        self._curves = found[-2:]
        self._first += len(found) - len(self._curves)
        return strokes

    def end(self) -> list[Stroke]:
        last = self._edged[-1:, :BINS]
        return self.look(np.repeat(last, AFTER, axis=0))

    def _seen(self, patches: tuple[Floats, Floats], count: int) -> Floats:
        """The chance for each frame and each key."""
        found = np.empty((count, KEYS), np.float32)
        for first in range(0, count, PORTION):
            some = np.arange(first, min(count, first + PORTION))
            x = inputs(patches, np.repeat(some, KEYS), np.tile(np.arange(KEYS), len(some)))
            found[some] = self._network.logits(x).reshape(len(some), KEYS)
        chances: Floats = np.reciprocal(1 + np.exp(-found))
        return chances


def picked(curves: Floats, first: int, least: float) -> Iterator[Stroke]:
    """The peaks of the curves of `least` chance, whose first frame has the number `first`. The
    first and the last frame are no peaks."""
    here, before, after = curves[1:-1], curves[:-2], curves[2:]
    for at, key in np.argwhere((here >= least) & (here > before) & (here >= after)).tolist():
        a, b, c = (float(value) for value in curves[at : at + 3, key])
        bent = a - 2 * b + c
        away = 0.5 * (a - c) / bent if bent < 0 else 0.0
        yield Stroke((first + at + 1 + away) / FRAMES, LOW_KEY + key, min(b, MOST))
