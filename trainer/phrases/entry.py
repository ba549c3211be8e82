"""The strike with which a phrase at a bar line begins: on it, with an upbeat, or after it."""

from __future__ import annotations

import numpy as np

from trainer.phrases.places import Places
from trainer.phrases.table import NEAR, Ints


def entries(places: Places) -> Ints:
    """For each place the strike where a phrase there begins, as an index."""
    table = places.table
    if table.single:
        return np.arange(len(places))
    on = np.searchsorted(table.at, places.at - NEAR)
    return np.minimum(on, len(table.at) - 1)
