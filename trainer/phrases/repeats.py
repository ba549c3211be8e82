"""Clues from what returns and what changes, bar by bar."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt

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
LAG = 8  # bars


def parallel_at_eight(places: Places) -> Floats:
    """How far a bar goes like the one eight bars earlier or later as played, without having been
    led to in the same way."""
    parallel = places.likeness.parallel
    found = np.zeros(len(places))
    for one, other in _eight_apart(places):
        found[one] = max(found[one], parallel[other, other - one])
        found[other] = max(found[other], parallel[other, other - one])
    return found


def _eight_apart(places: Places) -> list[tuple[int, int]]:
    """Pairs of frames eight bars apart, the later one as far as likeness reaches."""
    at: dict[int, int] = {}
    pairs = []
    reach = places.likeness.parallel.shape[1]
    for frame, count in enumerate(places.table.frames.count.tolist()):
        other = at.get(count - LAG)
        if other is not None and frame - other < reach:
            pairs.append((other, frame))
        at[count] = frame
    return pairs


def say_parallel(places: Places, index: int) -> str:
    """Which bar eight bars away is like this one, where one plainly is."""
    forward = places.likeness.forward
    ways = [
        (float(forward[two, two - one]), two if one == index else one)
        for one, two in _eight_apart(places)
        if index in (one, two)
    ]
    alike, other = max(ways, default=(0.0, 0))
    return f"it begins like b. {places.table.label(other)}" if alike >= ALIKE else ""


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
    found = np.zeros(len(places))
    table = places.table
    for hand in _hands(places):
        struck: list[set[int]] = [set() for _ in range(len(places))]
        for frame, slot in zip(table.frame[hand].tolist(), table.slot[hand].tolist(), strict=True):
            struck[frame].add(slot)
        change = [
            1 - (len(one & other) / len(one | other) if one | other else 1.0)
            for one, other in pairwise(struck)
        ]
        if change:
            found[1:] += np.array(change) - np.mean(change)
    halved: Floats = found / 2
    return halved


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
