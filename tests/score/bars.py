"""Scores of bars alone, for the tests of places and routes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from msgspec.structs import replace

from trainer.score.model import Bar, Mark, Meter, Note, Score, Staff


def piece(
    lengths: Sequence[Fraction | int],
    meter: Meter,
    *,
    signs: Mapping[int, Mapping[str, Any]] | None = None,
    jumps: Mapping[int, Sequence[str]] | None = None,
    first: int = 1,
) -> Score:
    """Bars of these lengths in ql, numbered from `first`; `signs` are fields of Bar by index,
    `jumps` words that stand in a bar."""
    bars: list[Bar] = []
    for index, length in enumerate(lengths):
        start = bars[-1].end if bars else Fraction(0)
        bar = Bar(index, str(index + first), start, Fraction(length), meter)
        bars.append(replace(bar, **(signs or {}).get(index, {})))
    marks = tuple(
        Mark("jump", bars[index].start, word)
        for index, texts in sorted((jumps or {}).items())
        for word in texts
    )
    note = Note(Fraction(0), Fraction(1), 60, "C", 0, 4, 0)
    return Score("Bars", (Staff(0, ""),), tuple(bars), (note,), marks=marks)
