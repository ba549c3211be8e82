"""A whole piece played through: where the playing is, and where it broke. Pure.

    follower = Follower(piece)
    follower.hear(note)      # after each key that goes down
    follower.take()          # the slips that are certain by now, each once
    follower.end()           # when the listening is over: the rest

The prices are those of a single attempt (`lattice.py`). Every chord is a place where the playing
may be taken up again, and what a repeat sign or an ending asks for is a way as good as going on. A
story is believed once all likely stories agree on it, some notes later; where the piece says the
same twice, once the two places go different ways.

Not every jump of the cheapest story is a slip of the player. Notes that are not written (a trill,
a cadenza, an arpeggio) may be explained more cheaply by another place of the piece. So a jump has
to stand against the clock: where the time that was played through is what the music on the way
asks for, the playing went on as written, whatever the notes were; and so it did where it came
back from another place to where it would have been by then. Nor is a hole a slip in which notes
were played. Where the next chord comes late it is a hesitation.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, deque
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from statistics import median
from typing import TYPE_CHECKING, Literal

import numpy as np
from msgspec.structs import replace as replaced

from trainer.errors import TrainerError
from trainer.listen.lattice import ADVANCE, BACK, EXTRA, FREE, JUMP, LATE, RESTART, Lattice, Track
from trainer.listen.marks import marks
from trainer.listen.model import Policy, exact
from trainer.listen.score import is_held, waiting_at
from trainer.listen.story import BEFORE, Step, Story
from trainer.score.route import bar_route
from trainer.values import Frozen

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from trainer.deck.model import Piece
    from trainer.listen.model import Heard, Mark
    from trainer.score.model import Score

# The playing flows, and where it is broken there mostly is a hole: a return without one is dearer
# than in a single attempt, one after a hole cheaper.
BREAKS = {
    "back": 6.0,
    "back_gap": 1.0,
    "jump": 11.0,
    "jump_gap": 6.0,
    "restart": 11.0,
    "restart_gap": 6.0,
}
STOP = 2.0  # seconds beyond what is written that break the flow
HELD = 5.0  # and over a fermata, a breath mark, or between two phrases
FLOWING = 4  # chords in a row after which the playing is taken up again
KNOWN = 5  # chords whose pace has to be known before a hole can be told
HURRY = 2.0  # times the pace before, at which nothing is taken up: the notes are an ornament
STRAIGHT = 0.5  # the part by which the time on the way may be off what is written
BAR = 0.75  # of a bar, from which on going back is a slip, and not only a correction
AGAIN = 2  # chords that are struck once more after a hole, and it is a hesitation all the same
HOME = 0.65  # the part of the way to another place by which the way back may differ from it
AWAY = 30.0  # seconds after which nobody comes back to where the playing would have been
FEW = 3  # different keys that alone make no passage: a trill, a tremolo
SLACK = 3  # chords that may lack on either side of a repeat sign, or at the end
LOOK = 32  # notes after which it is seen what has become certain
FRESH = 24  # the latest notes, of which nothing is
RIVAL = 6.0  # by how much a story may be dearer than the cheapest and still be likely
OPEN = 640  # notes after which the cheapest story is believed
ASTRAY = 24  # notes over which it is known whether this is the piece at all
FOREIGN = 0.6  # the share of the price of foreign notes above which it is not
MOST = 20_000  # notes that are listened to
EVEN = 1e-6  # prices nearer than this are the same

SlipKind = Literal["hesitation", "back", "on", "end"]


class Slip(Frozen, frozen=True):
    """Where the playing broke: the last chord before it (`broke_at`, a position in ql) and when it
    was struck (`time`), and where and how much later (`seconds`) it was taken up again. `kind` says
    how: from further back or further on, or not any more ("end", `taken_up_at` is None); a
    "hesitation" at the chord where it would have gone on. `sure`: else it may as well have been
    no slip, and the player is the judge."""

    kind: SlipKind
    time: float
    broke_at: Fraction
    taken_up_at: Fraction | None = None
    seconds: float = 0.0
    sure: bool = True


@dataclass
class _Break:
    """Where the flow was broken. `silence` is the longest time between two notes before it was
    taken up again at `after`; `again` how often it was; `pace` that of before, in seconds a
    quarter, None where none is known."""

    before: Step
    after: Step
    silence: float
    pace: float | None
    again: int = 1
    chords: int = 0
    hole: float = 0.0  # seconds of silence beyond what is written


class _Doubts:
    """Slips that wait: a jump without a hole is one only if the playing does not come back, within
    AWAY seconds, to where it would have been without it."""

    def __init__(self, is_back: Callable[[Sequence[_Break]], bool]) -> None:
        self._is_back = is_back
        self._waiting: list[tuple[_Break, Slip]] = []

    def add(self, broken: _Break, slip: Slip) -> None:
        """One more slip."""
        for number, (first, before) in enumerate(self._waiting):
            if not (first.hole or broken.hole) and before.sure:
                since = [one for one, _ in self._waiting[number:] if not one.hole]
                if self._is_back([*since, broken]):
                    kept = [one for one in self._waiting[number + 1 :] if one[0].hole]
                    self._waiting[number:] = [(first, replaced(before, sure=False)), *kept]
                    return
        self._waiting.append((broken, slip))

    def take(self, time: float | None = None) -> Iterator[Slip]:
        """Those that are settled by a time, or all; none before one that waits longer."""
        while self._waiting:
            broken, slip = self._waiting[0]
            certain = broken.hole or not slip.sure
            if not certain and time is not None and time < broken.after.note.time + AWAY:
                return
            yield slip
            self._waiting.pop(0)


class Follower:
    """Follows one performance from the first chord on. Times are seconds on any clock; the notes
    come in their order. Raises TrainerError where the piece has no notes."""

    def __init__(self, piece: Piece, policy: Policy = Policy()) -> None:  # noqa: B008
        score = piece.score
        self._score = score
        waiting = waiting_at(score, _places(piece))
        if not waiting.entries:
            raise TrainerError(
                "The notes of this piece are not known, so it cannot be followed: log the slips"
                " by hand."
            )
        self._clusters = waiting.clusters
        self._onsets = [chord.onset for chord in waiting.clusters]
        self._phrases = sorted(float(start.onset) for start in piece.deck.starts)
        route = [visit.bar for visit in bar_route(score)]
        self._leads = dict(_leads(score, route, self._onsets))
        last = bisect_left(self._onsets, float(score.bars[route[-1]].end)) - 1
        self._ends = {len(self._onsets) - 1, last}
        self._lattice = Lattice(
            waiting,
            waiting.entries[0].id,
            replaced(policy.costs, **BREAKS),
            policy.upbeat_ql,
            leads=self._leads,
            others=False,
        )
        self._track = Track(self._lattice, keep=True)
        self._extra = policy.costs.extra
        self._notes: deque[Heard] = deque()  # those whose steps are not settled
        self._steps: list[Step] = []
        self._floors: deque[float] = deque(maxlen=ASTRAY)  # the lowest price after each note
        self._paces: deque[float] = deque(maxlen=9)
        self._own: Step | None = None  # the last settled one of the piece
        self._silence = 0.0  # the longest between two notes since then
        self._break: _Break | None = None
        self._doubts = _Doubts(self._is_back)
        self._slips: list[Slip] = []
        self._given = 0
        self._over = False
        self.count = 0

    @property
    def place(self) -> Fraction | None:
        """The position (ql) of the chord where the playing is; None where it cannot be told."""
        at = self._at
        return None if at is None else exact(self._onsets[at])

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
        cost = self._track.cost
        return int(np.flatnonzero(cost <= cost.min() + EVEN)[-1])

    def hear(self, note: Heard) -> None:
        """Take one more note."""
        if self.count >= MOST or self._over:
            return
        self.count += 1
        self._notes.append(note)
        self._track.hear(note.pitch, note.time)
        self._floors.append(float(self._track.cost.min()))
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
                self._judge(broken, own)
            self._slips += self._doubts.take()
            lost = broken is not None and broken.after.move != ADVANCE and not broken.chords
            if lost or not self._is_over(own):
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
                yield step.note, self._onsets[int(self._lattice.place[column])]

    def marks(self) -> tuple[Mark, ...]:
        """What became of each note, once it has ended."""
        if self._own is None:
            return ()
        return marks(Story(self._lattice, tuple(self._steps), 0.0, self._lattice.asked))

    def counts(self) -> Counter[str]:
        """How many notes were "right", "wrong", "missed" and "extra", once it has ended."""
        if self._own is None:
            return Counter({"extra": self.count} if self.count else {})
        return Counter(mark.kind for mark in self.marks())

    # How it came about

    @property
    def _is_foreign(self) -> bool:
        """Whether all that was heard is no more of the piece than any notes."""
        return self._floors[-1] >= FOREIGN * self._extra * self.count

    def _settle(self, *, over: bool = False) -> None:
        """Walk the likely stories back, and keep of them what they have in common: it is believed
        from now on, and what tells otherwise is left."""
        track = self._track
        changes, sure = track.changes or [], len(self._notes)
        column = self._column
        likely = {column}
        if not over:
            likely = set(np.flatnonzero(track.cost <= track.cost[column] + RIVAL).tolist())
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
        if sure:
            track.keep_from(sure, fresh[sure - 1].column)

    def _went(self, step: Step) -> None:
        """One step further."""
        if len(self._steps) > 1:
            self._silence = max(self._silence, step.note.time - self._steps[-2].note.time)
        if step.column == BEFORE or step.move in (EXTRA, FREE):
            return
        before, self._own = self._own, step
        silence, self._silence = self._silence, 0.0
        if before is None:
            return
        broken = self._break
        jumped = step.move in (JUMP, RESTART)
        jumped |= step.move == BACK and self._is_far(before, step)
        if jumped or self._hole(before, step, silence, self._pace):
            if broken is None:
                self._break = _Break(before, step, silence, self._pace)
            elif not jumped:
                broken.chords += 1
            else:
                broken.after, broken.chords = step, 0
                broken.silence, broken.again = max(broken.silence, silence), broken.again + 1
        elif broken is not None and step.move == ADVANCE:
            broken.chords += 1
        if broken is not None and broken.chords >= FLOWING:
            self._close(broken, step)
        if step.move == ADVANCE and self._break is None and (way := self._written(before, step)):
            self._paces.append((step.note.time - before.note.time) / way)
        self._slips += self._doubts.take(step.note.time)

    def _bar(self, step: Step) -> float:
        """How many quarters the bar of a step has."""
        return float(self._score.bar_at(self._exact(step)).length)

    def _is_far(self, before: Step, step: Step) -> bool:
        """Whether it is about a bar or more from where it would have gone on back to a step."""
        return self._after(before) - self._onset(step) >= BAR * self._bar(before)

    @property
    def _pace(self) -> float | None:
        """Seconds a quarter as it was played lately; None where that is not known."""
        return median(self._paces) if len(self._paces) >= KNOWN else None

    def _hole(self, before: Step, step: Step, silence: float, pace: float | None) -> float:
        """The seconds of a silence beyond what is written at a pace; 0 where it is no hole."""
        if pace is None:
            return 0.0
        written = self._written(before, step) * pace
        hole = silence - written
        return hole if hole >= max(STOP, written) and not self._rests(before, step, hole) else 0.0

    def _rests(self, before: Step, step: Step, hole: float) -> bool:
        """Whether a hole on the way to the next chord stands at a fermata, a breath mark, or
        between two phrases."""
        if hole > HELD or step.move != ADVANCE:
            return False
        here, there = self._onset(before), self._onset(step)
        between = any(here < onset <= there for onset in self._phrases)
        return between or is_held(self._score, self._exact(before), self._exact(step))

    def _close(self, broken: _Break, step: Step) -> None:
        """The playing has been taken up again for some chords, unless they are an ornament."""
        after = self._pace_of(broken.after, step)
        if broken.pace is not None and after is not None and after * HURRY < broken.pace:
            broken.after, broken.chords = step, 0
            return
        self._judge(broken, step)

    def _judge(self, broken: _Break, step: Step) -> None:
        """What a break was, now that the playing has come on to a step."""
        self._break = None
        self._paces.clear()  # it may go on in another tempo
        before, after = broken.before, broken.after
        paces = [pace for pace in (broken.pace, self._pace_of(after, step)) if pace is not None]
        hole = self._hole(before, after, broken.silence, max(paces, default=None))
        broken.hole = hole
        way = self._onset(after) - self._onset(before)
        left_out = way >= self._bar(before) and self._cluster(after) > self._cluster(before) + 1
        near = not left_out
        near &= way >= 0 if broken.again > 1 else not self._is_far(before, after)
        if hole and self._cluster(after) < self._cluster(before) - AGAIN:
            near = False
        # what was left out without a note is no music that was not recognised
        lost = broken.silence if left_out and broken.silence >= STOP else hole
        steps = (after,) if way > 0 else (after, step)
        straight = any(
            self._is_straight(before, one, lost, pace) for one in steps for pace in paces
        )
        if straight or near:
            if hole:
                self._add(broken, "hesitation")
        elif not self._is_trill(before):
            self._add(broken, "back" if way < 0 else "on")

    def _add(self, broken: _Break, kind: SlipKind) -> None:
        before, after = broken.before, broken.after
        seconds = round(after.note.time - before.note.time, 3)
        slip = Slip(kind, before.note.time, self._exact(before), self._exact(after), seconds)
        self._doubts.add(broken, slip)

    def _is_straight(self, before: Step, after: Step, hole: float, pace: float) -> bool:
        """Whether the time from one step to another, but for a hole, is what is written."""
        played = after.note.time - before.note.time - hole
        ways = (way * pace for way in self._ways(before, after))
        return any(abs(way - played) <= STRAIGHT * max(way, played) for way in ways if way > 0)

    def _is_back(self, breaks: Sequence[_Break]) -> bool:
        """Whether the playing, after some breaks, is where it would be without them."""
        first, last = breaks[0], breaks[-1]
        if last.after.note.time - first.before.note.time > AWAY or first.pace is None:
            return False
        away = [self._onset(one.after) - self._onset(one.before) for one in breaks]
        home = abs(sum(away)) <= HOME * max(map(abs, away))
        return home and self._is_straight(first.before, last.after, 0.0, first.pace)

    def _is_trill(self, before: Step) -> bool:
        """Whether all that was played from some chords before a break on are a few keys by
        turns."""
        keys: set[int] = set()
        chords = FLOWING
        for one in reversed(self._steps):
            keys.add(one.note.pitch)
            if one.note.time <= before.note.time:
                chords -= one.move == ADVANCE
            if not chords:
                break
        return len(keys) <= FEW

    def _ways(self, before: Step, step: Step) -> Iterator[float]:
        """How many quarters lie between two steps, as it is written: straight on, and by a sign
        that leads from one bar to another."""
        here, there = self._cluster(before), self._cluster(step)
        yield self._onsets[there] - self._onsets[here]
        for (end, begin), length in self._leads.items():
            if here - 1 <= end and begin <= there + 1:
                on = self._onsets[end] - self._onsets[here]
                yield on + length + self._onsets[there] - self._onsets[begin]

    def _written(self, before: Step, step: Step) -> float:
        """How many quarters are written between a step and the next one: until what comes next
        where that was not played."""
        if step.move == ADVANCE:
            return min((way for way in self._ways(before, step) if way > 0), default=0.0)
        return self._after(before) - self._onset(before)

    def _pace_of(self, first: Step, last: Step) -> float | None:
        """Seconds a quarter from one step on to another."""
        way = self._onset(last) - self._onset(first)
        return (last.note.time - first.note.time) / way if way > 0 else None

    def _is_over(self, step: Step) -> bool:
        """Whether the piece was over with a step, give or take a few chords."""
        return any(0 <= end - self._cluster(step) <= SLACK for end in self._ends)

    def _cluster(self, step: Step) -> int:
        return int(self._lattice.place[step.column])

    def _onset(self, step: Step) -> float:
        return self._onsets[self._cluster(step)]

    def _after(self, step: Step) -> float:
        """The position (ql) of the chord after a step's, the end of the piece after the last."""
        at = self._cluster(step) + 1
        return self._onsets[at] if at < len(self._onsets) else float(self._score.end)

    def _exact(self, step: Step) -> Fraction:
        return exact(self._onset(step))


def _leads(
    score: Score, route: Sequence[int], onsets: Sequence[float]
) -> Iterator[tuple[tuple[int, int], float]]:
    """Where signs lead from one bar to another than the next: the chords before and after it, by
    their index, and the quarters that lie between them."""
    for here, there in pairwise(route):
        if there != here + 1:
            end = bisect_left(onsets, float(score.bars[here].end)) - 1
            begin = bisect_left(onsets, float(score.bars[there].start))
            if end >= 0 and begin < len(onsets):
                rest = float(score.bars[here].end) - onsets[end]
                yield (end, begin), rest + onsets[begin] - float(score.bars[there].start)


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
