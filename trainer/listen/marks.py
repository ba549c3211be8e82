"""What became of each note: the written ones of all chords that were gone through, right, wrong or
missed, and the played ones that were too many. Pure.

A note is right if it came in any playing of its place, so that what was broken off and begun again
is not held against it. What was played beside it the first time is kept, as an extra note.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.listen.lattice import ADVANCE, BACK, EXTRA, FREE, JUMP, LATE, NOTES, RESTART, START
from trainer.listen.model import Mark
from trainer.listen.story import BEFORE

if TYPE_CHECKING:
    from collections.abc import Container, Iterator, Sequence

    from trainer.listen.model import Heard
    from trainer.listen.story import Step, Story

WITHIN = 2  # columns on from where the story stands, for whose notes a foreign one may stand
REACH = 12  # semitones from a written note within which another may have been meant for it
TOGETHER = 0.1  # seconds within which a foreign note was struck with a chord


@dataclass(frozen=True)
class _Foreign:
    """A note that is not written there. `stood` is the column where the story was, `beside` the
    one that was played nearest in time, BEFORE for none; `together`: struck with it."""

    note: Heard
    stood: int
    beside: int
    together: bool
    playing: int

    @property
    def columns(self) -> set[int]:
        """Those for whose notes it may stand."""
        near = () if self.stood == BEFORE else range(self.stood, self.stood + WITHIN + 1)
        return {*near, self.beside} if self.together else set(near)


class _Way:
    """What a story went through, by column."""

    def __init__(self, story: Story) -> None:
        self.struck: dict[int, dict[int, float]] = {}  # the pitches, and when they came last
        self.passed: set[int] = set()  # where all notes should have come
        self.latest: dict[int, int] = {}  # the last playing that came there
        self.playings: list[int] = []  # the playing that each note is of
        self._story = story
        before, playing = BEFORE, 0
        for step in story.steps:
            playing += step.move in (BACK, RESTART, JUMP)
            self.playings.append(playing)
            self._go(step, before, playing)
            before = step.column
        self.passed.add(before)

    def _go(self, step: Step, before: int, playing: int) -> None:
        if step.column == BEFORE or step.move in (EXTRA, FREE):
            return
        if step.move == START:
            lattice = self._story.lattice
            before = int(lattice.home[lattice.row[step.column], self._story.entry])
        if step.move in (START, ADVANCE):
            self.passed.update(range(before, step.column))
            self.latest.update(dict.fromkeys(range(before, step.column), playing))
        self.latest[step.column] = playing
        struck = self.struck.setdefault(step.column - (step.move == LATE), {})
        struck[step.note.pitch] = step.note.time


def marks(story: Story) -> tuple[Mark, ...]:
    """The marks of a story, in order of place and pitch; extra notes from before the beginning
    first. A missed note and one too many at the same few chords, within an octave, are one wrong
    note. Of the chord where the playing ended, what did not come is not missed."""
    way = _Way(story)
    last = story.steps[-1].column
    lacking = {
        (column, pitch)
        for column in way.passed
        for pitch in _written(story, column)
        if pitch not in way.struck.get(column, {})
    }
    foreign = list(_foreign(story, way.playings))
    found = [
        Mark("right", pitch, story.onset(column), time)
        for column, struck in way.struck.items()
        for pitch, time in struck.items()
    ]
    wrong = _stand_for(foreign, lacking, way.struck, last)
    for (column, pitch), one in wrong.items():
        note = one.note
        found.append(Mark("wrong", pitch, story.onset(column), note.time, note.pitch))
    found += [
        Mark("missed", pitch, story.onset(column))
        for column, pitch in lacking - wrong.keys()
        if column != last
    ]
    taken = {id(one) for one in wrong.values()}
    for one in foreign:
        if id(one) not in taken:
            onset = None if one.beside == BEFORE else story.onset(one.beside)
            earlier = one.playing < way.latest.get(one.beside, 0)
            found.append(Mark("extra", one.note.pitch, onset, one.note.time, earlier=earlier))
    return tuple(sorted(found, key=_in_order))


def _stand_for(
    foreign: Sequence[_Foreign],
    lacking: set[tuple[int, int]],
    struck: Container[int],
    last: int,
) -> dict[tuple[int, int], _Foreign]:
    """Which foreign note was played in whose place: first what was struck with the chord, the
    nearest keys first; then the others as they came, in chords of which nothing was struck first.
    A later playing goes before an earlier one. In the last chord, of which nothing is missed, the
    distance does not matter."""

    def order(pair: tuple[tuple[int, int], _Foreign]) -> tuple[float, ...]:
        (column, pitch), one = pair
        if one.together and column == one.beside:
            return 0, -one.playing, column, abs(pitch - one.note.pitch), one.note.time, pitch
        known = column in struck
        return 1, -one.playing, known, column, one.note.time, abs(pitch - one.note.pitch), pitch

    at: dict[int, list[tuple[int, int]]] = defaultdict(list)
    for place in lacking:
        at[place[0]].append(place)
    pairs = [
        (place, one)
        for one in foreign
        for column in one.columns
        for place in at.get(column, ())
        if column == last or abs(place[1] - one.note.pitch) <= REACH
    ]
    found: dict[tuple[int, int], _Foreign] = {}
    taken: set[int] = set()
    for place, one in sorted(pairs, key=order):
        if place not in found and id(one) not in taken:
            found[place] = one
            taken.add(id(one))
    return found


def _foreign(story: Story, playings: Sequence[int]) -> Iterator[_Foreign]:
    """The notes that nothing written asks for."""
    own = [i for i, step in enumerate(story.steps) if step.column != BEFORE and step.move != EXTRA]
    for i, step in enumerate(story.steps):
        if step.column != BEFORE and step.move != EXTRA:
            continue
        at = bisect_right(own, i)
        near = own[max(0, at - 1) : at + 1]
        gap, j = min((abs(story.steps[j].note.time - step.note.time), j) for j in near)
        together = gap <= TOGETHER
        beside = story.steps[j].column
        if step.column == BEFORE and not together:
            beside = BEFORE
        yield _Foreign(step.note, step.column, beside, together, playings[j])


def _written(story: Story, column: int) -> tuple[int, ...]:
    """The pitches of a column's chord that its hands strike."""
    cluster = story.lattice.waiting.clusters[int(story.lattice.place[column])]
    return cluster.of(story.hands)[:NOTES]


def _in_order(mark: Mark) -> tuple[float, ...]:
    if mark.onset is None:
        return -1.0, mark.time or 0.0
    return mark.onset, mark.pitch, mark.time or 0.0
