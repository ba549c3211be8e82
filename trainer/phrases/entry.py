"""The strike with which a phrase at a bar line begins: on the bar line, or with an upbeat."""

from __future__ import annotations

import numpy as np

from trainer.phrases.places import Places
from trainer.phrases.table import NEAR, Ints, Table

WAIT = 3.0  # how many times longer than what follows the gap before an upbeat must be
UPBEAT = 1.0  # beats: the longest upbeat sought where the piece itself begins with none


def entries(places: Places) -> Ints:
    """For each place the strike where a phrase there begins, as an index.

    A piece that begins with an upbeat has one before every phrase, unless the upper staff is
    more active into that moment than from it. In other pieces it takes a plain wait, of a beat
    and WAIT times what follows, to begin before the bar line. A bar line where nothing is
    struck gives way to the next strike.
    """
    table = places.table
    if table.single:
        return np.arange(len(places))
    on = np.minimum(np.searchsorted(table.at, places.at - NEAR), len(table.at) - 1)
    pickup = float(table.frames.length[0]) if table.frames.lead[0] > 0 else 0.0
    upper = np.unique(table.onset[table.upper])
    gap = np.diff(upper)
    for place in range(1, len(places)):
        start, beat = float(places.at[place]), float(places.beat[place])
        if pickup:
            strike = _strike(table, start - pickup)
            index = int(np.searchsorted(upper, start - pickup - NEAR))
            active = 0 < index < len(gap) and gap[index - 1] < gap[index] - NEAR
            if strike is not None and not active:
                on[place] = strike
            continue
        low, high = np.searchsorted(upper, (start - UPBEAT * beat - NEAR, start - NEAR))
        for index in range(max(int(low), 1), min(int(high), len(gap))):
            before, after = gap[index - 1], gap[index]
            strike = _strike(table, float(upper[index]))
            if strike is not None and before >= max(WAIT * after, beat) - NEAR:
                on[place] = strike
    return on


def _strike(table: Table, position: float) -> int | None:
    index = int(np.searchsorted(table.at, position - NEAR))
    found = index < len(table.at) and abs(table.at[index] - position) < 2 * NEAR
    return index if found else None
