"""A whole piece played through: where the playing is, and where it broke. Pure.

    follower = Follower(piece)
    follower.hear(note)      # after each key that goes down
    follower.take()          # the slips that are certain by now, each once
    follower.end()           # when the listening is over: the rest

The prices are those of a single try (`lattice.py`). Every chord is a place where the playing may
be taken up again. What a repeat sign or an ending asks for is no slip, nor is a wrong note or a
quick correction that the playing goes on over. A slip is certain once all likely stories agree on
it, some notes later; where the piece says the same twice, once the two places go different ways.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, deque
from fractions import Fraction
from itertools import pairwise
from statistics import median
from typing import TYPE_CHECKING, Literal

import numpy as np
from msgspec.structs import replace as replaced

from trainer.errors import TrainerError
from trainer.listen.lattice import ADVANCE, EXTRA, FREE, JUMP, LATE, RESTART, Lattice, Track
from trainer.listen.marks import marks
from trainer.listen.model import Policy, exact
from trainer.listen.score import is_held, waiting_at
from trainer.listen.story import BEFORE, Step, Story
from trainer.score.route import bar_route
from trainer.values import Frozen

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.deck.model import Piece
    from trainer.listen.model import Heard

# The playing flows, and where it is broken there mostly is a hole: a return without one is dearer
# than in a single try, one after a hole cheaper.
BREAKS = {
    "back": 6.0,
    "back_gap": 1.0,
    "jump": 11.0,
    "jump_gap": 6.0,
    "restart": 11.0,
    "restart_gap": 6.0,
}
STOP = 2.0  # seconds beyond what is written that break the flow
HELD = 5.0  # and over a fermata or a breath mark
FLOWING = 4  # chords in a row after which the playing is taken up again
SLACK = 3  # chords that may lack on either side of a repeat sign, or at the end
LOOK = 32  # notes after which it is seen what has become certain
FRESH = 24  # the latest notes, of which nothing is
RIVAL = 6.0  # by how much a story may be dearer than the cheapest and still be likely
OPEN = 640  # notes after which the cheapest story is believed
ASTRAY = 24  # notes over which it is known whether this is the piece at all
FOREIGN = 0.6  # the share of the price of foreign notes above which it is not
MOST = 20_000  # notes that are listened to
EVEN = 1e-6  # prices nearer than this are the same
PACE = 0.6  # seconds a quarter until more is known

SlipKind = Literal["stop", "back", "on", "end"]


class Slip(Frozen, frozen=True):
    """Where the playing broke: the last chord before it (`broke_at`, a position in ql) and when it
    was struck (`time`), and where and how much later (`seconds`) it was taken up again. `kind` says
    how: at the chord where it would have gone on ("stop"), from further back or further on, or not
    any more ("end", `taken_up_at` is None)."""

    kind: SlipKind
    time: float
    broke_at: Fraction
    taken_up_at: Fraction | None = None
    seconds: float = 0.0


class _Break:
    """A slip of which it is not yet known where the playing goes on."""

    def __init__(self, before: Step, after: Step) -> None:
        self.before, self.after = before, after
        self.chords = 0


class Follower:
    """Follows one performance from the first chord on. Times are seconds on any clock; the notes
    come in their order. Raises TrainerError where the piece has no notes."""

    def __init__(self, piece: Piece, policy: Policy = Policy()) -> None:  # noqa: B008
        score = piece.score
        self._score = score
        waiting = waiting_at(score, _places(piece))
        if not waiting.entries:
            raise TrainerError("The score has no notes to follow: take one that has.")
        self._clusters = waiting.clusters
        first = waiting.entries[0].id
        costs = policy.costs
        costs = replaced(costs, **BREAKS)
        self._lattice = Lattice(waiting, first, costs, policy.upbeat_ql)
        self._track = Track(self._lattice, keep=True)
        onsets = [chord.onset for chord in waiting.clusters]
        route = [visit.bar for visit in bar_route(score)]
        # where signs lead from one bar to another than the next: the chords before and after it
        self._leads = {
            (
                bisect_left(onsets, float(score.bars[here].end)) - 1,
                bisect_left(onsets, float(score.bars[there].start)),
            )
            for here, there in pairwise(route)
            if there != here + 1
        }
        last = bisect_left(onsets, float(score.bars[route[-1]].end)) - 1
        self._ends = {len(onsets) - 1, last}
        self._extra = policy.costs.extra
        self._notes: deque[Heard] = deque()  # those whose steps are not settled
        self._steps: list[Step] = []
        self._floors: deque[float] = deque(maxlen=ASTRAY)  # the lowest price after each note
        self._paces: deque[float] = deque(maxlen=9)
        self._own: Step | None = None  # the last settled one of the piece
        self._break: _Break | None = None
        self._slips: list[Slip] = []
        self._given = 0
        self._over = False
        self.count = 0

    @property
    def place(self) -> Fraction | None:
        """The position (ql) of the chord where the playing is; None where it cannot be told."""
        at = self._at
        return None if at is None else exact(self._clusters[at].onset)

    @property
    def at_end(self) -> bool:
        """Whether the last chord was struck, that of the page or that of the route."""
        return self._at in self._ends

    @property
    def _at(self) -> int | None:
        if len(self._floors) < FLOWING or self._astray:
            return None
        return int(self._lattice.place[self._column])

    @property
    def _astray(self) -> bool:
        """Whether the latest notes are no more of the piece than any."""
        floors = self._floors
        return floors[-1] - floors[0] >= FOREIGN * self._extra * (len(floors) - 1)

    @property
    def _column(self) -> int:
        """The column where the cheapest story ends; the last of those that cost the same, since
        playing is rather taken up further on."""
        cost = self._track.cost[: self._lattice.any_from]
        return int(np.flatnonzero(cost <= cost.min() + EVEN)[-1])

    def hear(self, note: Heard) -> None:
        """Take one more note."""
        if self.count >= MOST or self._over:
            return
        self.count += 1
        self._notes.append(note)
        self._track.hear(note.pitch, note.time)
        self._floors.append(float(self._track.cost[: self._lattice.any_from].min()))
        if self.count % LOOK == 0 and not self._astray:
            self._settle()

    def take(self) -> tuple[Slip, ...]:
        """The slips that are certain by now and were not given before."""
        new = tuple(self._slips[self._given :])
        self._given = len(self._slips)
        return new

    def end(self) -> tuple[Slip, ...]:
        """Nothing more comes: the slips that were not given before."""
        if self._notes and not self._over:
            self._settle(over=True)
        broken, own = self._break, self._own
        if not self._over and own is not None and not self._is_foreign:
            if broken is not None and broken.chords and self._is_over(own):
                self._slips.append(self._slip(broken))
            elif broken is not None or not self._is_over(own):
                last = own if broken is None else broken.before
                self._slips.append(Slip("end", last.note.time, self._exact(last)))
        self._over = True
        return self.take()

    def matched(self) -> Iterator[tuple[Heard, float]]:
        """The notes that were played for a written one so far as it is certain, in their order,
        and the position (ql) of its chord."""
        for step in self._steps:
            if step.column != BEFORE and step.move not in (EXTRA, FREE):
                column = step.column - (step.move == LATE)
                yield step.note, self._clusters[int(self._lattice.place[column])].onset

    def counts(self) -> Counter[str]:
        """How many notes were "right", "wrong", "missed" and "extra", once it has ended."""
        if self._own is None:
            return Counter({"extra": self.count} if self.count else {})
        story = Story(self._lattice, tuple(self._steps), 0.0, self._lattice.asked)
        return Counter(mark.kind for mark in marks(story))

    # How it came about

    @property
    def _is_foreign(self) -> bool:
        """Whether all that was heard is no more of the piece than any notes."""
        return self._floors[-1] >= FOREIGN * self._extra * self.count

    def _settle(self, *, over: bool = False) -> None:
        """Walk the likely stories back, and keep of them what they have in common: it will not
        change any more."""
        track = self._track
        changes, sure = track.changes or [], len(self._notes)
        column = self._column
        cost = track.cost[: self._lattice.any_from]
        likely = {column} if over else set(np.flatnonzero(cost <= cost[column] + RIVAL).tolist())
        fresh: list[Step] = []
        for number in range(len(changes) - 1, -1, -1):
            if len(likely) > 1 or number >= len(changes) - FRESH:
                sure = number
            change = changes[number]
            move, came = (EXTRA, BEFORE) if column == BEFORE else change.at(column)
            fresh.append(Step(self._notes[number], move, column))
            column = came
            if len(likely) > 1:
                likely = {c if c == BEFORE else change.at(c)[1] for c in likely}
        if over:
            sure = len(changes)
        elif len(changes) > OPEN:
            sure = max(sure, len(changes) - OPEN // 2)
        fresh.reverse()
        for step in fresh[:sure]:
            self._steps.append(step)
            self._notes.popleft()
            self._went(step)
        del changes[:sure]

    def _went(self, step: Step) -> None:
        """One step further."""
        if step.column == BEFORE or step.move in (EXTRA, FREE):
            return
        before, broken = self._own, self._break
        self._own = step
        if before is None:
            return
        if self._breaks(before, step):
            if broken is None:
                self._break = _Break(before, step)
            else:
                broken.after, broken.chords = step, 0
        elif broken is not None and step.column > before.column:
            broken.chords += 1
            if broken.chords >= FLOWING:
                self._slips.append(self._slip(broken))
                self._break = None
        if step.move == ADVANCE and self._break is None:
            length = self._onset(step) - self._onset(before)
            self._paces.append((step.note.time - before.note.time) / length)

    def _breaks(self, before: Step, step: Step) -> bool:
        """Whether the flow is broken between two steps."""
        pace = median(self._paces) if self._paces else PACE
        to = self._onset(step) if step.column > before.column else self._after(before)
        written = max(0.0, to - self._onset(before)) * pace
        hole = step.note.time - before.note.time - written
        held = hole <= HELD and is_held(self._score, self._exact(before), self._exact(step))
        if hole >= max(STOP, written) and not held:
            return True
        return step.move in (JUMP, RESTART) and not self._as_written(before, step)

    def _as_written(self, before: Step, step: Step) -> bool:
        """Whether a repeat, an ending or a jump of the score leads from one to the other."""
        here, there = self._cluster(before), self._cluster(step)
        return any(
            here - 1 <= end <= here + SLACK and there - SLACK <= begin <= there + 1
            for end, begin in self._leads
        )

    def _is_over(self, step: Step) -> bool:
        """Whether the piece was over with a step, give or take a few chords."""
        return any(0 <= end - self._cluster(step) <= SLACK for end in self._ends)

    def _slip(self, broken: _Break) -> Slip:
        before, after = broken.before, broken.after
        step = self._cluster(after) - self._cluster(before)
        kind: SlipKind = "back" if step < 0 else "stop" if step <= 1 else "on"
        seconds = round(after.note.time - before.note.time, 3)
        return Slip(kind, before.note.time, self._exact(before), self._exact(after), seconds)

    def _cluster(self, step: Step) -> int:
        return int(self._lattice.place[step.column])

    def _onset(self, step: Step) -> float:
        return self._clusters[self._cluster(step)].onset

    def _after(self, step: Step) -> float:
        """The position (ql) of the chord after a step's, the end of the piece after the last."""
        at = self._cluster(step) + 1
        return self._clusters[at].onset if at < len(self._clusters) else float(self._score.end)

    def _exact(self, step: Step) -> Fraction:
        return exact(self._onset(step))


def _places(piece: Piece) -> Iterator[tuple[str, Fraction]]:
    """All chords of a piece as places to begin, under names of their own."""
    onsets = sorted({note.onset for note in piece.score.notes if note.sounds})
    return ((str(onset), onset) for onset in onsets)


def taken_up(piece: Piece, slip: Slip) -> str:
    """The id of the start where the playing was taken up again: the one at that chord, or at the
    one beside it; "" where there is none so near."""
    here = slip.taken_up_at
    if here is None:
        return ""
    onsets = sorted({note.onset for note in piece.score.notes if note.sounds})
    at = onsets.index(min(onsets, key=lambda onset: abs(onset - here)))
    near = onsets[max(0, at - 1) : at + 2]
    found = [start for start in piece.deck.starts if near[0] <= start.onset <= near[-1]]
    nearest = sorted(found, key=lambda start: abs(start.onset - here))
    return nearest[0].id if nearest else ""
