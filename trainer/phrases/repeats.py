"""Clues from what returns and what changes, bar by bar."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt

from trainer.phrases.closes import close_here
from trainer.phrases.places import Places
from trainer.phrases.table import Floats

Chosen = npt.NDArray[np.bool_]


def _scaled(values: Floats) -> Floats:
    """Standard scores within the piece, within -2 and 3."""
    scaled: Floats = np.clip((values - values.mean()) / max(values.std(), 0.05), -2, 3)
    return scaled


def stands_out(places: Places) -> Floats:
    """How much more this place returns than the two bars on each side."""
    strength = places.likeness.returns
    padded = np.pad(strength, 2, constant_values=np.nan)
    around = np.stack([padded[k : k + len(strength)] for k in (0, 1, 3, 4)])
    with np.errstate(invalid="ignore"):
        counted = np.isfinite(around).sum(axis=0)
    usual = np.nansum(around, axis=0) / np.maximum(counted, 1)
    return strength - np.where(counted > 0, usual, strength)


def novelty(places: Places) -> Floats:
    return _scaled(places.likeness.novelty)


ALIKE = 0.5  # the least likeness of which people are told


def which_returns(places: Places, index: int) -> str:
    """Which bar returns here, or is like this one; nothing where none plainly is."""
    partner = int(places.likeness.partner[index])
    label = places.table.label(partner)
    if places.contents[partner] == places.contents[index] != ():
        return f"b. {label} returns here" if partner < index else f"it comes again in b. {label}"
    if places.likeness.alike[index] >= ALIKE:
        return f"it begins like b. {label}"
    return ""


def rhythm_changes(places: Places) -> Floats:
    """How much the hands' rhythms change from the bar before, less what is usual in the piece:
    1 less the share of places in the bar at which both strike, -1 to 1."""
    changes = _rhythm_changes(places)
    changes[1:] -= changes[1:].mean() if len(changes) > 1 else 0.0
    return changes


def _rhythm_changes(places: Places) -> Floats:
    table = places.table
    found = np.zeros(len(places))
    for hand in _hands(places):
        struck: list[set[int]] = [set() for _ in range(len(places))]
        for frame, slot in zip(table.frame[hand].tolist(), table.slot[hand].tolist(), strict=True):
            struck[frame].add(slot)
        for frame, (one, other) in enumerate(pairwise(struck), 1):
            if one | other:
                found[frame] += 1 - len(one & other) / len(one | other)
    halved: Floats = found / 2
    return halved


EVEN = 0.1  # the mean change of rhythm up to which a piece is one figure throughout


def arrives_evenly(places: Places) -> Floats:
    """1 where the dominant goes to the tonic while the figure goes on as it does throughout the
    piece, less as a passage returns there: the phrase ends with that bar, and the next one begins
    after it (common practice, no source)."""
    even = float(_rhythm_changes(places).mean() < EVEN)
    found: Floats = even * close_here(places) * (1 - np.minimum(places.likeness.returns, 1))
    return found


def register_changes(places: Places) -> Floats:
    """Octaves by which the hands move from the two bars before to the two from here, on average,
    at most 1½."""
    moved = [np.clip(np.abs(_move(places, hand)), 0, 1.5) for hand in _hands(places)]
    change: Floats = (moved[0] + moved[1]) / 2
    return change


def say_register(places: Places, index: int) -> str:
    """Where the upper voice moves, if it moves a third or more."""
    upper = float(_move(places, _hands(places)[0])[index])
    if abs(upper) < 1 / 4:
        return "the register of the lower voice changes"
    return f"the upper voice moves {'higher' if upper > 0 else 'lower'}"


def _hands(places: Places) -> tuple[Chosen, Chosen]:
    """Which notes are in the upper staff, and which in the others (all, if there are none)."""
    upper = places.table.upper
    return upper, ~upper if (~upper).any() else upper


def _move(places: Places, hand: Chosen) -> Floats:
    """Octaves from the mean pitch of the two bars before to that of the two from here."""
    table, size = places.table, len(places)
    count = np.bincount(table.frame[hand], minlength=size)
    sums = np.bincount(table.frame[hand], table.pitch[hand].astype(np.float64), size)
    mean = np.where(count > 0, sums / np.maximum(count, 1), np.nan)
    filled = np.maximum.accumulate(np.where(count > 0, np.arange(size), 0))
    mean = mean[filled]
    mean = np.where(np.isnan(mean), sums.sum() / max(count.sum(), 1), mean)
    padded = np.concatenate(([mean[0]] * 2, mean, mean[-1:]))
    past, coming = (padded[:-3] + padded[1:-2]) / 2, (padded[2:-1] + padded[3:]) / 2
    move: Floats = (coming - past) / 12
    return move
