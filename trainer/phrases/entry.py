"""The strike with which a phrase at a bar line begins: on the bar line, or with an upbeat.

Every strike from two thirds of a bar before the bar line to a beat after it is a candidate. What
speaks for each is weighed (a conditional logit, its weights in log odds, fitted to the phrase
starts that `clues.py` names): where the piece begins in its bar, how long the upper voice waited
before the strike, slurs and dynamics at it, a close on the bar line.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from trainer.phrases.closes import close_here, tonic_here
from trainer.phrases.places import Places
from trainer.phrases.table import NEAR, Floats, Ints

BEFORE = 2 / 3  # of a bar: the longest upbeat


@dataclass(frozen=True, eq=False)
class Candidates:
    """Strikes at which the phrase of a place may begin, in order of places.

    `place` and `strike` are indices, `offset` the distance from the bar line in ql.
    """

    places: Places
    place: Ints
    strike: Ints
    offset: Floats

    @cached_property
    def at(self) -> Floats:
        return self.places.table.at[self.strike]

    @cached_property
    def beat(self) -> Floats:
        return self.places.beat[self.place]

    @cached_property
    def upper(self) -> Floats:
        """The positions at which the upper staff strikes."""
        table = self.places.table
        return np.unique(table.onset[table.upper])

    @cached_property
    def struck(self) -> npt.NDArray[np.bool_]:
        """Whether the upper staff strikes."""
        index = np.minimum(np.searchsorted(self.upper, self.at - NEAR), len(self.upper) - 1)
        return np.asarray(np.abs(self.upper[index] - self.at) < 2 * NEAR)

    @cached_property
    def waited(self) -> Floats:
        """How long the upper staff struck nothing before each, in ql."""
        upper = np.concatenate(([-4.0], self.upper))
        index = np.searchsorted(upper, self.at - NEAR)
        return np.maximum(self.at - upper[np.maximum(index - 1, 0)], NEAR)

    @cached_property
    def pickup(self) -> float:
        """How long before the first bar line the piece begins, ql."""
        frames = self.places.table.frames
        return float(frames.length[0]) if frames.lead[0] > 0 else 0.0


def candidates_of(places: Places) -> Candidates:
    table = places.table
    frames = table.frames
    low = np.searchsorted(table.at, places.at - BEFORE * frames.full - NEAR)
    high = np.searchsorted(table.at, places.at + places.beat - NEAR)
    on = np.minimum(np.searchsorted(table.at, places.at - NEAR), len(table.at) - 1)
    high = np.maximum(high, on + 1)  # where nothing is struck within the beat, the next strike
    low = np.minimum(low, on)
    low[0], high[0] = 0, 1
    sizes = high - low
    place = np.repeat(np.arange(len(places)), sizes)
    strike = np.arange(len(place)) - np.repeat(np.cumsum(sizes) - sizes, sizes) + low[place]
    return Candidates(places, place, strike, table.at[strike] - places.at[place])


# What speaks for a candidate


def _on_bar_line(c: Candidates) -> Floats:
    return (np.abs(c.offset) < 2 * NEAR).astype(np.float64)


def _on_bar_line_though_pickup(c: Candidates) -> Floats:
    return _on_bar_line(c) if c.pickup > 0 else np.zeros(len(c.place))


def _like_pickup(c: Candidates) -> Floats:
    """1 where it is as far before the bar line as the first note of a piece with an upbeat."""
    return ((np.abs(c.offset + c.pickup) < 1e-3) & (c.pickup > 0)).astype(np.float64)


def _after_bar_line(c: Candidates) -> Floats:
    return (c.offset > NEAR).astype(np.float64)


def _over_a_beat(c: Candidates) -> Floats:
    return (-c.offset > c.beat + NEAR).astype(np.float64)


def _upper_strikes(c: Candidates) -> Floats:
    return c.struck.astype(np.float64)


def _waited_beats(c: Candidates) -> Floats:
    """Octaves by which the wait before it is longer than a beat."""
    return np.clip(np.log2(c.waited / c.beat), -3, 2) * c.struck


def _longest_wait(c: Candidates) -> Floats:
    """1 for the longest wait among the candidates of its place."""
    wait = c.waited * c.struck
    longest = np.zeros(len(c.places))
    np.maximum.at(longest, c.place, wait)
    return (wait >= longest[c.place] - NEAR).astype(np.float64)


def _all_rest(c: Candidates) -> Floats:
    strikes, quiet = c.places.table.silence
    index = np.minimum(np.searchsorted(strikes, c.at - NEAR), len(strikes) - 1)
    return (quiet[index] > NEAR).astype(np.float64)


def _slurs(c: Candidates) -> tuple[Floats, Floats]:
    top = min((staff.number for staff in c.places.table.score.staves), default=0)
    slurs = [m for m in c.places.table.score.marks_of("slur") if m.end is not None]
    slurs = [mark for mark in slurs if mark.staff in (-1, top)]
    starts = np.array([float(mark.onset) for mark in slurs])
    return starts, np.array([float(mark.end or 0) for mark in slurs])


def _slur_begins(c: Candidates) -> Floats:
    starts = np.sort(_slurs(c)[0])
    return _any_at(starts, c.at)


def _slur_across(c: Candidates) -> Floats:
    """1 where a slur of the upper staff began before it and ends after it."""
    starts, ends = (np.sort(values) for values in _slurs(c))
    begun = np.searchsorted(starts, c.at - NEAR)
    ended = np.searchsorted(ends, c.at + NEAR, side="right")
    return (begun > ended).astype(np.float64)


def _dynamic(c: Candidates) -> Floats:
    return _any_at(np.sort(c.places.table.marked("dynamic")), c.at)


def _any_at(positions: Floats, at: Floats) -> Floats:
    low = np.searchsorted(positions, at - 1e-3)
    high = np.searchsorted(positions, at + 1e-3)
    return (high > low).astype(np.float64)


def _bass_strikes(c: Candidates) -> Floats:
    """1 where a staff other than the upper one strikes."""
    table = c.places.table
    return _any_at(np.unique(table.onset[~table.upper]), c.at)


def _close_on_bar_line(c: Candidates) -> Floats:
    return close_here(c.places)[c.place] * _on_bar_line(c)


def _tonic_on_bar_line(c: Candidates) -> Floats:
    return tonic_here(c.places)[c.place] * _on_bar_line(c)


def _leap(c: Candidates) -> Floats:
    table = c.places.table
    order = np.lexsort((-table.pitch[table.upper], table.onset[table.upper]))
    onset, pitch = table.onset[table.upper][order], table.pitch[table.upper][order]
    first = np.searchsorted(onset, c.upper - NEAR)
    top = pitch[np.minimum(first, len(pitch) - 1)]
    step = np.minimum(np.abs(np.diff(top, prepend=top[0])), 12) / 12
    index = np.minimum(np.searchsorted(c.upper, c.at - NEAR), len(c.upper) - 1)
    return step[index] * c.struck


EVIDENCE: tuple[tuple[Callable[[Candidates], Floats], float], ...] = (
    (_on_bar_line, 1.50),
    (_on_bar_line_though_pickup, -0.78),
    (_like_pickup, 0.97),
    (_after_bar_line, -1.24),
    (_over_a_beat, -0.78),
    (_upper_strikes, 0.34),
    (_waited_beats, 0.53),
    (_longest_wait, 0.40),
    (_all_rest, 0.86),
    (_slur_begins, 0.31),
    (_slur_across, -1.69),
    (_dynamic, 1.56),
    (_bass_strikes, 0.53),
    (_close_on_bar_line, 0.45),
    (_tonic_on_bar_line, 0.69),
    (_leap, 1.07),
)


def entries(places: Places) -> Ints:
    """For each place the strike with which a phrase there begins, as an index."""
    if places.table.single:
        return np.arange(len(places))
    candidates = candidates_of(places)
    worth = np.zeros(len(candidates.place))
    for evidence, weight in EVIDENCE:
        worth += weight * evidence(candidates)
    order = np.lexsort((np.abs(candidates.offset), -worth, candidates.place))
    first = np.searchsorted(candidates.place[order], np.arange(len(places)))
    return candidates.strike[order][first]
