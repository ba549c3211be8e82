"""Cues from harmony, by the weight of the twelve pitch classes, and from the bass."""

from __future__ import annotations

import numpy as np

from trainer.phrases.places import Places
from trainer.phrases.table import NEAR, Floats, Ints


def _chroma(places: Places, within: float = 1.0) -> Floats:
    """Unit vectors, frames x 12, of the notes struck in the first part of each frame."""
    table = places.table
    frames = table.frames
    share = (table.onset - frames.start[table.frame]) / np.maximum(frames.length[table.frame], 0.1)
    chosen = share < within
    sums = np.zeros((len(frames), 12))
    weights = np.clip(table.end - table.onset, 0.1, 4)[chosen]
    np.add.at(sums, (table.frame[chosen], table.pitch[chosen] % 12), weights)
    return _unit(sums)


def _unit(vectors: Floats) -> Floats:
    lengths = np.linalg.norm(vectors, axis=1, keepdims=True)
    unit: Floats = vectors / np.maximum(lengths, 1e-9)
    return unit


def home_harmony(places: Places) -> Floats:
    chords = _chroma(places, 0.34)
    first = int(places.table.frames.lead[0] > 0 and len(chords) > 1)
    likeness: Floats = chords @ chords[first]
    return likeness


def same_harmony(places: Places) -> Floats:
    chords = _chroma(places)
    alike = np.zeros(len(chords))
    alike[1:] = (chords[1:] * chords[:-1]).sum(axis=1)
    return alike


def fifth_falls(places: Places) -> Floats:
    """1 where the bass fell a fifth, or rose a fourth, into the bar before: a full close."""
    first, last = _bass(places)
    fell = np.zeros(len(places))
    step = (first[1:-1] - last[:-2]) % 12 == 5
    fell[2:] = step & (first[1:-1] >= 0) & (last[:-2] >= 0)
    return fell


def bass_stays(places: Places) -> Floats:
    first, last = _bass(places)
    stays = np.zeros(len(places))
    same = (first[1:] - last[:-1]) % 12 == 0
    stays[1:] = same & (first[1:] >= 0) & (last[:-1] >= 0)
    return stays


def _bass(places: Places) -> tuple[Ints, Ints]:
    """The lowest pitch of each frame's first strike, and of its second half (or of all)."""
    table = places.table
    frames = table.frames
    first = np.full(len(frames), -1)
    last = np.full(len(frames), -1)
    edges = np.searchsorted(table.frame, np.arange(len(frames) + 1))
    for frame, (low, high) in enumerate(zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True)):
        if low == high:
            continue
        onset, pitch = table.onset[low:high], table.pitch[low:high]
        first[frame] = pitch[onset <= onset[0] + NEAR].min()
        half = onset >= frames.start[frame] + frames.length[frame] / 2 - NEAR
        last[frame] = pitch[half].min() if half.any() else pitch.min()
    return first, last
