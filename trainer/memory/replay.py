"""The replay of tries: those of all starts and joins side by side.

What a try does to its start follows from that start's earlier tries alone. So the first tries of
all starts are taken up together, as rows of one array, then the second ones, and so on: in turns.
Each row is reckoned by itself, and what is believed of the student is summed from the rows in the
order of their first tries, so that tries taken up one by one give the same bits as all at once.

In two cases other starts have a part. One that was split off borrows from its parent, as it stands
at that moment: its first try has the turn of the parent's next one. And the seconds before a first
note are held against what was expected of the student after all tries before: such a try waits
until those have been taken up.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from trainer.memory.curve import Law
from trainer.memory.evidence import CUES_THE_PIECE, Part, Try
from trainer.memory.grid import CELLS, LATENCY_SD, LATENCY_WEIGHT, STUDENTS, Array, grid
from trainer.memory.judges import LATE, holds, judged, otherwise
from trainer.memory.model import (
    CUED,
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
)

TOGETHER = 64  # rows whose numbers fit into a processor's nearest memory


class _Going:
    """A trace that more tries come to; `turn` is that of its next one."""

    __slots__ = ("failing", "held", "last", "last_cold", "row", "tries", "turn")

    def __init__(self, trace: Trace) -> None:
        self.row, self.last, self.last_cold = trace.row, trace.last, trace.last_cold
        self.tries, self.held, self.failing = trace.tries, trace.held, trace.failing
        self.turn = 0

    def trace(self) -> Trace:
        return Trace(self.row, self.last, self.tries, self.held, self.last_cold, self.failing)


class _Block:
    """Tries that can be taken up in turns: for each its turn, row, days since the last one, and
    the kind of word on it. `born` are the rows that begin, `lent` those of them that borrow, by the
    turn of that, with the lender's row; `going` are all traces that it changes."""

    def __init__(self) -> None:
        self.turns: list[int] = []
        self.rows: list[int] = []
        self.days: list[float] = []
        self.kinds: list[int] = []
        self.born: list[int] = []
        self.lent: dict[int, list[tuple[int, int]]] = {}
        self.going: list[_Going] = []


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
        self._kinds: dict[object, int] = {}
        self._words: list[tuple[float, ...]] = []  # what each kind says, see `_word`
        self._latency = before.latency
        self._confusions = dict(before.confusions)
        self._lenders = dict(before.lenders)
        self._spent = dict(before.spent)

    def beliefs(self) -> Beliefs:
        start, join = (Side(self._traces_of(part), self._student(part)) for part in PARTS)
        return Beliefs(
            self._law,
            start,
            join,
            self._cells.cells(),
            self._latency,
            self._confusions,
            self._lenders,
            self._spent,
        )

    def take(self, tries: Iterable[Try]) -> None:
        block = _Block()
        for one in tries:
            if (seconds := _log_seconds(one)) is not None:
                self._settle(block)
                block = _Block()
                self._time(one, seconds)
            self._note(one)
            self._enter(block, one)
        self._settle(block)

    def foretell(self, one: Try, part: Part) -> float | None:
        """The chance that this try holds, before it is taken up; None where it is the first."""
        before = self._known(part, one.start)
        if before is None:
            return None
        row = before.row
        weights = self._weights(part, row)
        r = self._grid.chance(self._cells.ln_h[row], days_between(before.last, one.attempt.at))
        return float((weights / (1 + self._grid.odds(r, _aid(one)))).sum())

    def _note(self, one: Try) -> None:
        """What is not reckoned but counted."""
        for child in one.lent:
            self._lenders[child] = one.start
        if one.confused and one.confused != one.start:
            pair = (one.start, one.confused)
            self._confusions[pair] = self._confusions.get(pair, 0) + 1
        seconds = one.attempt.seconds
        if seconds is None or not 0 < seconds <= LONGEST or one.attempt.drill in CUES_THE_PIECE:
            return  # of these drills they are the seconds of a whole piece, or of an interruption
        held = one.held()
        if held is not None:
            for key in ("", one.start):
                self._spent[key] = self._spent.get(key, Spent()).more(held, seconds)

    def _enter(self, block: _Block, one: Try) -> None:
        """Give a try its turn, and bring up to date what is counted of its start and join."""
        at = one.attempt.at
        for part in PARTS:
            held = one.held(part)
            if held is None:
                continue
            going = self._known(part, one.start)
            first = going is None
            if going is None:
                going = self._born(block, one, part)
                days = 1.0
            else:
                days = days_between(going.last, at)
                if at > going.last:
                    # what is cued or apart refreshes in part only
                    half = one.cued or one.apart
                    going.last = going.last + (at - going.last) / 2 if half else at
            block.turns.append(going.turn)
            block.rows.append(going.row)
            block.days.append(days)
            block.kinds.append(self._kind(one, part, held, first))
            if first or not going.turn:
                block.going.append(going)
            going.turn += 1
            if one.cold:
                going.tries += 1
                going.held += held
                going.last_cold = at
                going.failing = 0 if held else going.failing + 1

    def _born(self, block: _Block, one: Try, part: Part) -> _Going:
        """The trace at the first try, which counts as the first look at it. It holds what its
        lender has seen, as a weak hint."""
        going = _Going(Trace(self._cells.another(), one.attempt.at))
        self._rows[part].append(going.row)
        block.born.append(going.row)
        lender = self._known(part, self._lenders.get(one.start, ""))
        if lender:
            going.turn = lender.turn
            block.lent.setdefault(lender.turn, []).append((going.row, lender.row))
        self._going[part][one.start] = going
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

    def _kind(self, one: Try, part: Part, held: bool, first: bool) -> int:
        """Which kind of word there is on a part; those of one kind say the same."""
        told = one.attempt
        late = told.latency is not None and told.latency > LATE
        key = (part, told.outcome, told.judge, late, told.heard, one.cued, one.repeat, one.apart,
               bool(told.hints), first)  # fmt: skip
        kind = self._kinds.get(key)
        if kind is None:
            kind = self._kinds[key] = len(self._words)
            self._words.append(self._word(one, part, held, first))
        return kind

    def _word(self, one: Try, part: Part, held: bool, first: bool) -> tuple[float, ...]:
        """What a kind of word says, in numbers: the cuts of the grade that was told and whether
        it is a failure; the same of how it may have gone instead, and how many times as likely
        the word is then; the logits that help gave; how much of it is evidence, and how much
        of a cold try's change of the half-life it brings.

        A start that holds the first time was learned before: a look, and a day of forgetting.
        """
        grade, (other, times) = (
            judged(one.attempt, part),
            (otherwise(one.attempt, part) or ("failed", 0.0)),
        )
        weight = WEIGHT_CUED if one.cued else WEIGHT_REPEAT if one.repeat else 1.0
        weight *= WEIGHT_APART if one.apart else 1.0
        share = (0.5 if one.apart else 1.0) if one.fresh else 0.0
        if first:
            weight, share = (WEIGHT_FIRST * weight, 1.0) if held and one.fresh else (0.0, 0.0)
        return (
            *self._grid.cuts[grade], not holds(grade),
            *self._grid.cuts[other], not holds(other), times,
            _aid(one), weight, share,
        )  # fmt: skip

    def _settle(self, block: _Block) -> None:
        """Take up the tries of a block."""
        if not block.rows:
            return
        cells = self._cells
        cells.grow()
        cells.ln_h[block.born], cells.seen[block.born] = self._grid.ln_fresh, 0.0
        words = np.array(self._words, dtype=np.float64).T[..., None, None, None]
        turns, rows = np.array(block.turns), np.array(block.rows)
        days, kinds = np.array(block.days)[:, None, None, None], np.array(block.kinds)
        order = np.argsort(turns, kind="stable")
        done = 0
        for turn, end in enumerate(np.cumsum(np.bincount(turns)).tolist()):
            for row, lender in block.lent.get(turn, ()):
                cells.seen[row] = WEIGHT_LENT * cells.seen[lender]
            for begin in range(done, end, TOGETHER):
                some = order[begin : min(begin + TOGETHER, end)]
                self._turn(rows[some], days[some], words[:, kinds[some]])
            done = end
        changed = np.array([going.row for going in block.going])
        cells.evidence[changed] = self._grid.evidence(cells.seen[changed])
        for going in block.going:
            going.turn = 0

    def _turn(self, rows: Array, days: Array, words: Array) -> None:
        """The next try of each of these rows."""
        space, cells = self._grid, self._cells
        low, high, fails, low_2, high_2, fails_2, times, aid, weight, share = words
        ln_h = cells.ln_h[rows]
        r = space.chance(ln_h, days)
        against = space.odds(r, aid)
        one = space.likelihood(against, low, high)
        other = times * space.likelihood(against, low_2, high_2)
        both = one + other
        failed = (fails * one + fails_2 * other) / both
        cells.seen[rows] += weight * np.log(both)
        cells.ln_h[rows] = ln_h + share * space.moved(ln_h, r, failed)

    def _time(self, one: Try, seconds: float) -> None:
        """Count the ln seconds before a first note; the student's mean follows them."""
        before = self._known("start", one.start)
        if before is None:
            return
        space, cells, row = self._grid, self._cells, before.row
        r = space.chance(cells.ln_h[row], days_between(before.last, one.attempt.at))
        x = -np.log(space.odds(r, _aid(one)))
        mean, variance = self._latency
        noise = LATENCY_SD**2
        expected = mean - self._law.slope * float((self._weights("start", row) * x).sum())
        gain = variance / (variance + noise)
        self._latency = (mean + gain * (seconds - expected), variance * (1 - gain))
        off = seconds - (mean - self._law.slope * x)
        cells.seen[row] -= LATENCY_WEIGHT * off * off / (2 * noise)

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
                np.concatenate([a, np.empty((room - len(a), *a.shape[1:]))])
                for a in (self.ln_h, self.seen, self.evidence)
            )

    def cells(self) -> Cells:
        n = self.count
        return Cells(self.ln_h[:n], self.seen[:n], self.evidence[:n])


def _aid(one: Try) -> float:
    return HINTED * bool(one.attempt.hints) + CUED * one.cued


def _log_seconds(one: Try) -> float | None:
    """ln of the seconds that memory took, where an instrument was heard to begin right."""
    latency = one.attempt.latency
    if latency is None or not one.cold or not one.held() or not 0 <= latency <= INTERRUPTED:
        return None
    return math.log(max(latency - 0.5, NOT_THERE))


def sides(
    law: Law, traces: Sequence[dict[str, Trace]], ln_h: Array, seen: Array
) -> tuple[Side, Side, Cells]:
    """All that follows from traces and cells."""
    space = grid(law)
    evidence = space.evidence(seen)
    start, join = (
        Side(some, space.student_after(evidence[[trace.row for trace in some.values()]]))
        for some in traces
    )
    return start, join, Cells(ln_h, seen, evidence)
