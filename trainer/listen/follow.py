"""A whole piece played through: where the playing is, and where it broke. Pure.

    follower = Follower(piece)
    follower.hear(note)      # after each key that goes down
    follower.take()          # the slips that are certain by now, each once
    follower.end()           # when the listening is over: the rest

The prices are those of a single try (`lattice.py`). Every chord is a place where the playing may
be taken up again. What a repeat sign or an ending asks for is no slip, nor is a wrong note or a
quick correction that the playing goes on over.
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
from trainer.listen.lattice import ADVANCE, EXTRA, FREE, JUMP, RESTART, Change, Lattice, Track
from trainer.listen.marks import marks
from trainer.listen.model import Policy
from trainer.listen.score import waiting_at
from trainer.listen.story import BEFORE, Step, Story
from trainer.score.route import bar_route
from trainer.values import Frozen

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.deck.model import Piece
    from trainer.listen.model import Cluster, Heard

STOP = 2.0  # seconds beyond what is written that break the flow
WAITED = 1.4  # times what is written, also where chords were left out
HELD = 5.0  # and over a fermata or a breath mark
FLOWING = 4  # chords in a row after which the playing is taken up again
LAG = 64  # notes that may still come to be understood otherwise
ASTRAY = 24  # notes over which it is known whether this is the piece at all
FOREIGN = 0.6  # the share of the price of foreign notes above which it is not
MOST = 20_000  # notes that are listened to
EVEN = 1e-6  # prices nearer than this are the same
PACE = 0.6  # seconds a quarter until more is known
FINE = 960  # places are told to this part of a quarter

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
    """Follows one performance from the first start on. Times are seconds on any clock; the notes
    come in their order. Raises TrainerError where the piece has no notes."""

    def __init__(self, piece: Piece, policy: Policy = Policy()) -> None:  # noqa: B008
        score = piece.score
        self._score = score
        waiting = waiting_at(score, _places(piece))
        self._clusters = waiting.clusters
        if not waiting.entries:
            raise TrainerError("The score has no notes to follow: take one that has.")
        first = waiting.entries[0].id
        costs = policy.costs
        costs = replaced(costs, restart=costs.jump, restart_gap=costs.jump_gap)
        self._lattice = Lattice(waiting, first, costs, policy.upbeat_ql)
        self._track = Track(self._lattice, keep=True)
        route = bar_route(score)
        self._route = {(a.bar, b.bar) for a, b in pairwise(route)}
        end = float(score.bars[route[-1].bar].end)
        self._ends = {
            len(self._clusters) - 1,
            bisect_left([c.onset for c in self._clusters], end) - 1,
        }
        self._extra = policy.costs.extra
        self._notes: deque[Heard] = deque()  # those whose steps are not settled
        self._steps: list[Step] = []
        self._floors: deque[float] = deque(maxlen=ASTRAY)  # the lowest price after each note
        self._paces: deque[float] = deque(maxlen=9)
        self._break: _Break | None = None
        self._slips: list[Slip] = []
        self._given = 0
        self.count = 0

    @property
    def place(self) -> float | None:
        """The position (ql) of the chord where the playing is; None where it cannot be told."""
        at = self._at
        return None if at is None else self._clusters[at].onset

    @property
    def at_end(self) -> bool:
        """Whether the last chord was struck, that of the page or that of the route."""
        return self._at in self._ends

    @property
    def _at(self) -> int | None:
        floors = self._floors
        if len(floors) < FLOWING or self._astray:
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
        if self.count >= MOST:
            return
        self.count += 1
        self._notes.append(note)
        self._track.hear(note.pitch, note.time)
        self._floors.append(float(self._track.cost[: self._lattice.any_from].min()))
        if len(self._notes) >= 2 * LAG and not self._astray:
            self._settle(LAG)

    def take(self) -> tuple[Slip, ...]:
        """The slips that are certain by now and were not given before."""
        new = tuple(self._slips[self._given :])
        self._given = len(self._slips)
        return new

    def end(self) -> tuple[Slip, ...]:
        """Nothing more comes: the slips that were not given before."""
        if self._notes:
            self._settle(0)
        broken = self._break
        if broken is not None and not self._runs_out(broken):
            self._slips.append(self._slip(broken, over=True))
        elif broken is not None:
            self._slips.append(self._slip(broken))
        self._break = None
        own = [step for step in self._steps if step.column != BEFORE and step.move != EXTRA]
        if (
            own
            and self._cluster(own[-1]) not in self._ends
            and (broken is None or self._runs_out(broken))
        ):
            slip = Slip("end", own[-1].note.time, self._exact(own[-1]))
            self._slips.append(slip)
        return self.take()

    def counts(self) -> Counter[str]:
        """How many notes were "right", "wrong", "missed" and "extra", once it has ended."""
        if all(step.column == BEFORE for step in self._steps):
            return Counter(extra=len(self._steps))
        story = Story(self._lattice, tuple(self._steps), 0.0, self._lattice.asked)
        return Counter(mark.kind for mark in marks(story))

    # How it came about

    def _settle(self, lag: int) -> None:
        """Walk the cheapest story back, and keep of it what will hardly change any more."""
        changes: list[Change] = self._track.changes or []
        column, fresh = self._column, []
        for note, change in zip(reversed(self._notes), reversed(changes), strict=True):
            if column == BEFORE:
                fresh.append(Step(note, EXTRA, BEFORE))
                continue
            move, came = change.at(column)
            fresh.append(Step(note, move, column))
            column = came
        fresh.reverse()
        sure = len(fresh) - lag
        for step in fresh[:sure]:
            before = self._steps[-1] if self._steps else None
            self._steps.append(step)
            if before is not None and before.column != BEFORE:
                self._went(before, step)
            self._notes.popleft()
        del changes[:sure]

    def _went(self, before: Step, step: Step) -> None:
        """One step further, both settled."""
        broken = self._break
        if self._breaks(before, step):
            if broken is None:
                self._break = _Break(before, step)
            else:
                broken.after, broken.chords = step, 0
        elif broken is not None and step.move not in (EXTRA, FREE) and step.column > before.column:
            broken.chords += 1
            if broken.chords >= FLOWING:
                self._slips.append(self._slip(broken))
                self._break = None
        if step.move == ADVANCE and step.column > before.column:
            length = self._onset(step) - self._onset(before)
            if length > 0 and self._break is None:
                self._paces.append((step.note.time - before.note.time) / length)

    def _breaks(self, before: Step, step: Step) -> bool:
        """Whether the flow is broken between two steps."""
        if step.move in (JUMP, RESTART):
            return not self._as_written(before, step)
        pace, here = median(self._paces) if self._paces else PACE, self._cluster(before)
        there = self._cluster(step)
        whole = max(0.0, self._onset(step) - self._onset(before)) * pace
        written = float(self._onset_at(here + 1) - self._onset_at(here)) * pace
        written = min(written, whole)  # to the next chord, whatever was left out
        seconds = step.note.time - before.note.time
        hole = seconds - written
        if hole < max(STOP, written) or seconds < WAITED * whole:
            return False
        return there < here or hole > HELD or not self._is_held(before, step)

    def _as_written(self, before: Step, step: Step) -> bool:
        """Whether a repeat, an ending or a jump of the score leads from one to the other; the
        last chord before it may have been left out."""
        here, there = self._bar(before), self._bar(step)
        last = self._onset_at(self._cluster(before) + 2) >= self._score.bars[here].end
        return last and there != here + 1 and (here, there) in self._route

    def _is_held(self, before: Step, step: Step) -> bool:
        begin, end = self._exact(before), self._exact(step)
        return any(
            begin <= mark.onset < end or (mark.onset < begin < (mark.end or begin))
            for mark in self._score.marks_of("fermata", "breath")
        )

    def _runs_out(self, broken: _Break) -> bool:
        """Whether the piece was over before the playing could be known to flow again."""
        after = self._cluster(broken.after)
        return bool(broken.chords) and after + broken.chords >= len(self._clusters) - 1

    def _slip(self, broken: _Break, *, over: bool = False) -> Slip:
        before, after = broken.before, broken.after
        broke, taken = self._exact(before), self._exact(after)
        seconds = round(after.note.time - before.note.time, 3)
        if over:
            return Slip("end", before.note.time, broke)
        step = self._cluster(after) - self._cluster(before)
        kind: SlipKind = "back" if step < 0 else "stop" if step <= 1 else "on"
        return Slip(kind, before.note.time, broke, taken, seconds)

    def _cluster(self, step: Step) -> int:
        return int(self._lattice.place[step.column])

    def _onset(self, step: Step) -> float:
        return self._clusters[self._cluster(step)].onset

    def _onset_at(self, at: int) -> Fraction:
        """The position of a chord, the end of the piece after the last."""
        return _exact(self._clusters[at]) if at < len(self._clusters) else self._score.end

    def _exact(self, step: Step) -> Fraction:
        return _exact(self._clusters[self._cluster(step)])

    def _bar(self, step: Step) -> int:
        return self._score.bar_at(self._exact(step)).index


def _exact(cluster: Cluster) -> Fraction:
    return Fraction(cluster.onset).limit_denominator(FINE)


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
