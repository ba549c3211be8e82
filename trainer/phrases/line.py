"""The notes of a single melody in order."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trainer.phrases.table import Floats, Ints, Table

CLOSE = 1e-3  # ql and shares of a bar; values closer than this are equal


@dataclass(frozen=True, eq=False)
class Line:
    """A melody, one entry a strike: `pitch` (the highest), `gap` to the next strike and `rest`
    within it (ql), `phase` (place in the bar as a share of it, from 0 below 1), `bar` (bars
    from the beginning, with the phase), `beats` (the gap in beats)."""

    pitch: Ints
    gap: Floats
    rest: Floats
    phase: Floats
    bar: Floats
    beats: Floats


def line_of(table: Table) -> Line:
    frames, frame = table.frames, table.strike_frame
    first = np.searchsorted(table.onset, table.at - CLOSE)
    end = np.maximum.reduceat(table.end, first)
    gap = np.diff(np.append(table.at, max(table.close, table.at[-1] + 0.25)))
    rest = np.maximum(gap - (end - table.at), 0)
    rest[rest < CLOSE] = 0
    rest[-1] = 0
    inside = (table.at - frames.start[frame] + frames.lead[frame]) / frames.full[frame]
    phase: Floats = np.round(np.minimum(inside, 0.999), 4).astype(np.float64)
    return Line(
        pitch=np.maximum.reduceat(table.pitch, first),
        gap=gap,
        rest=rest,
        phase=phase,
        bar=frame + phase,
        beats=np.round(gap / frames.beat[frame], 3),
    )
