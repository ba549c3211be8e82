"""Clues from what is written beside the notes."""

from __future__ import annotations

import numpy as np

from trainer.phrases.places import Places
from trainer.phrases.table import Floats, frames_of


def dynamic_here(places: Places) -> Floats:
    marks = places.table.marked("dynamic")
    return (places.near(marks, 1.1, 0.6) + places.near(marks, 1.1, 0.1)) / 2


def _slurs(places: Places) -> tuple[Floats, Floats]:
    slurs = [mark for mark in places.table.score.marks_of("slur") if mark.end is not None]
    starts = np.array([float(mark.onset) for mark in slurs])
    return starts, np.array([float(mark.end or 0) for mark in slurs])


def slur_crosses(places: Places) -> Floats:
    """1 where a slur begins well before the place and ends well after it."""
    starts, ends = _slurs(places)
    frames = places.table.frames
    crossed = np.zeros(len(places) + 1)
    beat = frames.beat[frames_of(frames.start, starts)]
    low = np.searchsorted(places.at, starts + 1.1 * beat, side="right")
    high = np.searchsorted(places.at, ends - 0.6 * beat)
    np.add.at(crossed, low[high > low], 1)
    np.add.at(crossed, high[high > low], -1)
    found: Floats = (np.cumsum(crossed)[:-1] > 0).astype(np.float64)
    return found
