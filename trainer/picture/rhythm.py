"""Exact lengths as written values: notes with dots and ties, and tuplets.

All lengths and positions are in quarter notes (ql).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import pairwise
from math import lcm
from typing import NamedTuple, Protocol, TypeVar

from trainer.errors import TrainerError

_MOST_DOTS = 3
_SHORTEST = Fraction(1, 512)  # a 2048th, the shortest value that MEI knows
_LONGEST = Fraction(8)  # a breve


class Value(NamedTuple):
    """A written value. `name` is MEI's: "breve", or the part of a whole note, "4" a quarter."""

    name: str
    dots: int
    length: Fraction

    @property
    def flagged(self) -> bool:
        """Whether it is shorter than a quarter, and so can stand under a beam."""
        return self.name != "breve" and int(self.name) > 4


def _values() -> Iterator[Value]:
    length = _LONGEST
    while length >= _SHORTEST:
        name = "breve" if length == _LONGEST else str(4 / length)
        for dots in range(_MOST_DOTS, -1, -1):
            if length / 2**dots >= _SHORTEST:
                yield Value(name, dots, length * (2 - Fraction(1, 2**dots)))
        length /= 2


VALUES = tuple(sorted(_values(), key=lambda value: -value.length))


def values(length: Fraction) -> list[Value]:
    """The fewest values, the longest first, that make up a length without tuplets; more than one
    are tied. Raises TrainerError for a length that no written values make up."""
    found: list[Value] = []
    for value in VALUES:
        while value.length <= length:
            found.append(value)
            length -= value.length
    if length:
        raise TrainerError(
            "These bars have a note too short to engrave; `trainer page` shows them."
        )
    return found


def dyadic(position: Fraction) -> bool:
    """Whether halving alone leads there from a bar line: no tuplet is on the way."""
    return not position.denominator & (position.denominator - 1)


def odd_part(number: int) -> int:
    return number // (number & -number)


class Spanning(Protocol):
    @property
    def onset(self) -> Fraction: ...
    @property
    def length(self) -> Fraction: ...


S = TypeVar("S", bound=Spanning)


class Ratio(NamedTuple):
    """So many notes in the time of so many: 3 of 2 in a triplet, 1 of 1 where there is none."""

    notes: int
    time: int

    def written(self, length: Fraction) -> Fraction:
        """The length as it is written, of one that lasts so long."""
        return length * self.notes / self.time


PLAIN = Ratio(1, 1)


def runs(line: Iterable[S], start: Fraction) -> Iterator[tuple[Ratio, list[S]]]:
    """A line without gaps that begins at `start`, cut into its tuplets and what is none.

    A tuplet lasts from where a position leaves the halves of a bar to where it comes back.
    Its count is the odd number that divides it, in the time of the next lower power of two:
    three in the time of two, five and seven of four. What four in the time of three would be is
    made of dots instead; it sounds the same.
    """
    run: list[S] = []
    for one in line:
        run.append(one)
        if dyadic(one.onset + one.length - start):
            yield _ratio(run), run
            run = []
    if run:
        yield _ratio(run), run


def _ratio(run: Iterable[Spanning]) -> Ratio:
    count = lcm(*(odd_part(one.length.denominator) for one in run))
    return Ratio(count, 1 << (count.bit_length() - 1)) if count > 1 else PLAIN


def gaps(start: Fraction, end: Fraction, origin: Fraction) -> list[tuple[Fraction, Fraction]]:
    """The empty span from `start` to `end` in pieces (onset, length), cut where a tuplet that it
    touches begins or ends, so that the tuplet grows no longer than it is. `origin` is the bar's
    beginning."""
    cuts = {start, end}
    for edge in (start - origin, end - origin):
        if not dyadic(edge):
            whole = edge.denominator // odd_part(edge.denominator)
            floor = Fraction(int(edge * whole), whole)
            cuts |= {origin + floor, origin + floor + Fraction(1, whole)}
    places = sorted(cut for cut in cuts if start <= cut <= end)
    return [(a, b - a) for a, b in pairwise(places)]
