"""The cheapest story, note by note, and what can be read from it. Pure."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import TYPE_CHECKING

from trainer.listen.lattice import (
    ADVANCE,
    AGAIN,
    BACK,
    EXTRA,
    FREE,
    HANDS,
    JUMP,
    RESTART,
    START,
    TOGETHER,
    Lattice,
    Track,
)
from trainer.listen.model import SURE, Jump, Pause

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.listen.model import Hands, Heard

BEFORE = -1  # the column of a note before the story begins


@dataclass(frozen=True)
class Step:
    """What one note was: its move, and the column where the story stands after it."""

    note: Heard
    move: int
    column: int


@dataclass(frozen=True)
class Story:
    """One explanation of all notes."""

    lattice: Lattice
    steps: tuple[Step, ...]
    cost: float
    entry: int  # the number of the start where it begins

    @property
    def hands(self) -> Hands:
        return HANDS[int(self.lattice.row[self.steps[-1].column]) % 3]

    def onset(self, column: int) -> float:
        """The position (ql) of a column's chord."""
        return self.lattice.waiting.clusters[int(self.lattice.place[column])].onset

    def places(self, *, since: float = 0.0) -> list[int]:
        """The clusters where the story stood after each note from `since` seconds on, those
        before its beginning left out."""
        return [
            int(self.lattice.place[step.column])
            for step in self.steps
            if step.column != BEFORE and step.note.time >= since
        ]


def told(track: Track, notes: Sequence[Heard], column: int, cost: float) -> Story:
    """The story that ends in a column, walked back through what the track kept."""
    assert track.changes is not None
    entry = int(track.name[column])
    steps = []
    for number in range(len(notes) - 1, -1, -1):
        if column == BEFORE:
            steps.append(Step(notes[number], EXTRA, BEFORE))
            continue
        move, came = track.changes[number].at(column)
        steps.append(Step(notes[number], move, column))
        column = came
    return Story(track.lattice, tuple(reversed(steps)), cost, entry)


def begun(story: Story) -> int:
    """The number of the first note that belongs."""
    return next(i for i, step in enumerate(story.steps) if step.column != BEFORE)


def matched(story: Story) -> int:
    """How many notes were expected where they came."""
    return sum(step.column != BEFORE and step.move not in (EXTRA, FREE) for step in story.steps)


def restarts(story: Story, pause: float) -> list[tuple[float, int]]:
    """The seconds at which it was begun again, and the column that was left: from the top, after a
    false start, or by going back to the first chord; after `pause` seconds also from the second
    chord or from the first itself, which else is a stutter."""
    first = begun(story)
    own = [step for step in story.steps[first:] if step.move != EXTRA]
    found, rest = [], 0.0  # seconds before the chord that is being struck
    for before, step in pairwise(own):
        gap = step.note.time - before.note.time
        rest = gap if gap > TOGETHER else rest
        if _again(story, before, step, rest >= pause):
            found.append((step.note.time, before.column))
            rest = 0.0
    if first and own[0].note.time - story.steps[first - 1].note.time >= pause:
        found.insert(0, (own[0].note.time, BEFORE))
    return found


def _again(story: Story, before: Step, step: Step, long: bool) -> bool:
    if step.move == RESTART:
        return True
    home = int(story.lattice.home[story.lattice.row[step.column], story.entry])
    far = step.move == BACK and before.column > home + 1
    return step.column == home and (far or (long and step.move in (BACK, AGAIN)))


def jump(story: Story, names: Sequence[str]) -> tuple[Jump | None, int]:
    """The last jump to another start, and the column it left; none that was taken back by
    beginning again."""
    for before, step in reversed(list(pairwise(story.steps))):
        if step.move == RESTART:
            break
        if step.move == JUMP:
            to = names[int(story.lattice.entry[step.column])]
            return Jump(step.note.time, to, (to,)), before.column
    return None, BEFORE


def reached(story: Story, cluster: int) -> float | None:
    """The seconds at which a cluster, or one after it, was first come to without a jump on the
    way from the beginning, or from beginning again."""
    jumped = False
    for step in story.steps:
        jumped = step.move == JUMP or (jumped and step.move != RESTART)
        if not jumped and step.column != BEFORE and story.lattice.place[step.column] >= cluster:
            return step.note.time
    return None


def _line(story: Story) -> list[list[tuple[float, float, int]]]:
    """The chords in the order they were reached, in stretches without a return: for each the
    position (ql), the seconds, the column."""
    stretches: list[list[tuple[float, float, int]]] = [[]]
    for step in story.steps:
        if step.move in (START, ADVANCE):
            stretches[-1].append((story.onset(step.column), step.note.time, step.column))
        elif step.move in (BACK, RESTART, JUMP):
            stretches.append([(story.onset(step.column), step.note.time, step.column)])
    return [stretch for stretch in stretches if stretch]


def pace(story: Story) -> tuple[float | None, float | None]:
    """Quarter notes a minute over the longest stretch, and how steady: 1 less the middle
    deviation of a step's pace from that of the whole. None under three chords."""
    line = max(_line(story), key=len)
    if len(line) < 3 or line[-1][1] <= line[0][1]:
        return None, None
    pairs = [(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(line) if b[0] > a[0]]
    paces = [seconds / length for length, seconds in pairs]
    usual = median(paces)
    kept = [(length, seconds) for length, seconds in pairs if seconds <= 4 * usual * length]
    length, seconds = sum(p[0] for p in kept), sum(p[1] for p in kept)
    if not seconds or not usual:
        return None, None
    spread = median(abs(one - usual) for one in paces) / usual
    return 60 * length / seconds, max(0.0, 1 - spread)


def unevenness(story: Story) -> float:
    """How badly the rhythm fits: the mean distance of a step's pace from the middle one, in
    natural logarithms, each at most 1; 0 under five chords. Only good for breaking ties."""
    line = max(_line(story), key=len)
    paces = [
        math.log((b[1] - a[1]) / (b[0] - a[0]))
        for a, b in pairwise(line)
        if b[0] > a[0] and b[1] > a[1]
    ]
    if len(paces) < 4:
        return 0.0
    usual = median(paces)
    return sum(min(1.0, abs(pace - usual)) for pace in paces) / len(paces)


def pauses(story: Story, beyond: float) -> tuple[Pause, ...]:
    """Holes of at least `beyond` seconds more than the notes ask for at the story's own pace."""
    tempo, _ = pace(story)
    per_quarter = 60 / tempo if tempo else 0.6
    found = []
    steps = [step for step in story.steps if step.move != EXTRA or step.note.chance >= SURE]
    for before, step in pairwise(steps):
        gap = step.note.time - before.note.time
        if before.column == BEFORE or step.move == JUMP:
            continue
        if _again(story, before, step, gap >= beyond):
            continue
        written = max(0.0, story.onset(step.column) - story.onset(before.column)) * per_quarter
        hole = gap - written
        if hole >= max(beyond, written):
            found.append(Pause(before.note.time, round(hole, 3), story.onset(step.column)))
    return tuple(found)
