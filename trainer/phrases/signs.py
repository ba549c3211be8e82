"""Cues from what is written beside the notes."""

from __future__ import annotations

import itertools
import re

import numpy as np

from trainer.phrases.places import Places, shifted
from trainer.phrases.table import NEAR, Floats, Table, frames_of


def dynamic_here(places: Places) -> Floats:
    marks = places.table.marked("dynamic")
    return (places.near(marks, 1.1, 0.6) + places.near(marks, 1.1, 0.1)) / 2


def tempo_here(places: Places) -> Floats:
    return places.near(places.table.marked("tempo"), 1.1, 0.6)


def hold_before(places: Places) -> Floats:
    """1 where a fermata or a breath mark stands in the bar before."""
    found = np.zeros(len(places))
    marks = places.table.marked("fermata", "breath")
    if len(marks):
        after = np.searchsorted(places.at, marks + NEAR, side="right")
        found[after[after < len(found)]] = 1
    return found


def double_bar(places: Places) -> Floats:
    bars = places.table.score.bars
    ends = [float(bar.end) for bar in bars if bar.double or bar.repeat_times]
    starts = [float(bar.start) for bar in bars if bar.repeat_start and bar.index]
    found: Floats = places.near(np.array(ends + starts), 0.01, 0.01)
    found[0] = 0
    return found


def key_or_metre(places: Places) -> Floats:
    bars = places.table.score.bars
    changed = [
        float(bar.start)
        for last, bar in itertools.pairwise(bars)
        if (bar.fifths, bar.meter) != (last.fifths, last.meter)
    ]
    return places.near(np.array(changed), 0.01, 0.01)


def _slurs(places: Places) -> tuple[Floats, Floats]:
    slurs = [mark for mark in places.table.score.marks_of("slur") if mark.end is not None]
    starts = np.array([float(mark.onset) for mark in slurs])
    return starts, np.array([float(mark.end or 0) for mark in slurs])


def slur_begins(places: Places) -> Floats:
    """1 where a slur of nearly a bar or more begins."""
    starts, ends = _slurs(places)
    bar = places.table.frames.length[frames_of(places.table.frames.start, starts)]
    return places.near(starts[ends - starts >= 0.9 * bar], 1.1, 0.6)


def slur_ends(places: Places) -> Floats:
    """1 where a slur of nearly a bar or more ended within the bar before."""
    starts, ends = _slurs(places)
    bar = places.table.frames.length[frames_of(places.table.frames.start, starts)]
    far = np.sort(ends[ends - starts >= 0.9 * bar])
    low = np.searchsorted(far, shifted(places.at, places.at[0]) - NEAR)
    found: Floats = (np.searchsorted(far, places.at + NEAR) > low).astype(np.float64)
    return found


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


def eighth_bar(places: Places) -> Floats:
    """1 for each eighth bar, counted from the first full one."""
    count = np.arange(len(places)) - int(places.table.frames.lead[0] > 0)
    found: Floats = (count % 8 == 0).astype(np.float64)
    return found


_NUMBER = re.compile(r"\s*(?:[(\[]?\s*)(?:\d{1,3}|[A-Z]|[IVX]{1,5})\s*[.)\]:]?\s*")


def written(table: Table) -> dict[int, str]:
    """Strikes at which a person marked a beginning (a rehearsal mark, a numbered text), with
    the sentence for it."""
    found: dict[int, str] = {}
    for mark in table.score.marks_of("text", "rehearsal"):
        if mark.kind == "text" and not _NUMBER.fullmatch(mark.text):
            continue
        strike = int(np.searchsorted(table.at, float(mark.onset) - NEAR))
        if strike < len(table.at):
            what = "rehearsal mark" if mark.kind == "rehearsal" else "the number"
            found[strike] = f"{what} {mark.text.strip()} is written here".replace("  ", " ")
    return found
