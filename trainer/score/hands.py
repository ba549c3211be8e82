"""Which hand plays which note, where a file has the keys of both hands on one staff.

A keyboard player's hands lie side by side: at each moment the notes can be cut in two, the left
hand's below, the right hand's above. What is sought is the cheapest row of cuts (a beam search:
the best few rows are carried on from moment to moment). A cut costs where a hand must stretch
beyond an octave or strike more than five keys, where a hand moves far in a short time, where it
plays beyond the other hand's held notes, and a little where it plays far on the other's side of
the keyboard. The prices were chosen on 51 pieces printed on two staves: .91 of their notes are
given to the staff that they stand on (.82 where all below middle C goes to the left hand). On 12
other pieces it was .86 (.76). How the player shares the notes is theirs to decide.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from msgspec.structs import replace

from trainer.score.model import Bar, Note, Rest, Score, Staff

_BEAM = 12
_MIDDLE = 60
_EASY = 12
"""Semitones that a hand spans without stretching: an octave (common practice, no source)."""
_WIDE = 16
_FINGERS = 5
_STRETCH, _TOO_WIDE, _TOO_MANY = 0.2, 4.0, 4.0
_MOVE, _SIDE, _CROSS, _IDLE = 0.025, 0.006, 0.25, 0.35
_APART = 0.05
"""The share of moments that one hand cannot hold, from which on a staff is for two hands."""


class _Hand(NamedTuple):
    """Where a hand is: the middle of what it struck last, when, and what it still holds."""

    place: float
    since: float
    held: tuple[tuple[float, int], ...] = ()


class _Cut(NamedTuple):
    """How many of a moment's notes the left hand has, after the cuts of the moments before."""

    low: int
    before: _Cut | None


class _Row(NamedTuple):
    """One row of cuts so far, its cost, and where the hands are at its end: left, right."""

    cost: float
    cut: _Cut | None
    hands: tuple[_Hand, _Hand]


def in_two_hands(score: Score) -> Score:
    """The same score with the notes of its one staff on two, where it is for two hands."""
    if len(score.staves) != 1 or not _for_two(score.notes):
        return score
    low = hands(score.notes)
    notes = [replace(note, staff=int(at)) for note, at in zip(score.notes, low, strict=True)]
    part = score.staves[0].part
    return replace(
        score,
        staves=(Staff(0, part, "right hand"), Staff(1, part, "left hand")),
        notes=tuple(sorted(notes, key=lambda note: (note.onset, not note.grace, note.staff))),
        rests=tuple(_silences(score.bars, notes)),
    )


def _silences(bars: Sequence[Bar], notes: Sequence[Note]) -> Iterator[Rest]:
    """Rests where a hand is silent, bar by bar."""
    silent: list[Rest] = []
    for staff in (0, 1):
        own = iter(sorted((n for n in notes if n.staff == staff), key=lambda note: note.onset))
        note = next(own, None)
        reached = Fraction(0)  # the hand's notes so far sound until here
        for bar in bars:
            reached = max(reached, bar.start)
            while note is not None and note.onset < bar.end:
                if note.onset > reached:
                    silent.append(Rest(reached, note.onset - reached, staff))
                reached, note = max(reached, note.end), next(own, None)
            if reached < bar.end:
                silent.append(Rest(reached, bar.end - reached, staff))
    return iter(sorted(silent, key=lambda rest: (rest.onset, rest.staff)))


def _for_two(notes: Sequence[Note]) -> bool:
    """Whether enough moments are wider than a hand."""
    moments = list(_moments(notes))
    ends: dict[int, Fraction] = {}
    wide = 0
    for moment in moments:
        now = notes[moment[0]].onset
        ends = {pitch: end for pitch, end in ends.items() if end > now}
        ends |= {notes[at].pitch: notes[at].end for at in moment}
        wide += max(ends, default=0) - min(ends, default=0) > _WIDE
    return wide >= max(2, _APART * len(moments))


def _moments(notes: Sequence[Note]) -> Iterator[list[int]]:
    """The places of the notes of each moment, from low to high."""
    order = sorted(range(len(notes)), key=lambda at: (notes[at].onset, notes[at].pitch))
    for _, places in groupby(order, key=lambda at: notes[at].onset):
        yield list(places)


def hands(notes: Sequence[Note]) -> list[bool]:
    """For each note, in order of onset, whether the left hand plays it."""
    moments = list(_moments(notes))
    rows = [_Row(0.0, None, (_Hand(48.0, -4.0), _Hand(72.0, -4.0)))]
    for moment in moments:
        now = float(notes[moment[0]].onset)
        struck = [(float(notes[at].end), notes[at].pitch) for at in moment]
        rows = _best(_cut(row, struck, now, n) for row in rows for n in range(len(struck) + 1))
    low = [False] * len(notes)
    cut = rows[0].cut
    for moment in reversed(moments):
        assert cut is not None
        for at in moment[: cut.low]:
            low[at] = True
        cut = cut.before
    return low


def _best(found: Iterator[_Row]) -> list[_Row]:
    """The cheapest rows, one of each pair of hands."""
    best: dict[tuple[_Hand, _Hand], _Row] = {}
    for row in found:
        known = best.get(row.hands)
        if known is None or row.cost < known.cost:
            best[row.hands] = row
    return heapq.nsmallest(_BEAM, best.values(), key=lambda row: row.cost)


def _cut(row: _Row, struck: Sequence[tuple[float, int]], now: float, count: int) -> _Row:
    """A row with one moment more, of which the left hand has the `count` lowest notes."""
    left, lower = _moved(row.hands[0], struck[:count], now, 1)
    right, upper = _moved(row.hands[1], struck[count:], now, -1)
    cost = row.cost + left + right
    if lower.held and upper.held:
        over = max(pitch for _, pitch in lower.held) - min(pitch for _, pitch in upper.held)
        cost += _CROSS * max(0, over)
    return _Row(cost, _Cut(count, row.cut), (lower, upper))


def _moved(
    hand: _Hand, struck: Sequence[tuple[float, int]], now: float, side: int
) -> tuple[float, _Hand]:
    """What it costs a hand to strike these keys, lowest first, and where it is then; `side` is 1
    for the left hand, whose far side is above the middle, -1 for the right."""
    held = tuple(one for one in hand.held if one[0] > now)
    if not struck:
        return _IDLE, hand._replace(held=held)
    middle = (struck[0][1] + struck[-1][1]) / 2
    cost = _reach({pitch for _, pitch in (*held, *struck)})
    cost += _MOVE * abs(middle - hand.place) / (1 + now - hand.since)
    cost += _SIDE * sum(max(0, side * (pitch - _MIDDLE)) for _, pitch in struck)
    return cost, _Hand(middle, now, (*held, *struck))


def _reach(keys: set[int]) -> float:
    """What it costs one hand to hold these keys at once."""
    span = max(keys) - min(keys)
    cost = _STRETCH * max(0, span - _EASY) + _TOO_WIDE * (span > _WIDE)
    return cost + _TOO_MANY * max(0, len(keys) - _FINGERS)
