"""The places where phrases may begin."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trainer.phrases.closes import Closes, closes_of
from trainer.phrases.likeness import Likeness, contents, likeness
from trainer.phrases.line import Line, line_of
from trainer.phrases.table import NEAR, Floats, Ints, Table


@dataclass(frozen=True, eq=False)
class Places:
    """Where phrases may begin: the frames of a texture, or the strikes of a melody.

    `at` in ql; `frame` the frame of each.
    """

    table: Table
    at: Floats
    frame: Ints

    def __len__(self) -> int:
        return len(self.at)

    @cached_property
    def beat(self) -> Floats:
        return self.table.frames.beat[self.frame]

    @cached_property
    def likeness(self) -> Likeness:
        return likeness(self.table)

    @cached_property
    def contents(self) -> list[tuple[int, ...]]:
        """What is struck in each frame."""
        return contents(self.table)

    @cached_property
    def closes(self) -> Closes:
        return closes_of(self.table)

    @cached_property
    def line(self) -> Line:
        return line_of(self.table)

    def near(self, positions: Floats, before: float, after: float) -> Floats:
        """1 for a place with a position from `before` beats before it to `after` beats after."""
        positions = np.sort(positions)
        low = np.searchsorted(positions, self.at - before * self.beat - NEAR)
        high = np.searchsorted(positions, self.at + after * self.beat + NEAR, side="right")
        found: Floats = (high > low).astype(np.float64)
        return found

    def largest(self, positions: Floats, values: Floats) -> Floats:
        """The largest value of those around each place: 1½ beats before to ½ after; or 0."""
        low = np.searchsorted(positions, self.at - 1.5 * self.beat + NEAR)
        high = np.searchsorted(positions, self.at + 0.5 * self.beat + NEAR, side="right")
        pairs = zip(low.tolist(), high.tolist(), strict=True)
        return np.array([values[a:b].max() if b > a else 0.0 for a, b in pairs])


def shifted(values: Floats, fill: float = 0.0) -> Floats:
    """Each place's value moved to the place after it."""
    return np.concatenate(([fill], values[:-1]))


def places_of(table: Table) -> Places:
    """Every strike of a single melody; every frame of anything else."""
    if table.single:
        return Places(table, table.at, table.strike_frame)
    return Places(table, table.frames.start, np.arange(len(table.frames)))
