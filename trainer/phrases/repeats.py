"""Cues from what returns and what changes, bar by bar."""

from __future__ import annotations

import numpy as np

from trainer.phrases.places import Places
from trainer.phrases.table import Floats


def _scaled(values: Floats) -> Floats:
    """Standard scores within the piece, within -2 and 3."""
    scaled: Floats = np.clip((values - values.mean()) / max(values.std(), 0.05), -2, 3)
    return scaled


def returns(places: Places) -> Floats:
    return _scaled(places.likeness.returns)


def stands_out(places: Places) -> Floats:
    """How much more this place returns than the two bars on each side."""
    strength = places.likeness.returns
    padded = np.pad(strength, 2, constant_values=np.nan)
    around = np.stack([padded[k : k + len(strength)] for k in (0, 1, 3, 4)])
    with np.errstate(invalid="ignore"):
        counted = np.isfinite(around).sum(axis=0)
    usual = np.nansum(around, axis=0) / np.maximum(counted, 1)
    return strength - np.where(counted > 0, usual, strength)


def like_opening(places: Places) -> Floats:
    return places.likeness.opening


def novelty(places: Places) -> Floats:
    return _scaled(places.likeness.novelty)


def which_returns(places: Places, index: int) -> str:
    partner = int(places.likeness.partner[index])
    label = places.table.label(partner)
    return f"what begins in b. {label} {'returns' if partner < index else 'begins'} here"


def texture_changes(places: Places) -> Floats:
    """Change in notes a quarter from the two bars before to the two from here."""
    table = places.table
    counts = np.bincount(table.frame, minlength=len(places)).astype(np.float64)
    density = counts / np.maximum(table.frames.length, 0.1)
    before = np.concatenate(([density[0]] * 2, density))
    first = np.minimum(np.arange(len(places)), 2)
    past = (before[1:-1] + np.where(first > 1, before[:-2], before[1:-1])) / 2
    coming = (density + np.append(density[1:], density[-1:])) / 2
    change: Floats = np.clip(np.abs(coming - past) / max(density.mean(), 0.1), 0, 1.5)
    return change
