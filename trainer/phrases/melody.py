"""Clues of a single melody, whose places are its notes."""

from __future__ import annotations

import numpy as np

from trainer.phrases.line import CLOSE, Line
from trainer.phrases.places import Places, shifted
from trainer.phrases.table import Floats


def rest_before(places: Places) -> Floats:
    found: Floats = (shifted(places.line.rest) > 0).astype(np.float64)
    return found


def rest_length(places: Places) -> Floats:
    """Beats of rest before it, at most 2."""
    length: Floats = np.minimum(shifted(places.line.rest) / places.beat, 2)
    return length


def rest_rate(places: Places) -> float:
    """How many notes are followed by rests: 1 for one in eight, at most 2."""
    return min(8 * float((places.line.rest[:-1] > 0).mean()), 2.0) if len(places) > 1 else 0.0


def usual_rest(places: Places) -> Floats:
    """A rest before it, as far as rests are frequent in the melody."""
    return rest_before(places) * rest_rate(places)


def long_before(places: Places) -> Floats:
    """Octaves by which the note before, with its rest, is longer than the usual note."""
    gap = places.line.gap
    usual = float(np.median(gap))
    return _octaves(shifted(gap, usual) / usual)


def long_among(places: Places) -> Floats:
    """The same against the four notes before it and the four after."""
    gap = places.line.gap
    sums = np.concatenate(([0.0], np.cumsum(gap)))
    here = np.arange(len(gap))
    low, high = np.maximum(here - 5, 0), np.minimum(here + 4, len(gap))
    last = np.maximum(here - 1, 0)
    total = sums[last] - sums[low] + sums[high] - sums[here]
    mean = total / np.maximum(last - low + high - here, 1)
    return _octaves(shifted(gap, float(gap[0])) / np.maximum(mean, CLOSE))


def longer_than_next(places: Places) -> Floats:
    gap = places.line.gap
    return _octaves(shifted(gap, float(gap[0])) / gap)


def _octaves(ratio: Floats) -> Floats:
    octaves: Floats = np.clip(np.log2(np.maximum(ratio, 1e-6)), -2, 3)
    octaves[0] = 0
    return octaves


def same_place(places: Places) -> Floats:
    """1 where the place in the bar is that of the first note."""
    phase = places.line.phase
    same: Floats = (np.abs(phase - phase[0]) < CLOSE).astype(np.float64)
    return same


def on_downbeat(places: Places) -> Floats:
    down: Floats = (places.line.phase < CLOSE).astype(np.float64)
    return down


def upbeat(places: Places) -> Floats:
    """1 within one beat before the bar line."""
    return _upbeat(places, 0.0, 1.0)


def long_upbeat(places: Places) -> Floats:
    """1 within the second beat before the bar line."""
    return _upbeat(places, 1.0, 2.0)


def _upbeat(places: Places, more: float, most: float) -> Floats:
    phase, full = places.line.phase, places.table.frames.full
    left = (1 - phase) * full[places.frame] / places.beat
    found: Floats = ((phase > CLOSE) & (left > more + 0.01) & (left <= most + 0.01)).astype(float)
    return found


def on_beat(places: Places) -> Floats:
    """1 on a beat."""
    phase, full = places.line.phase, places.table.frames.full
    beats = phase * full[places.frame] / places.beat
    found: Floats = (np.abs(beats - np.rint(beats)) < 0.01).astype(np.float64)
    return found


def after_beat(places: Places) -> Floats:
    """1 where the note before it began on a beat."""
    return shifted(on_beat(places))


def after_downbeat(places: Places) -> Floats:
    return shifted(on_downbeat(places))


def over_bar_line(places: Places) -> Floats:
    """1 where the bar line falls between the note before and this one, and is not struck."""
    here = places.line
    bar = np.floor(here.bar + 1e-6)
    found: Floats = ((shifted(bar) != bar) & (here.phase > CLOSE)).astype(np.float64)
    found[0] = 0
    return found


def leap(places: Places) -> Floats:
    """The step to it, in octaves, at most 1."""
    pitch = places.line.pitch
    size: Floats = np.minimum(np.abs(np.diff(pitch, prepend=pitch[0])), 12) / 12
    return size


def after_tonic(places: Places) -> Floats:
    """1 where the note before is the melody's last note, in any octave."""
    return _after_degree(places, (0,))


def after_step_or_third(places: Places) -> Floats:
    """1 where the note before is a second or a third over the melody's last note."""
    return _after_degree(places, (2, 3, 4))


def _after_degree(places: Places, degrees: tuple[int, ...]) -> Floats:
    pitch = places.line.pitch
    over = (pitch - pitch[-1]) % 12
    found = np.zeros(len(pitch))
    found[1:] = np.isin(over[:-1], degrees)
    return found


def opening_rhythm(places: Places) -> Floats:
    """1 where four gaps are those of the opening, at the same place in the bar."""
    keys = _openings(places, 4, pitched=False)
    return np.array([float(key is not None and key == keys[0]) for key in keys])


def opening_notes(places: Places) -> Floats:
    """1 where three gaps and steps are those of the opening, at the same place in the bar."""
    keys = _openings(places, 3, pitched=True)
    return np.array([float(key is not None and key == keys[0]) for key in keys])


def returns_here(places: Places) -> Floats:
    """Length of the longest run, in eighths of eight notes, that equals the notes from
    another note at the same place in the bar, where the notes before the two differ."""
    here = places.line
    groups: dict[tuple[object, ...], list[int]] = {}
    for index in range(len(places) - 3):
        groups.setdefault(_content(here, index, 4), []).append(index)
    found = np.zeros(len(places))
    for group in groups.values():
        for index in group:
            # the comparison is capped: a figure that comes hundreds of times says little
            others = [other for other in group[:24] if other != index]
            found[index] = max((_run(here, index, other) for other in others), default=0.0)
    found[0] = 0
    return found


def _content(here: Line, index: int, notes: int) -> tuple[object, ...]:
    part = slice(index, index + notes)
    return (here.phase[index], *here.beats[part].tolist(), *here.pitch[part].tolist())


def _run(here: Line, one: int, other: int) -> float:
    if one and other and _same(here, one - 1, other - 1):
        return 0.0
    length = 0
    last = len(here.pitch) - max(one, other)
    while length < min(8, last) and _same(here, one + length, other + length):
        length += 1
    return length / 8


def _same(here: Line, one: int, other: int) -> bool:
    return bool(here.pitch[one] == here.pitch[other] and here.beats[one] == here.beats[other])


def _openings(places: Places, notes: int, *, pitched: bool) -> list[tuple[float, ...] | None]:
    """For each note its place in the bar, the gaps from it, and the steps if asked for."""
    here = places.line
    phase, beats = here.phase.tolist(), here.beats.tolist()
    steps = np.diff(here.pitch).tolist()
    count = len(phase)
    return [
        (phase[k], *beats[k : k + notes], *(steps[k : k + notes] if pitched else ()))
        if k + notes < count
        else None
        for k in range(count)
    ]
