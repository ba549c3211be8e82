"""Starts that are easily confused: phrases that are equal or alike, and where they part.

Two starts are compared strike by strike from their first notes on, past their phrases' ends if
need be; where their upbeats differ, from their first bar lines on. A strike agrees in one of
three ways, each weaker than the one before: the same notes in the same staves; the same but all
moved by one interval; the same staves striking at the same distances, the highest note moving in
the same direction. Phrases are easily confused, too, if bars inside them are equal: the longest
stretch that goes on differently counts.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Hashable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from trainer.score.cite import label, place
from trainer.score.model import Note, Score
from trainer.values import Frozen

Kind = Literal["same", "transposed", "shape"]

DEPTH = 512  # strikes compared at most; openings equal for so long count as never parting
CROWD = 48  # starts of one opening compared with each other at most; beyond, with the next ones
FEW = 3  # strikes that an opening must have to be alike
BARS: dict[Kind, int] = {
    "same": 1,
    "transposed": 1,
    "shape": 2,
}  # bars for which openings must agree
INSIDE = 2  # bars for which phrases must be equal that do not begin alike


class Head(Frozen, frozen=True):
    """A note as written, and its sounding MIDI number."""

    step: str
    alter: int
    octave: int
    pitch: int


class Difference(Frozen, frozen=True):
    """What is struck in one staff where two starts part; empty where nothing is."""

    staff: int
    one: tuple[Head, ...]
    other: tuple[Head, ...]


class Pair(Frozen, frozen=True):
    """Two starts that are alike, `one` before `other` in score order.

    `from_one` and `from_other` are the positions (ql) from which they are: the starts
    themselves, the bar lines after their upbeats, or bars inside their phrases.
    `parts_one` and `parts_other` are the positions (ql) where they go different ways, or where
    the piece ends for the other; None where they agree for DEPTH strikes. `interval` is in
    semitones from one to the other. `repeat`: the whole phrase comes again note for note, so
    that only what follows tells them apart. `words` says how they differ.
    """

    one: Fraction
    other: Fraction
    kind: Kind
    interval: int
    from_one: Fraction
    from_other: Fraction
    parts_one: Fraction | None
    parts_other: Fraction | None
    repeat: bool
    difference: Difference | None
    words: str


class Family(Frozen, frozen=True):
    """Starts that are linked by pairs, in score order."""

    starts: tuple[Fraction, ...]
    pairs: tuple[Pair, ...]


class Distinct(Frozen, frozen=True):
    """Where a start has become different from every other start: the position (ql) of the
    first strike by which no other agrees with it; None where the piece ends before, or where
    another agrees for DEPTH strikes."""

    start: Fraction
    at: Fraction | None


class Lookalikes(Frozen, frozen=True):
    pairs: tuple[Pair, ...]
    families: tuple[Family, ...]
    distinct: tuple[Distinct, ...]


def families(score: Score, onsets: Iterable[Fraction]) -> Lookalikes:
    """What is easily confused among the starts at these positions.

    Positions where nothing is struck are taken as the next strike. Time grows with the starts
    and with how long they agree; both are capped (DEPTH, CROWD).
    """
    strikes = _Strikes.of(score)
    starts = sorted({index for onset in onsets if (index := strikes.at(onset)) is not None})
    pairs = tuple(_pairs(strikes, starts))
    return Lookalikes(pairs, _families(pairs), _distinct(strikes, starts))


@dataclass(frozen=True, eq=False)
class _Strikes:
    """A score's strikes in order. `codes`: for each kind two rows, a number for what is struck
    as a first strike, and one for what is struck with the way from the strike before it."""

    score: Score
    onsets: tuple[Fraction, ...]
    notes: tuple[tuple[Note, ...], ...]
    codes: dict[Kind, npt.NDArray[np.int64]]

    @staticmethod
    def of(score: Score) -> _Strikes:
        struck: dict[Fraction, list[Note]] = defaultdict(list)
        for note in score.notes:
            if note.sounds and not note.grace:
                struck[note.onset].append(note)
        onsets = tuple(sorted(struck))
        notes = tuple(
            tuple(sorted(struck[onset], key=lambda note: (note.staff, note.pitch)))
            for onset in onsets
        )
        return _Strikes(score, onsets, notes, _codes(onsets, notes))

    def at(self, onset: Fraction) -> int | None:
        index = bisect_left(self.onsets, onset)
        return index if index < len(self.onsets) else None

    def agreement(self, one: int, other: int, kind: Kind) -> int:
        """How many strikes agree from two strikes on, at most DEPTH."""
        first, then = self.codes[kind]
        if first[one] != first[other]:
            return 0
        size = min(DEPTH, len(self.onsets) - max(one, other))
        differ = then[one + 1 : one + size] != then[other + 1 : other + size]
        found = np.flatnonzero(differ)
        return int(found[0]) + 1 if len(found) else size

    def bar_line(self, start: int) -> int:
        """The first strike from the bar line after an upbeat; a start on a bar line itself."""
        onset = self.onsets[start]
        bar = self.score.bar_at(onset)
        at = self.at(bar.end) if onset > bar.start or bar.upbeat else start
        return start if at is None else at

    def bars(self) -> list[tuple[int, bytes]]:
        """For each bar with strikes the first of them, and a code of all that is struck in it:
        where in the bar, and in which staves."""
        first, then = self.codes["same"]
        edges = [self.at(bar.start) for bar in self.score.bars]
        found = []
        for bar, low, high in zip(self.score.bars, edges, [*edges[1:], None], strict=True):
            stop = len(self.onsets) if high is None else high
            if low is not None and low < stop:
                lead = self.onsets[low] - bar.start + bar.lead
                content = first[low : low + 1].tobytes() + then[low + 1 : stop].tobytes()
                found.append((low, f"{lead}:".encode() + content))
        return found

    def parts(self, one: int, other: int, agreed: int) -> Fraction | None:
        """How long after the first strike two starts part that agree for so many strikes."""
        if agreed >= DEPTH:
            return None
        ways = [
            self.onsets[start + agreed] - self.onsets[start]
            for start in (one, other)
            if start + agreed < len(self.onsets)
        ]
        return min(ways, default=None)

    def lasts(self, start: int, bars: int, agreed: int, other: int) -> bool:
        """Whether an agreement goes on for so many bars, or to the end of the piece."""
        parts = self.parts(start, other, agreed)
        bar = self.score.bar_at(self.onsets[start]).meter.length
        return agreed >= FEW and (parts is None or parts >= bars * bar)


def _codes(
    onsets: tuple[Fraction, ...], notes: tuple[tuple[Note, ...], ...]
) -> dict[Kind, npt.NDArray[np.int64]]:
    names: dict[Hashable, int] = {}
    codes: dict[Kind, npt.NDArray[np.int64]] = {
        kind: np.zeros((2, len(onsets)), dtype=np.int64) for kind in ("same", "transposed", "shape")
    }
    gap, low, top = Fraction(0), 0, 0
    for index, heads in enumerate(notes):
        gap = onsets[index] - onsets[index - 1] if index else Fraction(0)
        way = (gap.numerator, gap.denominator)
        lowest, highest = min(n.pitch for n in heads), max(n.pitch for n in heads)
        same = tuple((note.staff, note.pitch) for note in heads)
        moved = tuple((note.staff, note.pitch - lowest) for note in heads)
        staves = tuple(sorted({note.staff for note in heads}))
        turn = (highest > top) - (highest < top)
        whats: tuple[tuple[Kind, Hashable, Hashable], ...] = (
            ("same", same, way),
            ("transposed", moved, (way, lowest - low)),
            ("shape", staves, (way, turn)),
        )
        for kind, what, came in whats:
            codes[kind][0, index] = names.setdefault((kind, what), len(names))
            codes[kind][1, index] = names.setdefault((kind, what, came), len(names))
        low, top = lowest, highest
    return codes


class _Stretch(NamedTuple):
    """How two phrases agree: for so many strikes from one strike of each."""

    kind: Kind
    one: int
    other: int
    agreed: int


def _pairs(strikes: _Strikes, starts: list[int]) -> list[Pair]:
    """Every pair of starts that are alike, in score order."""
    found = _openings(strikes, {start: start for start in starts}, BARS)
    shapes = [pair for pair, stretch in found.items() if stretch.kind == "shape"]
    if len({start for pair in shapes for start in pair}) > max(2, len(starts) / 2):
        for pair in shapes:  # what most starts share is the piece's figure
            del found[pair]
    bar_lines = {strikes.bar_line(start): start for start in reversed(starts)}
    longer = dict.fromkeys(BARS, INSIDE)
    for others in (_openings(strikes, bar_lines, longer), _inside(strikes, starts)):
        for pair, stretch in others.items():
            held = found.get(pair)
            if stretch.kind != "shape" and (held is None or _worse(strikes, stretch, held)):
                found[pair] = stretch
    ends = [*starts[1:], len(strikes.onsets)]
    following = dict(zip(starts, ends, strict=False))
    return [_pair(strikes, *pair, stretch, following) for pair, stretch in sorted(found.items())]


def _worse(strikes: _Strikes, one: _Stretch, held: _Stretch) -> bool:
    """Whether a stretch is a worse trap than one held: notes that are the same rather than
    moved, and these rather than a shape; then the longer one that goes on differently."""
    kinds = [list(BARS).index(stretch.kind) for stretch in (one, held)]
    if kinds[0] != kinds[1]:
        return kinds[0] < kinds[1]
    lasts = [strikes.parts(stretch.one, stretch.other, stretch.agreed) for stretch in (one, held)]
    return lasts[0] is not None and lasts[1] is not None and lasts[0] > lasts[1]


def _openings(
    strikes: _Strikes, anchors: dict[int, int], bars: dict[Kind, int]
) -> dict[tuple[int, int], _Stretch]:
    """The pairs of starts that agree for so many bars from their anchors on; `anchors` has the
    start of each."""
    groups: dict[bytes, list[int]] = defaultdict(list)
    first, then = strikes.codes["shape"]
    for anchor in sorted(anchors):
        key = first[anchor : anchor + 1].tobytes() + then[anchor + 1 : anchor + FEW].tobytes()
        groups[key].append(anchor)
    found: dict[tuple[int, int], _Stretch] = {}
    for group in groups.values():
        for one, other in _couples(group):
            stretch = _kind(strikes, one, other, bars)
            if stretch is not None:
                found[anchors[one], anchors[other]] = stretch
    return found


def _inside(strikes: _Strikes, starts: list[int]) -> dict[tuple[int, int], _Stretch]:
    """The longest stretch of equal bars that begins inside each two phrases."""
    bars = strikes.bars()
    groups: dict[bytes, list[int]] = defaultdict(list)
    for at in range(len(bars) - INSIDE + 1):
        content = b"|".join(bars[at + step][1] for step in range(INSIDE))
        groups[content].append(at)
    found: dict[tuple[int, int], _Stretch] = {}
    for group in groups.values():
        for one, other in _couples(group):
            if one and bars[one - 1][1] == bars[other - 1][1]:
                continue  # they are equal from an earlier bar on
            here, there = bars[one][0], bars[other][0]
            pair = (_owner(starts, here), _owner(starts, there))
            agreed = strikes.agreement(here, there, "same")
            held = found[pair].agreed if pair in found else 0
            if pair[0] != pair[1] and agreed > held and strikes.lasts(here, INSIDE, agreed, there):
                found[pair] = _Stretch("same", here, there, agreed)
    return found


def _owner(starts: list[int], strike: int) -> int:
    """The start whose phrase a strike lies in."""
    return starts[max(bisect_right(starts, strike) - 1, 0)]


def _couples(group: list[int]) -> Iterable[tuple[int, int]]:
    if len(group) <= CROWD:
        return combinations(group, 2)
    return (
        (one, other) for at, one in enumerate(group) for other in group[at + 1 : at + CROWD // 4]
    )


def _kind(strikes: _Strikes, one: int, other: int, bars: dict[Kind, int]) -> _Stretch | None:
    for kind in bars:
        agreed = strikes.agreement(one, other, kind)
        if strikes.lasts(one, bars[kind], agreed, other):
            return _Stretch(kind, one, other, agreed)
    return None


def _pair(
    strikes: _Strikes, one: int, other: int, stretch: _Stretch, following: dict[int, int]
) -> Pair:
    parts = strikes.parts(stretch.one, stretch.other, stretch.agreed)
    here, there = strikes.onsets[stretch.one], strikes.onsets[stretch.other]
    opening = (stretch.one, stretch.other) == (one, other)
    longest = max(following[start] - start for start in (one, other))
    repeat = opening and stretch.kind == "same" and stretch.agreed >= longest
    low_one, low_other = (min(n.pitch for n in strikes.notes[s]) for s in stretch[1:3])
    interval = low_other - low_one if stretch.kind == "transposed" else 0
    difference = None
    if parts is not None:
        difference = _difference(strikes.score, here + parts, there + parts, interval)
    told = _words(strikes.score, difference, here, there, parts, interval, repeat)
    if not opening:
        told = f"{_equal_bars(strikes.score, here, there, parts, interval)}; {told}"
    elif interval:
        told = f"the same {interval_words(interval)}; {told}"
    return Pair(
        one=strikes.onsets[one],
        other=strikes.onsets[other],
        kind=stretch.kind,
        interval=interval,
        from_one=here,
        from_other=there,
        parts_one=None if parts is None else here + parts,
        parts_other=None if parts is None else there + parts,
        repeat=repeat,
        difference=difference,
        words=told,
    )


def _equal_bars(
    score: Score, one: Fraction, other: Fraction, parts: Fraction | None, interval: int
) -> str:
    """ "bb. 26-28 are bb. 18-20", with the whole bars that are equal; the interval if any."""
    last = score.end if parts is None else one + parts
    bars = [bar for bar in score.bars if one <= bar.start and bar.end <= last]
    count = max(len(bars), 1)
    spans = []
    for start in (other, one):
        first = score.bar_at(start)
        final = score.bars[min(first.index + count - 1, len(score.bars) - 1)]
        labels = [label(score, first), label(score, final)]
        single = labels[0] == labels[1]
        spans.append(f"b. {labels[0]}" if single else f"bb. {labels[0]}-{labels[1]}")
    verb = "is" if spans[0].startswith("b. ") else "are"
    moved = f" {interval_words(interval)}" if interval else ""
    return f"{spans[0]} {verb} {spans[1]}{moved}"


_INTERVALS = (
    "", "semitone", "tone", "minor third", "major third", "fourth", "tritone", "fifth",
    "minor sixth", "major sixth", "minor seventh", "major seventh",
)  # fmt: skip


def interval_words(semitones: int) -> str:
    """ "a fourth higher", "an octave and a tone lower", for a number that is not 0."""
    octaves, rest = divmod(abs(semitones), 12)
    parts = [("an octave" if octaves == 1 else f"{octaves} octaves")] if octaves else []
    parts += [f"a {_INTERVALS[rest]}"] if rest else []
    return f"{' and '.join(parts)} {'higher' if semitones > 0 else 'lower'}"


def _difference(score: Score, one: Fraction, other: Fraction, interval: int) -> Difference | None:
    """The first staff from the top that strikes differently at two places."""
    for staff in sorted(staff.number for staff in score.staves):
        heads = [_heads(score, onset, staff) for onset in (one, other)]
        moved = [head.pitch + interval for head in heads[0]]
        if moved != [head.pitch for head in heads[1]]:
            return Difference(staff, heads[0], heads[1])
    return None


def _heads(score: Score, onset: Fraction, staff: int) -> tuple[Head, ...]:
    notes = score.notes_between(onset, onset + Fraction(1, 10**6))
    struck = [n for n in notes if n.onset == onset and n.staff == staff]
    found = {Head(n.step, n.alter, n.octave, n.pitch) for n in struck if n.sounds and not n.grace}
    return tuple(sorted(found, key=lambda head: head.pitch))


_SIGNS = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}


def _names(heads: tuple[Head, ...], against: tuple[Head, ...]) -> str:
    """Note names; with octave numbers only where the names alone are the same."""
    bare = [f"{head.step}{_SIGNS.get(head.alter, '')}" for head in heads]
    others = [f"{head.step}{_SIGNS.get(head.alter, '')}" for head in against]
    if bare == others:
        bare = [f"{name}{head.octave}" for name, head in zip(bare, heads, strict=True)]
    return " and ".join([", ".join(bare[:-1]), bare[-1]] if len(bare) > 1 else bare)


def _words(
    score: Score,
    difference: Difference | None,
    one: Fraction,
    other: Fraction,
    parts: Fraction | None,
    interval: int,
    repeat: bool,
) -> str:
    if parts is None:
        return "note for note the same as far as they go"
    before = "the phrase is repeated note for note; after it " if repeat else ""
    if other + parts > score.onsets[-1]:
        return f"{before}the piece ends, where {place(score, one + parts)} goes on"
    where = place(score, other + parts)
    if difference is None:
        return f"{before}the rhythm differs in {where}"
    hand = _hand(score, difference.staff)
    if interval:
        return f"from {where} on {hand} no longer answers {place(score, one + parts)}"
    new, old = difference.other, difference.one
    if new and old:
        return f"{before}{hand} goes to {_names(new, old)} instead of {_names(old, new)} in {where}"
    if new:
        return f"{before}{hand} strikes {_names(new, old)} in {where}, and nothing there in " + (
            place(score, one + parts)
        )
    return f"{before}{hand} strikes nothing in {where}, but {_names(old, new)} in " + (
        place(score, one + parts)
    )


def _hand(score: Score, number: int) -> str:
    staff = next((staff for staff in score.staves if staff.number == number), None)
    if staff is not None and staff.role != "single":
        return f"the {staff.role}"
    if len(score.staves) == 1:
        return "the melody"
    return f"the {staff.part} part" if staff is not None and staff.part else f"staff {number + 1}"


def _families(pairs: tuple[Pair, ...]) -> tuple[Family, ...]:
    """The starts that pairs link, each start in one family."""
    leader: dict[Fraction, Fraction] = {}

    def find(start: Fraction) -> Fraction:
        while leader.setdefault(start, start) != start:
            leader[start] = leader[leader[start]]
            start = leader[start]
        return start

    for pair in pairs:
        one, other = find(pair.one), find(pair.other)
        leader[max(one, other)] = min(one, other)
    members: dict[Fraction, set[Fraction]] = defaultdict(set)
    linked: dict[Fraction, list[Pair]] = defaultdict(list)
    for pair in pairs:
        members[find(pair.one)] |= {pair.one, pair.other}
        linked[find(pair.one)].append(pair)
    return tuple(
        Family(tuple(sorted(members[first])), tuple(linked[first])) for first in sorted(members)
    )


def _distinct(strikes: _Strikes, starts: list[int]) -> tuple[Distinct, ...]:
    """For each start where the last other start leaves it."""
    first, then = strikes.codes["same"]
    alone: dict[int, Fraction | None] = {}
    open_groups = [starts]
    for depth in range(DEPTH):
        divided: dict[int, dict[int, list[int]]] = defaultdict(lambda: defaultdict(list))
        for number, group in enumerate(open_groups):
            for start in group:
                ended = start + depth >= len(strikes.onsets)
                code = -1 - start if ended else int((then if depth else first)[start + depth])
                divided[number][code].append(start)
        open_groups = []
        for codes in divided.values():
            for code, group in codes.items():
                if len(group) > 1:
                    open_groups.append(group)
                elif code >= 0:
                    alone[group[0]] = strikes.onsets[group[0] + depth]
        if not open_groups:
            break
    return tuple(Distinct(strikes.onsets[start], alone.get(start)) for start in starts)
