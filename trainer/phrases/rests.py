"""Clues from rests and long notes, bar by bar."""

from __future__ import annotations

import numpy as np

from trainer.phrases.places import Places
from trainer.phrases.table import Floats


def upper_waits(places: Places) -> Floats:
    """Octaves (powers of two) by which the upper staff's last note is longer than its mean."""
    table = places.table
    strikes = np.unique(table.onset[table.upper])
    if len(strikes) < 3:
        return np.zeros(len(places))
    gaps = np.diff(strikes)
    ratio: Floats = np.log2(np.maximum(places.largest(strikes[1:], gaps) / gaps.mean(), 0.25))
    found: Floats = np.clip(np.where(ratio <= -2, 0, ratio), -2, 3)
    found[0] = 0
    return found


def upper_rests(places: Places) -> Floats:
    return _silence(places, *places.table.upper_silence)


def all_rest(places: Places) -> Floats:
    return _silence(places, *places.table.silence)


def who_waits(places: Places, index: int) -> str:
    """The sentence for a rest or a long note before a place."""
    around = slice(max(index - 1, 0), index + 1)
    here = Places(places.table, places.at[around], places.frame[around])
    if all_rest(here)[-1] > 0:
        return "all voices rest before it"
    return f"the upper voice {'rests' if upper_rests(here)[-1] > 0 else 'waits'} before it"


def _silence(places: Places, strikes: Floats, quiet: Floats) -> Floats:
    """Beats of silence before a strike near each place, at most 2."""
    found: Floats = np.clip(places.largest(strikes, quiet) / places.beat, 0, 2)
    found[0] = 0
    return found
