"""Samples to a spectrum whose bins lie as keys do: equally far apart in pitch. Pure, incremental.

A partial of a key lies as many bins above the key as of any other key, so that one small network
reads all keys alike (`strokes.py`). Low pitches lie close together in Hz and need long windows;
high ones may have short windows, which tell better when a key was struck. So three windows stand
around the same moment. The magnitudes are in decibels.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Wave = NDArray[np.float32]

RATE = 22_050  # samples a second
HOP = 256  # samples from one frame to the next, 11.6 ms
FRAMES = RATE / HOP  # a second
THIRDS = 3  # bins a semitone
LOWEST = 21 - 12  # the MIDI number of the lowest bin, an octave below the lowest key
BINS = 114 * THIRDS  # up to 8 kHz
WINDOWS = ((2048, 57), (1024, 81), (512, 127))  # half a window in samples, up to which MIDI number
HALF = WINDOWS[0][0]
QUIET = -120.0  # decibels of nothing


def pitches(cents: float = 0.0) -> NDArray[np.float64]:
    """Hz of each bin, on an instrument that is tuned so many cents above A4 = 440 Hz."""
    number = LOWEST + np.arange(BINS) / THIRDS
    found: NDArray[np.float64] = 440.0 * 2.0 ** ((number - 69 + cents / 100) / 12)
    return found


class Spectrum:
    """Gives a frame of BINS decibels for every HOP samples, each around its moment; the first
    stands at the first sample."""

    def __init__(self, cents: float = 0.0) -> None:
        self.cents = cents
        self._maps = [_map(half, cents, low, high) for half, low, high in _ranges()]
        self._rest: Wave = np.zeros(HALF, np.float32)  # samples that are still of use

    def feed(self, samples: Wave) -> Wave:
        """The frames that are complete with these samples; -1 to 1, RATE a second."""
        x = np.concatenate([self._rest, samples.astype(np.float32)])
        count = max(0, (len(x) - 2 * HALF) // HOP + 1)
        self._rest = x[count * HOP :]
        if not count:
            return np.zeros((0, BINS), np.float32)
        power = np.zeros((count, BINS), np.float32)
        for (half, _), (first, last, bins, window) in zip(WINDOWS, self._maps, strict=True):
            at = HALF - half + np.arange(count) * HOP
            cut = np.lib.stride_tricks.sliding_window_view(x, 2 * half)[at]
            found = np.abs(np.fft.rfft(cut * window)).astype(np.float32)[:, first:last]
            power += (found**2) @ bins
        decibels: Wave = 10 * np.log10(np.maximum(power, 1e-12))
        return decibels

    def flush(self) -> Wave:
        """The frames that are left when nothing more comes."""
        return self.feed(np.zeros(HALF, np.float32))


def _ranges() -> list[tuple[int, float, float]]:
    """Half of each window, and the MIDI numbers from which to which it serves."""
    edges = [LOWEST - 1.0, *(float(top) for _, top in WINDOWS)]
    return [(half, edges[i], edges[i + 1]) for i, (half, _) in enumerate(WINDOWS)]


def _map(half: int, cents: float, low: float, high: float) -> tuple[int, int, Wave, Wave]:
    """Which lines of a window's transform are used, what each gives to each bin, the window."""
    window = np.hanning(2 * half + 1)[:-1]
    hz = np.fft.rfftfreq(2 * half, 1 / RATE)
    centre = pitches(cents)
    number = LOWEST + np.arange(BINS) / THIRDS
    width = np.maximum(centre * (2 ** (1 / (12 * THIRDS)) - 1), 0.75 * RATE / (2 * half))
    share = np.maximum(0, 1 - np.abs(hz[:, None] - centre) / width)
    share[:, (number < low) | (number >= high)] = 0
    share *= 4 / window.sum() ** 2
    used = np.flatnonzero(share.any(axis=1))
    first, last = int(used[0]), int(used[-1]) + 1
    return first, last, share[first:last].astype(np.float32), window.astype(np.float32)
