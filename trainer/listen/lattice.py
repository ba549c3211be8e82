"""The alignment: how cheaply can what was played be explained, up to this note? Pure.

A *story* says how the notes so far came about: it begins at a start, goes on from chord to chord,
and pays for what goes wrong. The chords of the piece, in a row, are the *columns*; a column keeps
the cheapest story that ends there. Each note moves all stories at once. Six rows stand one behind
the other in one long array: stories that begin where it was asked, and stories that begin at any
start; of both hands, of the right alone, of the left alone. So what was asked can be compared
with everything else at every moment. A whole piece is followed in the first three rows alone.

Only columns that hold the note's pitch can do better than "one note too many"; a step adds one
price everywhere and then looks at these columns. The work for a note does not grow with time.

The moves are those of students as in Nakamura et al., arXiv 1404.2313: the next note, one of the
chord before that comes late, one too many, chords left out, back by a few, from the top again, on
from elsewhere, not begun yet.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict, deque
from dataclasses import dataclass
from itertools import accumulate
from typing import TYPE_CHECKING, Any

import numpy as np

from trainer.listen.model import SURE

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from numpy.typing import NDArray

    from trainer.listen.model import Costs, Hands, Waiting

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

FAR = 1e6  # a price that no story has
HANDS: tuple[Hands, ...] = ("both", "right", "left")

# The moves. A column that is not touched stayed where it was: one note too many.
EXTRA, MATCH, AGAIN, ADVANCE, BACK, RESTART, JUMP, START, LATE, FREE = range(10)

AHEAD, BEHIND = 4, 3  # how many columns a story may go on or back at once
NEAR = 12  # columns from a start within which one that was not asked begins again
SKIPS = 4  # columns at a start of which all but the last may be left out
PRE_MOST = 8  # foreign notes before a pause that count as a false start
NOTES = 62  # notes of one chord that are told apart
DEARER = 1.0  # how much a jump costs at least beyond beginning again, that may sound the same
TOGETHER = 0.1  # seconds within which notes are of the chord that ends a pause
REACH = 4.0  # quarter notes after a start within which one hand's first note has to come

# What a note can do to a story that ends in or near its column, and from how far that comes.
_KINDS = np.array([MATCH] + [ADVANCE] * AHEAD + [BACK] * BEHIND + [START])
_AWAY = np.array([0, *(-k for k in range(1, AHEAD + 1)), *range(1, BEHIND + 1), 0])
_AHEAD = slice(1, 1 + AHEAD)
AROUND = [(k, j) for k in range(AHEAD) for j in range(AHEAD) if k + j < AHEAD]
_BEHIND = slice(1 + AHEAD, 1 + AHEAD + BEHIND)


@dataclass(frozen=True)
class Places:
    """All that is known beforehand about one pitch. `columns` hold it, as `bits` of their chords;
    `ahead` is the price of leaving out what lies between, by how many columns one goes on."""

    columns: Ints
    bits: Ints
    sources: Ints  # columns a story may come from, a row for each distance on
    later: Ints  # and a row for each distance back
    ahead: Floats
    rest: Ints  # how many notes of the chord are open when this one is its first
    begin: Floats
    begin_name: Ints
    returns: Ints  # which of the columns are those of a start
    seams: Ints  # where in `returns` the rows begin
    near: Ints  # the columns near those of a start, one row for each
    own: NDArray[np.bool_]  # whether they are of the same row
    free: Ints | None  # columns where it is a grace note
    leads: tuple[tuple[int, int, float], ...]  # which column a sign leads to, from which, its price


class Lattice:
    """What does not change while listening: all columns, in six rows one behind the other; without
    `others` in the three of stories that begin where it was asked.

    `leads` are the chords, by their index, before and after each place where the score leads to
    another bar than the next; such a way costs what going on costs.
    """

    def __init__(
        self,
        waiting: Waiting,
        asked: str,
        costs: Costs,
        upbeat: float,
        *,
        leads: Iterable[tuple[int, int]] = (),
        others: bool = True,
    ) -> None:
        self.costs, self.waiting = costs, waiting
        self._leads, self._others = tuple(leads), others
        self.names = [entry.id for entry in waiting.entries]
        self.asked = self.names.index(asked)
        self._lay(upbeat)
        self.n = len(self._sizes)
        self.sizes = np.array(self._sizes)
        self.place = np.array(self._place)  # the index of the column's cluster
        self.row = np.array(self._row)
        self.begin = np.full(self.n, FAR)
        self.begin_name = np.full(self.n, -1)
        for column, price, number in self._begin:
            if price < self.begin[column]:
                self.begin[column], self.begin_name[column] = price, number
        self.entry = np.full(self.n, -1)  # the start that a column is the first of
        self.home = np.full((2 * len(HANDS), len(self.names)), self.n)
        for column, number in self._homes:
            self.home[self.row[column], number] = column
            if self.entry[column] < 0 or number == self.asked:
                self.entry[column] = number
        self.any_from = self.rows[len(HANDS)][0] if others else self.n
        self._known = {pitch: self._places(pitch) for pitch in {*self._where, *self._free}}

    def _lay(self, upbeat: float) -> None:
        """Put the rows down one behind the other, with walls that no story walks through."""
        self.rows: list[tuple[int, int]] = []
        self._sizes, self._place, self._row = [0] * AHEAD, [-1] * AHEAD, [-1] * AHEAD
        self._where: dict[int, list[tuple[int, int]]] = defaultdict(list)
        self._free: dict[int, set[int]] = defaultdict(set)
        self._begin: list[tuple[int, float, int]] = []
        self._homes: list[tuple[int, int]] = []
        for only_asked in (True, False) if self._others else (True,):
            for hands in HANDS:
                self._lay_row(hands, only_asked, upbeat)
                self._sizes += [0] * AHEAD
                self._place += [-1] * AHEAD
                self._row += [-1] * AHEAD

    def _lay_row(self, hands: Hands, only_asked: bool, upbeat: float) -> None:
        clusters, base = self.waiting.clusters, len(self._sizes)
        kept = [i for i, cluster in enumerate(clusters) if cluster.of(hands)]
        for column, i in enumerate(kept, start=base):
            pitches = clusters[i].of(hands)[:NOTES]
            for bit, pitch in enumerate(pitches):
                self._where[pitch].append((column, 1 << bit))
            for pitch in clusters[i].free:
                self._free[pitch].update({column, max(base, column - 1)})
            self._sizes.append(len(pitches))
        self._place += kept
        self._row += [len(self.rows)] * len(kept)
        self.rows.append((base, len(self._sizes)))
        onsets = [clusters[i].onset for i in kept]
        extra = self.costs.hand if hands != "both" else 0.0
        for number, entry in enumerate(self.waiting.entries):
            onset = clusters[entry.at].onset
            home = bisect_left(onsets, onset)
            if home >= len(kept) or onsets[home] > onset + REACH:
                continue
            self._homes.append((base + home, number))
            if only_asked and number != self.asked:
                continue
            left_out = [0, *accumulate(self._sizes[base + home :][:SKIPS])]
            for k in range(min(SKIPS, len(kept) - home)):
                price = extra + self.costs.miss * left_out[k] + self.costs.skip_start * (k > 0)
                self._begin.append((base + home + k, price, number))
            if number == self.asked:
                self._begin += [
                    (base + column, extra + self.costs.upbeat, number)
                    for column in range(bisect_left(onsets, onset - upbeat - 1e-9), home)
                ]

    def places(self, pitch: int) -> Places | None:
        """What is known of a pitch; None where the piece has no such note."""
        return self._known.get(pitch)

    def _places(self, pitch: int) -> Places:
        found = self._where.get(pitch, [])
        columns = np.array([column for column, _ in found], dtype=np.int64)
        bits = np.array([bit for _, bit in found], dtype=np.int64)
        before = np.concatenate([[0], np.cumsum(self.sizes)])
        on = np.arange(1, AHEAD + 1)[:, None]
        sources = columns - on
        passed = before[columns] - before[sources + 1]
        returns = np.flatnonzero(self.entry[columns] >= 0)
        near = np.minimum(columns[returns, None] + np.arange(NEAR), self.n - 1)
        free = self._free.get(pitch)
        return Places(
            columns=columns,
            bits=bits,
            sources=sources,
            later=columns + np.arange(1, BEHIND + 1)[:, None],
            ahead=self.costs.miss * passed + self.costs.skip * (on - 1),
            rest=self.sizes[columns] - 1,
            begin=self.begin[columns],
            begin_name=self.begin_name[columns],
            returns=returns,
            seams=np.searchsorted(columns[returns], [first for first, _ in self.rows]),
            near=near,
            own=self.row[near] == self.row[columns[returns]][:, None],
            free=None if free is None else np.array(sorted(free)),
            leads=tuple(self._led(columns, before)),
        )

    def _led(self, columns: Ints, before: Ints) -> Iterator[tuple[int, int, float]]:
        """Which of some columns a sign leads to, from which column, and the price of what is left
        out around the sign. `before` counts the notes before each column."""
        costs = self.costs
        number = {int(column): i for i, column in enumerate(columns)}
        for first, last in self.rows if self._leads else ():
            places = self.place[first:last]
            for end, begin in self._leads:
                left = first + int(np.searchsorted(places, end, side="right")) - 1
                to = first + int(np.searchsorted(places, begin))
                for k, j in AROUND:
                    if (
                        left - k >= first
                        and to + j < last
                        and (i := number.get(to + j)) is not None
                    ):
                        passed = (
                            before[left + 1] - before[left + 1 - k] + before[to + j] - before[to]
                        )
                        yield i, left - k, costs.miss * float(passed) + costs.skip * (k + j)


@dataclass(frozen=True)
class Change:
    """What one note did: the columns whose story moved, how, and from where; the columns where
    it came late; those where it was free."""

    columns: Ints
    moves: Ints
    sources: Ints
    late: Ints
    free: Ints | None

    def back(self, columns: Ints) -> Ints:
        """The columns that the stories of some columns came from, -1 for those that began."""
        if not len(self.columns):
            return columns
        place = np.minimum(np.searchsorted(self.columns, columns), len(self.columns) - 1)
        return np.where(self.columns[place] == columns, self.sources[place], columns)

    def at(self, column: int) -> tuple[int, int]:
        """The move that led to a column, and the column it came from; -1 for none."""
        if _holds(self.columns, column):
            place = int(np.searchsorted(self.columns, column))
            return int(self.moves[place]), int(self.sources[place])
        if _holds(self.late, column):
            return LATE, column
        free = self.free is not None and _holds(self.free, column)
        return (FREE if free else EXTRA), column


def _holds(columns: Ints, column: int) -> bool:
    place = int(np.searchsorted(columns, column))
    return place < len(columns) and int(columns[place]) == column


_NONE = np.zeros(0, dtype=np.int64)


class Track:
    """The stories so far. With `keep` it can be told how each came about."""

    def __init__(self, lattice: Lattice, *, keep: bool = False) -> None:
        n = lattice.n
        self.lattice = lattice
        self.cost = np.full(n, FAR)
        self.mask = np.zeros(n, dtype=np.int64)  # which notes of the chord were struck
        self.mask1 = np.full(n, -1, dtype=np.int64)  # and of the chord before it
        self.left = np.zeros(n, dtype=np.int64)  # how many of the chord were not
        self.name = np.full(n, -1)  # the start where the story began
        self.floor = np.zeros(n, dtype=np.int64)  # and its column
        self.when = np.zeros(n)  # the seconds at which the chord was reached
        self.count = 0
        self.weight = 0.0  # the sum of the notes' chances
        self.changes: list[Change] | None = [] if keep else None
        self._before_pause = -1.0  # the notes, by their chances, before the last early pause
        self._resumed = -FAR  # the seconds at which the last pause was over
        self._last, self._last_pitch = 0.0, -1
        self._steps: deque[float] = deque(maxlen=7)  # seconds between the latest notes

    def keep_from(self, number: int, column: int) -> None:
        """Of all stories only those that stood in a column after so many of the kept changes are
        told on; these changes are forgotten."""
        assert self.changes is not None
        came = np.arange(self.lattice.n)
        for change in reversed(self.changes[number:]):
            came = change.back(came)
        self.cost[came != column] = FAR
        del self.changes[:number]

    def final(self) -> Floats:
        """The price of each column's story if nothing more comes."""
        price: Floats = self.cost + self.lattice.costs.end_miss * self.left
        return price

    def hear(self, pitch: int, time: float, chance: float = 1.0) -> None:
        """Move all stories on by a note, `time` in seconds. To leave out a note that was less
        than sure costs less, and such a one ends no pause and begins nothing."""
        costs, sure = self.lattice.costs, chance >= SURE
        step = time - self._last if self.count else 0.0
        paused = sure and self.count > 0 and self._is_pause(step)
        if paused:
            self._resumed = time
            if self.count <= PRE_MOST:
                self._before_pause = self.weight
        resumed = sure and time - self._resumed <= TOGETHER
        if sure and self.count and step > 0.04:
            self._steps.append(step)
        beside = self.count > 0 and step < 0.16 and 1 <= abs(pitch - self._last_pitch) <= 2
        extra = (costs.ornament if beside else costs.extra) * chance
        found = self.lattice.places(pitch)
        if found is None:
            self.cost += extra
            change = Change(_NONE, _NONE, _NONE, _NONE, None)
        else:
            change = self._move(found, time, paused, resumed, extra, sure)
        if self.changes is not None:
            self.changes.append(change)
        self.count += 1
        self.weight += chance
        if sure:
            self._last, self._last_pitch = time, pitch

    def _move(
        self, at: Places, time: float, paused: bool, resumed: bool, extra: float, sure: bool
    ) -> Change:
        costs, cost, columns, bits = self.lattice.costs, self.cost, at.columns, at.bits
        struck = self.mask[columns]
        again = (struck & bits) != 0
        prices = np.empty((len(_KINDS), len(columns)))
        # a chord struck once more after a pause is one thing, not one for each note
        once = costs.free if resumed and not paused else costs.again
        prices[0] = cost[columns] + once * again
        prices[_AHEAD] = (cost + costs.miss * self.left)[at.sources] + at.ahead
        back = (costs.back_gap if paused else costs.back) + costs.back_step * _AWAY[_BEHIND]
        within = columns >= self.floor[at.later]  # never to before where the story began
        prices[_BEHIND] = np.where(within, cost[at.later] + back[:, None], FAR)
        prices[-1] = at.begin + self._not_begun()
        kind = prices.argmin(axis=0)
        best = prices[kind, np.arange(len(columns))]
        moves, sources = _KINDS[kind], columns + _AWAY[kind]
        for number, source, price in at.leads:
            led = cost[source] + costs.miss * self.left[source] + price
            if led < best[number]:
                best[number], moves[number], sources[number] = led, ADVANCE, source
        if sure and self.count and len(at.returns):
            self._return(at, resumed, best, moves, sources)
        late, late_price = columns + 1, self._late(at, time)

        # one note too many, everywhere; and where it can be something better, that
        cost += extra
        if at.free is not None:
            cost[at.free] += costs.free - extra
        keep = (best <= cost[columns]) & (best < FAR)
        came = late_price < cost[late]
        came &= ~_in(late, columns[keep])  # the chord itself has it, and goes first
        late = late[came]
        to, source, move, bit = columns[keep], sources[keep], moves[keep], bits[keep]
        stay, start = move == MATCH, move == START
        once_more = stay & again[keep]
        near = (source < to) & (source >= to - AHEAD)  # else a sign led here
        from_before = np.where(source == to - 1, self.mask[source], np.where(near, 0, -1))
        values = (
            best[keep],
            np.where(stay, struck[keep] | bit, bit),
            np.where(stay, self.mask1[to], np.where(move == ADVANCE, from_before, -1)),
            np.where(stay, self.left[to] - ~once_more, at.rest[keep]),
            np.where(start, at.begin_name[keep], self.name[source]),
            np.where(start, to, self.floor[source]),
            np.where(stay, self.when[to], time),
        )
        cost[late] = late_price[came]
        self.mask1[late] |= bits[came]
        cost[to], self.mask[to], self.mask1[to], self.left[to] = values[:4]
        self.name[to], self.floor[to], self.when[to] = values[4:]
        if self.changes is None:
            return _NO_CHANGE
        move = np.where(once_more, AGAIN, move)
        return Change(to, move, np.where(start, -1, source), late, at.free)

    def _late(self, at: Places, time: float) -> Floats:
        """The price of the note as one of the chord before, which takes back that it was missed."""
        costs, late = self.lattice.costs, at.columns + 1
        missed = (self.mask1[late] & at.bits) == 0
        price: Floats = self.cost[late] + (costs.late - costs.miss)
        price += costs.lag * (time - self.when[late] > self._soon())
        price[~missed] = FAR
        return price

    def _return(self, at: Places, resumed: bool, best: Floats, moves: Ints, sources: Ints) -> None:
        """From the top again, and, in stories that begin where it was asked, on from another
        start."""
        lattice, costs, cost = self.lattice, self.lattice.costs, self.cost
        restart = costs.restart_gap if resumed else costs.restart
        jump = max(restart + DEARER, costs.jump_gap if resumed else costs.jump)
        entry = lattice.entry[at.columns[at.returns]]
        seams = [*at.seams.tolist(), len(at.returns)]
        for row, (first, last) in enumerate(lattice.rows[: len(HANDS)]):
            here = slice(seams[row], seams[row + 1])
            which = at.returns[here]
            if not len(which):
                continue
            cheapest = first + int(cost[first:last].argmin())
            top = entry[here] == lattice.asked
            price = cost[cheapest] + np.where(top, restart, jump)
            better = price < best[which]
            to = which[better]
            best[to], sources[to] = price[better], cheapest
            moves[to] = np.where(top[better], RESTART, JUMP)
        others = slice(seams[len(HANDS)], None)
        which = at.returns[others]
        if len(which):
            near = at.near[others]
            own = at.own[others] & (self.name[near] == entry[others][:, None])
            prices = np.where(own, cost[near], FAR)
            nearest = prices.argmin(axis=1)
            each = np.arange(len(which))
            price = prices[each, nearest] + restart
            better = price < best[which]
            to = which[better]
            best[to], sources[to] = price[better], near[each, nearest][better]
            moves[to] = RESTART

    def _not_begun(self) -> float:
        """The price of all notes so far as foreign ones before the story begins."""
        costs, before = self.lattice.costs, self._before_pause
        price = costs.pre * self.weight
        if before >= 0:
            false_start = costs.pre_gap + costs.pre_note * before
            price = min(price, false_start + costs.pre * (self.weight - before))
        return price

    def _usual(self) -> float | None:
        """The middle of the seconds between the latest notes, None where there are too few."""
        if len(self._steps) < 2:
            return None
        return sorted(self._steps)[len(self._steps) // 2]

    def _is_pause(self, step: float) -> bool:
        """Whether so many seconds are a pause in what was played lately."""
        usual = self._usual()
        return step >= (0.8 if usual is None else max(0.3, 2.2 * usual))

    def _soon(self) -> float:
        """The grace time, in seconds, for a late note of the previous chord."""
        usual = self._usual()
        return 0.2 if usual is None else 0.6 * usual


_NO_CHANGE = Change(_NONE, _NONE, _NONE, _NONE, None)


def _in(some: Ints, others: Ints) -> Any:
    """Which of some columns are among others; both in order."""
    if not len(others):
        return np.zeros(len(some), dtype=bool)
    place = np.minimum(np.searchsorted(others, some), len(others) - 1)
    return others[place] == some
