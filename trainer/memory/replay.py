"""The replay of tries: those of all starts and joins side by side.

What a try does to its start follows from that start's earlier tries alone. So the first tries of
all starts are taken up together, as rows of one array, then the second ones, and so on: in turns.
Each row is reckoned by itself, and what is believed of the student is summed from the rows in the
order of their first tries, so that tries taken up one by one give the same bits as all at once.

In two cases other starts have a part. One that was split off borrows from its parent, as it stands
at that moment: its first try has the turn of the parent's next one. And the seconds before a first
note are held against the student's pace as it was known in the morning: with a day on which there
are such seconds a new block of turns begins.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date
from typing import NamedTuple

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from trainer.memory.curve import Law
from trainer.memory.evidence import CUES_THE_PIECE, RUN, Part, Try
from trainer.memory.grid import (
    CELLS,
    LATENCY_SD,
    LATENCY_WEIGHT,
    STUDENTS,
    Array,
    Grid,
    grid,
    spans,
)
from trainer.memory.judges import LATE, holds, judged, otherwise
from trainer.memory.model import (
    CUED,
    DAY,
    HINTED,
    INTERRUPTED,
    LONGEST,
    NOT_THERE,
    PARTS,
    WEIGHT_APART,
    WEIGHT_CUED,
    WEIGHT_FIRST,
    WEIGHT_LENT,
    WEIGHT_REPEAT,
    Beliefs,
    Cells,
    Side,
    Spent,
    Trace,
    days_between,
    likely,
)

Places = NDArray[np.intp]
CELL = (np.newaxis,) * len(CELLS)  # a number for all cells


class _Going:
    """A trace that more tries come to; `turn` is that of its next one."""

    __slots__ = ("failing", "held", "last", "last_cold", "row", "tries", "turn")

    def __init__(self, trace: Trace) -> None:
        self.row, self.last, self.last_cold = trace.row, trace.last, trace.last_cold
        self.tries, self.held, self.failing = trace.tries, trace.held, trace.failing
        self.turn = 0

    def trace(self) -> Trace:
        return Trace(self.row, self.last, self.tries, self.held, self.last_cold, self.failing)


class _Said(NamedTuple):
    """What tries of one kind say: whether the start held, None where they do not say; and of each
    part that they observe whether it held, and the numbers of two words on it (see `_Words`): the
    one for a first try and the one for later."""

    held: bool | None
    parts: tuple[tuple[Part, bool, int, int], ...]


class _Words:
    """The words that are said of tries, as rows of numbers: the cuts of the grade that was told and
    whether it is a failure; the same of how it may have gone instead, and how many times as likely
    the word is then; the logits that help gave; how much of it is evidence, and how much of a cold
    try's change of the half-life it brings."""

    def __init__(self, space: Grid) -> None:
        self._grid = space
        self._said: dict[object, _Said] = {}
        self._words: list[tuple[float, ...]] = []
        self._rows = np.empty((0, 10))

    def rows(self, numbers: Sequence[int]) -> Array:
        """Those of some words, (n, 10)."""
        if len(self._words) > len(self._rows):
            more = np.array(self._words[len(self._rows) :], dtype=np.float64)
            self._rows = np.concatenate([self._rows, more])
        return np.asarray(self._rows[np.array(numbers, dtype=np.intp)])

    def said(self, one: Try) -> _Said:
        """What a try says; those of one kind say the same."""
        told = one.attempt
        late = told.latency is not None and told.latency > LATE
        untold = told.drill == RUN and one.held() is None
        key = (told.outcome, told.judge, told.drill, told.heard, late, untold, one.cued, one.repeat,
               bool(told.hints))  # fmt: skip
        said = self._said.get(key)
        if said is None:
            parts = tuple(
                (part, held, self._new(one, part, held, True), self._new(one, part, held, False))
                for part in PARTS
                if (held := one.held(part)) is not None
            )
            said = self._said[key] = _Said(one.held(), parts)
        return said

    def _new(self, one: Try, part: Part, held: bool, first: bool) -> int:
        """A start that holds the first time was learned before: a look, and a day of forgetting.
        Of one that does not hold nothing is known but the look."""
        grade = judged(one.attempt, part)
        other, times = otherwise(one.attempt, part) or ("failed", 0.0)
        weight = WEIGHT_CUED if one.cued else WEIGHT_REPEAT if one.repeat else 1.0
        weight *= WEIGHT_APART if one.apart else 1.0
        share = (0.5 if one.apart else 1.0) if one.fresh else 0.0
        if first:
            weight, share = (WEIGHT_FIRST * weight, 1.0) if held and one.fresh else (0.0, 0.0)
        self._words.append((
            *self._grid.cuts[grade], not holds(grade),
            *self._grid.cuts[other], not holds(other), times,
            _aid(one), weight, share,
        ))  # fmt: skip
        return len(self._words) - 1


class _Block:
    """Tries that can be taken up in turns: of each its turn, row, days since the last one, the word
    on it, and ln seconds before the first note, not a number where they do not count. `born` are
    the rows that begin, `lent` those of them that borrow, by the turn of that, with the lender's
    row. First tries with the same word leave the same behind: `alike` has the first row for each
    word, `others` all more with that row. `going` are all traces that change."""

    def __init__(self) -> None:
        self.turns: list[int] = []
        self.rows: list[int] = []
        self.days: list[float] = []
        self.words: list[int] = []
        self.seconds: list[float] = []
        self.born: list[int] = []
        self.lent: dict[int, list[tuple[int, int]]] = {}
        self.alike: dict[int, int] = {}
        self.others: list[tuple[int, int]] = []
        self.going: list[_Going] = []

    def enter(self, going: _Going, days: float, word: int, seconds: float) -> None:
        self.turns.append(going.turn)
        self.rows.append(going.row)
        self.days.append(days)
        self.words.append(word)
        self.seconds.append(seconds)


class Replay:
    """Takes up tries, oldest first, in arrays of its own."""

    def __init__(self, before: Beliefs) -> None:
        self._law = before.law
        self._grid = grid(before.law)
        self._cells = _Rows(before.cells)
        self._traces: dict[Part, dict[str, Trace]] = {}
        for part in PARTS:
            side = before.side(part)
            self._traces[part] = dict(side.traces) if side else {}
        self._going: dict[Part, dict[str, _Going]] = {part: {} for part in PARTS}
        self._rows = {part: [t.row for t in self._traces[part].values()] for part in PARTS}
        self._words = _Words(self._grid)
        self._pace = before.pace
        self._confusions = dict(before.confusions)
        self._lenders = dict(before.lenders)
        self._spent = before.spent
        self._took: dict[str, list[float]] = {}  # see `_took`

    def beliefs(self) -> Beliefs:
        start, join = (Side(self._traces_of(part), self._student(part)) for part in PARTS)
        return Beliefs(
            self._law,
            start,
            join,
            self._cells.cells(),
            self._pace,
            self._confusions,
            self._lenders,
            self._spent | {start: _spent(took) for start, took in self._took.items()},
        )

    def take(self, tries: Iterable[Try]) -> None:
        block = _Block()
        for one in tries:
            seconds = _log_seconds(one)
            if seconds is not None and one.attempt.day != self._pace.day:
                self._settle(block)
                block = _Block()
                self._rise(one.attempt.day)
            said = self._words.said(one)
            self._note(one, said)
            self._enter(block, one, said, math.nan if seconds is None else seconds)
        self._settle(block)

    def _rise(self, day: date) -> None:
        """Keep what is known of the student on the morning of a day."""
        student = self._student("start")
        self._pace = replace(self._pace, day=day, morning=self._pace.mean, student=student)

    def foretell(self, one: Try, part: Part) -> float | None:
        """The chance that this try holds, before it is taken up; None where it is the first."""
        before = self._known(part, one.start)
        if before is None:
            return None
        row = before.row
        weights = self._weights(part, row)
        r = self._grid.chance(self._cells.ln_h[row], days_between(before.last, one.attempt.at))
        return float((weights / (1 + self._grid.odds(r, _aid(one)))).sum())

    def _note(self, one: Try, said: _Said) -> None:
        """What is not reckoned but counted."""
        for child in one.lent:
            self._lenders[child] = one.start
        if one.confused and one.confused != one.start:
            pair = (one.start, one.confused)
            self._confusions[pair] = self._confusions.get(pair, 0) + 1
        seconds = one.attempt.seconds
        if seconds is None or not 0 < seconds <= LONGEST or one.attempt.drill in CUES_THE_PIECE:
            return  # of these drills they are the seconds of a whole piece, or of an interruption
        if said.held is not None:
            for key in ("", one.start):
                took = self._took.get(key)
                if took is None:
                    took = self._took[key] = _took(self._spent.get(key, Spent()))
                place = 0 if said.held else 2
                took[place] += 1
                took[place + 1] += seconds

    def _enter(self, block: _Block, one: Try, said: _Said, seconds: float) -> None:
        """Give a try its turn, and bring up to date what is counted of its start and join."""
        at, start = one.attempt.at, one.start
        for part, held, first, later in said.parts:
            going = self._known(part, start)
            if going is None:
                going = self._born(block, one, part)
                alike = None if going.turn else block.alike.setdefault(first, going.row)
                if alike in (None, going.row):
                    block.enter(going, 1.0, first, math.nan)
                else:
                    block.others.append((going.row, alike))
            else:
                if not going.turn:
                    block.going.append(going)
                days = (at - going.last) / DAY
                if days > 0:  # what is cued or apart refreshes in part only
                    half = one.cued or one.apart
                    going.last = going.last + (at - going.last) / 2 if half else at
                else:  # a clock that went back counts as no time at all
                    days = 0.0
                block.enter(going, days, later, seconds if part == "start" else math.nan)
            going.turn += 1
            if one.cold:
                going.tries += 1
                going.last_cold = at
                if held:
                    going.held += 1
                    going.failing = 0
                else:
                    going.failing += 1

    def _born(self, block: _Block, one: Try, part: Part) -> _Going:
        """The trace at the first try, which counts as the first look at it. It holds what its
        lender has seen, as a weak hint."""
        going = _Going(Trace(self._cells.another(), one.attempt.at))
        self._rows[part].append(going.row)
        self._going[part][one.start] = going
        block.born.append(going.row)
        block.going.append(going)
        lender = self._known(part, self._lenders.get(one.start, ""))
        if lender:
            going.turn = lender.turn
            block.lent.setdefault(lender.turn, []).append((going.row, lender.row))
        return going

    def _known(self, part: Part, start: str) -> _Going | None:
        going = self._going[part]
        found = going.get(start)
        if found is None and (trace := self._traces[part].get(start)):
            found = going[start] = _Going(trace)
        return found

    def _traces_of(self, part: Part) -> dict[str, Trace]:
        return self._traces[part] | {
            start: going.trace() for start, going in self._going[part].items()
        }

    def _settle(self, block: _Block) -> None:
        """Take up the tries of a block."""
        if not block.going:
            return
        cells = self._cells
        cells.grow()
        cells.ln_h[block.born], cells.seen[block.born] = self._grid.ln_fresh, 0.0
        turns = np.array(block.turns, dtype=np.intp)
        order = np.argsort(turns, kind="stable")
        rows, days = np.array(block.rows, dtype=np.intp)[order], np.array(block.days)[order]
        words, seconds = self._words.rows(block.words)[order], np.array(block.seconds)[order]
        logits = np.empty(order.size)
        done = 0
        for turn, end in enumerate(np.cumsum(np.bincount(turns)).tolist()):
            for row, lender in block.lent.get(turn, ()):
                cells.seen[row] = WEIGHT_LENT * cells.seen[lender]
            for some in spans(end, done):
                logits[order[some]] = self._turn(rows[some], days[some], words[some], seconds[some])
            if not turn:
                self._liken(block.others)
            done = end
        self._follow(block.seconds, logits)
        changed = [going.row for going in block.going]
        for some in spans(len(changed)):
            cells.evidence[changed[some]] = self._grid.evidence(cells.seen[changed[some]])
        for going in block.going:
            going.turn = 0

    def _liken(self, others: Sequence[tuple[int, int]]) -> None:
        """Let rows be what others are."""
        cells = self._cells
        for some in spans(len(others)):
            rows, alike = np.array(others[some]).T
            cells.ln_h[rows], cells.seen[rows] = cells.ln_h[alike], cells.seen[alike]

    def _turn(self, rows: Places, days: Array, words: Array, seconds: Array) -> Array:
        """The next try of each of these rows; gives the logits that were expected of those whose
        seconds count."""
        space, cells = self._grid, self._cells
        low, high, fails, low_2, high_2, fails_2, times, aid, weight, share = words.T[..., *CELL]
        ln_h, seen = cells.ln_h[rows], cells.seen[rows]
        r = space.chance(ln_h, days[:, *CELL])
        against = space.odds(r, aid)
        one = space.likelihood(against, low, high)
        other = space.likelihood(against, low_2, high_2)
        other *= times
        both = one + other
        one *= fails
        other *= fails_2
        one += other
        one /= both  # the chance that it failed
        moved = space.moved(ln_h, r, one)
        moved *= share
        np.log(both, out=both)
        both *= weight
        logits = np.zeros(len(rows))
        timed = np.flatnonzero(~np.isnan(seconds))
        if timed.size:
            x = -np.log(against[timed])
            logits[timed] = self._expected(seen[timed], x)
            both[timed] -= self._surprise(seconds[timed][:, *CELL], x)
        both += seen
        ln_h += moved
        cells.seen[rows], cells.ln_h[rows] = both, ln_h
        return logits

    def _expected(self, seen: Array, x: Array) -> Array:
        """The means of logits x, as much as was known of the student in the morning."""
        assert self._pace.student is not None, "seconds count from a morning on"
        each = self._grid.by_student(seen, x)
        return np.asarray((each * likely(self._pace.student)).sum(axis=(-3, -2, -1)))

    def _surprise(self, seconds: Array, x: Array) -> Array:
        """By how much ln seconds speak against each cell, with their logits x."""
        off = seconds - (self._pace.morning - self._law.slope * x)
        return np.asarray(LATENCY_WEIGHT * off * off / (2 * LATENCY_SD**2))

    def _follow(self, seconds: Sequence[float], logits: Array) -> None:
        """The student's pace after ln seconds and the logits that were expected for them."""
        mean, variance = self._pace.mean, self._pace.variance
        for place in np.flatnonzero(~np.isnan(seconds)).tolist():
            gain = variance / (variance + LATENCY_SD**2)
            expected = mean - self._law.slope * float(logits[place])
            mean += gain * (seconds[place] - expected)
            variance *= 1 - gain
        self._pace = replace(self._pace, mean=mean, variance=variance)

    def _weights(self, part: Part, row: int) -> Array:
        cells = self._cells
        return self._grid.weights(self._student(part), cells.evidence[row], cells.seen[row])

    def _student(self, part: Part) -> Array:
        return self._grid.student_after(self._cells.evidence[self._rows[part]])


class _Rows:
    """The cells of all traces, with room for more."""

    def __init__(self, cells: Cells | None) -> None:
        self.count = len(cells.seen) if cells else 0
        shapes = (CELLS, CELLS, STUDENTS)
        self.ln_h, self.seen, self.evidence = (np.empty((self.count, *shape)) for shape in shapes)
        if cells:
            self.ln_h[:], self.seen[:], self.evidence[:] = cells.ln_h, cells.seen, cells.evidence

    def another(self) -> int:
        self.count += 1
        return self.count - 1

    def grow(self) -> None:
        """Make room for all that were asked for."""
        if self.count > len(self.seen):
            room = max(self.count, 2 * len(self.seen))
            self.ln_h, self.seen, self.evidence = (
                _longer(one, room) for one in (self.ln_h, self.seen, self.evidence)
            )

    def cells(self) -> Cells:
        n = self.count
        return Cells(self.ln_h[:n], self.seen[:n], self.evidence[:n])


def _longer(rows: Array, room: int) -> Array:
    longer = np.empty((room, *rows.shape[1:]))
    longer[: len(rows)] = rows
    return longer


def _took(spent: Spent) -> list[float]:
    """The numbers of tries, and their seconds, to be added to."""
    return [spent.held, spent.held_seconds, spent.failed, spent.failed_seconds]


def _spent(took: Sequence[float]) -> Spent:
    held, held_seconds, failed, failed_seconds = took
    return Spent(int(held), held_seconds, int(failed), failed_seconds)


def _aid(one: Try) -> float:
    return HINTED * bool(one.attempt.hints) + CUED * one.cued


def _log_seconds(one: Try) -> float | None:
    """ln of the seconds that memory took, where an instrument was heard to begin right."""
    latency = one.attempt.latency
    if latency is None or not one.cold or not one.held() or not 0 <= latency <= INTERRUPTED:
        return None
    return math.log(max(latency - 0.5, NOT_THERE))


def sides(
    law: Law, traces: Sequence[dict[str, Trace]], places: Places, kept: Array
) -> tuple[Side, Side, Cells]:
    """All that follows from traces and from `ln_h` and `seen` as they are kept, (m, 2, 11, 3, 3),
    where the trace of each row has its place among these."""
    space = grid(law)
    cells = Cells(kept[places, 0], kept[places, 1], space.evidence(kept[:, 1])[places])
    start, join = (
        Side(some, space.student_after(cells.evidence[[trace.row for trace in some.values()]]))
        for some in traces
    )
    return start, join, cells
