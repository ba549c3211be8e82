"""Where the chord changes, and which chord it is.

Each bar is cut into stretches whose chord explains best what sounds in them (`templates`), less
what each cut costs: the more, the weaker its beat. The best cuts are found by dynamic
programming over the grid points where a note is struck. Partitioning so is due to B. Pardo and
W. Birmingham, Algorithms for chordal analysis, Computer Music Journal 26(2), 2002.

A diminished seventh chord divides the octave evenly, so that only the spelling tells its root:
the tone over which the others stand in thirds. Where one tone sounds alone, the chord before it
goes on, if that tone is in it; else it is the tone of the chord after it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

from msgspec.structs import replace

from trainer.score.chords import TONES, Chord, Quality
from trainer.score.key import Key, spelled
from trainer.score.model import Bar, Score
from trainer.score.sounding import SILENT, Sounding, rounded
from trainer.score.templates import Ear, Verdict

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

CUT = (1.2, 1.8, 2.7)  # in the middle of a bar of four, on another beat, off the beat
LONGEST = 16  # grid points in one stretch
GROUP = 1024  # grid points taken together, which bounds the memory
UNSURE = 0.2  # a chord with less confidence is not named
IMPLIED = 0.6  # the most confidence in the chord of a tone that sounds alone


class Stretch(NamedTuple):
    """A part of a bar under one chord; None where nothing tells one."""

    onset: Fraction
    end: Fraction
    bar: int
    chord: Chord | None

    @property
    def sure(self) -> Chord | None:
        """The chord, if it is sure enough to be named."""
        return self.chord if self.chord and self.chord.confidence >= UNSURE else None


class Points(NamedTuple):
    """The moments where the chord may change: times, bars, what a change costs there."""

    time: Floats
    exact: list[Fraction]  # the same times, and the end of the last bar
    bar: Ints
    cut: list[float]


Spelling = dict[tuple[int, int], tuple[str, int]]  # bar and pitch class: step and alter


def harmony(
    score: Score, bars: Sequence[Bar], keys: Sequence[Key], sounding: Sounding
) -> tuple[Stretch, ...]:
    """The stretches of consecutive bars of the score, without gaps; `keys` is one a bar.

    Each bar is cut for itself, so its stretches do not depend on which others are asked for,
    but that a tone alone may stand for the chord of the bar next to it. Costs n log n in the
    number of notes.
    """
    import numpy as np

    end = float(bars[-1].end)
    heard = sounding.within(float(bars[0].start), end)
    points = _points(bars, heard)
    numbers = np.array([key.tonic + (12 if key.mode == "minor" else 0) for key in keys])
    beats = np.array([float(bar.meter.beat) for bar in bars])
    ear = Ear(heard, np.append(points.time, rounded([end])), numbers[points.bar], beats[points.bar])
    written = _spellings(score, bars, heard)
    found: list[Stretch] = []
    lone: list[int | None] = []
    for first in range(0, len(points.time), GROUP):
        spans = _best_cuts(ear, points, first, min(first + GROUP, len(points.time)))
        verdicts = ear.verdicts(np.array([i for i, _ in spans]), np.array([j for _, j in spans]))
        for (i, j), verdict in zip(spans, verdicts, strict=True):
            place = int(points.bar[i])
            chord = _chord(verdict, place, keys[place], written)
            found.append(Stretch(points.exact[i], points.exact[j], bars[place].index, chord))
            alone = chord is None and verdict.lowest < SILENT
            lone.append(verdict.lowest % 12 if alone else None)
    return tuple(_merged(_implied(found, lone)))


def _implied(found: Sequence[Stretch], lone: Sequence[int | None]) -> Iterator[Stretch]:
    """The stretches, those with one tone alone under a chord beside them that has it."""
    for place, (stretch, tone) in enumerate(zip(found, lone, strict=True)):
        beside = (*found[max(place - 1, 0) : place], *found[place + 1 : place + 2])
        chords = [other.chord for other in beside if other.chord and tone in other.chord.tones]
        if tone is not None and chords:
            chord = chords[0]
            sure = min(chord.confidence, IMPLIED)
            chord = replace(chord, inversion=chord.tones.index(tone), confidence=sure)
            stretch = stretch._replace(chord=chord)
        yield stretch


def _points(bars: Sequence[Bar], heard: Sounding) -> Points:
    """Bar lines, and the grid points on which a note is struck.

    The grid is of half beats, thirds of a compound beat, or beats shorter than a quarter.
    """
    import numpy as np

    struck = np.array([note.sounds and not note.grace for note in heard.notes], dtype=bool)
    starts = rounded([float(bar.start) for bar in bars])
    places = np.nonzero(struck & (heard.onset > starts[0]))[0]
    onset, first = np.unique(heard.onset[places], return_index=True)
    bar = np.searchsorted(starts, onset, side="right") - 1
    cut = _cuts(bars, onset, bar)
    kept = np.nonzero((cut >= 0) & (onset > starts[bar]))[0]
    time = np.append(starts, onset[kept])
    order = np.argsort(time)
    exact = [b.start for b in bars]
    exact += [heard.notes[place].onset for place in places[first[kept]].tolist()]
    return Points(
        time[order],
        [exact[place] for place in order.tolist()] + [bars[-1].end],
        np.append(np.arange(len(bars)), bar[kept])[order],
        np.append(np.zeros(len(bars)), cut[kept])[order].tolist(),
    )


def _cuts(bars: Sequence[Bar], onset: Floats, bar: Ints) -> Floats:
    """What a change costs at places within bars; -1 where one is not on the grid."""
    import numpy as np

    lead = np.array([float(b.lead - b.start) for b in bars])[bar]
    beat = np.array([float(b.meter.beat) for b in bars])[bar]
    parts = np.array([_parts(b.meter.beat) for b in bars])[bar]
    middle = np.array(
        [float(b.meter.length) / 2 if b.meter.count % 4 == 0 else -1.0 for b in bars]
    )[bar]
    place = (onset + lead) / beat

    def on(position: Floats) -> NDArray[np.bool_]:
        return np.asarray(np.abs(position - np.round(position)) < 1e-6)

    weak = np.where(on(place * parts), CUT[2], -1.0)
    strong = np.where(np.abs(place * beat - middle) < 1e-6, CUT[0], CUT[1])
    return np.where(on(place) & (parts > 1), strong, weak)


def _parts(beat: Fraction) -> int:
    if beat < 1:
        return 1
    return 3 if beat.numerator == 3 else 2


def _best_cuts(ear: Ear, points: Points, start: int, stop: int) -> list[tuple[int, int]]:
    """The stretches, as places of points, that explain the points from start to stop best."""
    import numpy as np

    first, last, lowest = _stretches(ear.low, points.bar, start, stop)
    worth = ear.worth(first, last, lowest)
    order = np.lexsort((first, last))
    best = [0.0] + [-1e18] * (stop - start)
    came = [start] * (stop - start + 1)
    rows = zip(first[order].tolist(), last[order].tolist(), worth[order].tolist(), strict=True)
    for i, j, gain in rows:
        total = best[i - start] + gain - points.cut[i]
        if total > best[j - start]:
            best[j - start], came[j - start] = total, i
    spans, j = [], stop
    while j > start:
        spans.append((came[j - start], j))
        j = came[j - start]
    return spans[::-1]


def _stretches(low: Ints, bar: Ints, start: int, stop: int) -> tuple[Ints, Ints, Ints]:
    """All stretches within a bar of at most LONGEST points: first, last, lowest pitch."""
    import numpy as np

    first = np.arange(start, stop)
    lowest = low[start:stop]
    found = []
    for size in range(1, LONGEST + 1):
        found.append((first, first + size, lowest))
        inside = (first + size < stop) & (bar[np.minimum(first + size, stop - 1)] == bar[first])
        first = first[inside]
        lowest = np.minimum(lowest[inside], low[first + size])
    return (
        np.concatenate([row[0] for row in found]),
        np.concatenate([row[1] for row in found]),
        np.concatenate([row[2] for row in found]),
    )


def _spellings(score: Score, bars: Sequence[Bar], heard: Sounding) -> Spelling:
    """How each bar first spells a pitch class; staves that sound elsewhere are left out."""
    import numpy as np

    at_pitch = {staff.number for staff in score.staves if staff.transposition % 12 == 0}
    starts = rounded([float(bar.start) for bar in bars])
    places = np.searchsorted(starts, heard.onset, side="right") - 1
    found: Spelling = {}
    for note, place in zip(heard.notes, places.tolist(), strict=True):
        if note.staff in at_pitch:
            found.setdefault((place, note.pitch % 12), (note.step, note.alter))
    return found


def _chord(verdict: Verdict, bar: int, key: Key, written: Spelling) -> Chord | None:
    if not verdict.confidence:
        return None
    root, quality = _as_spelled(verdict, bar, written)
    name = written.get((bar, root)) or spelled(root, key.fifths)
    chord = Chord(*name, quality, 0, round(verdict.confidence, 3))
    lowest = verdict.lowest % 12
    return replace(chord, inversion=chord.tones.index(lowest)) if lowest in chord.tones else chord


def _as_spelled(verdict: Verdict, bar: int, written: Spelling) -> tuple[int, Quality]:
    """Root and kind; of a diminished chord as its bar spells it, if in thirds over some root."""
    heard = verdict.root, verdict.quality
    if heard[1] not in ("diminished", "dim7"):
        return heard
    ways = [heard, *(((verdict.root + up) % 12, "dim7") for up in (3, 6, 9))]
    for root, quality in ways:
        names = [written.get((bar, (root + tone) % 12)) for tone in TONES[quality]]
        steps = [name and "CDEFGAB".index(name[0]) for name in names]
        if steps[0] is not None and all(
            step is None or (step - steps[0]) % 7 == 2 * third for third, step in enumerate(steps)
        ):
            return root, quality
    return heard


def _merged(stretches: Iterable[Stretch]) -> Iterator[Stretch]:
    """Neighbours within a bar that agree on the chord, as one."""
    held: Stretch | None = None
    for stretch in stretches:
        if held is not None and held.bar == stretch.bar and _same(held.chord, stretch.chord):
            held = held._replace(end=stretch.end, chord=_surer(held.chord, stretch.chord))
            continue
        if held is not None:
            yield held
        held = stretch
    if held is not None:
        yield held


def _same(one: Chord | None, other: Chord | None) -> bool:
    if one is None or other is None:
        return one is other
    return (one.root, one.quality, one.inversion) == (other.root, other.quality, other.inversion)


def _surer(one: Chord | None, other: Chord | None) -> Chord | None:
    if one is None or other is None:
        return one
    return max(one, other, key=lambda chord: chord.confidence)
