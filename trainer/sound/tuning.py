"""How an instrument is tuned: the cents that its partials lie above A4 = 440 Hz. Pure.

Each peak of a spectrum is so many cents from the nearest key; taken as an angle, with the peak's
strength, the angles of all peaks add up to a direction, from -50 to +50 cents. Whoever is further
off is taken for a neighbouring key.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from trainer.sound.spectrum import RATE

if TYPE_CHECKING:
    from trainer.sound.spectrum import Wave

SIZE = 16_384  # samples of one look
LOW, HIGH = 180.0, 1500.0  # Hz between which partials are compared
CLEAR = 10.0  # how much a peak stands above the middle of its spectrum
ENOUGH = 1.5  # strength of all peaks from which on something can be said


class Tuning:
    """Adds up what it is given."""

    def __init__(self) -> None:
        self._sum = 0j
        self._rest: Wave = np.zeros(0, np.float32)

    def feed(self, samples: Wave) -> None:
        x = np.concatenate([self._rest, samples])
        while len(x) >= SIZE:
            self._sum += _direction(x[:SIZE])
            x = x[SIZE // 2 :]
        self._rest = x

    @property
    def cents(self) -> float | None:
        """-50 to 50; None where too little was heard."""
        if abs(self._sum) < ENOUGH:
            return None
        return float(np.angle(self._sum) / (2 * np.pi) * 100)


def _direction(samples: Wave) -> complex:
    power = np.abs(np.fft.rfft(samples * np.hanning(SIZE), 2 * SIZE))
    step = RATE / (2 * SIZE)
    first, last = int(LOW / step), int(HIGH / step)
    here, before, after = (power[first + i : last + i] for i in (0, -1, 1))
    clear = here > CLEAR * np.median(here)
    at = np.flatnonzero(clear & (here > before) & (here >= after))
    if not len(at):
        return 0j
    a, b, c = (np.log(part[at] + 1e-12) for part in (before, here, after))
    hz = (first + at + 0.5 * (a - c) / (a - 2 * b + c - 1e-12)) * step
    strength = np.sqrt(here[at] / here[at].max())
    angle = 2 * np.pi * 12 * np.log2(hz / 440)
    return complex((strength * np.exp(1j * angle)).sum() / len(at))
