"""The alignment: how cheaply can what was played be explained, up to this note? Pure.

A *story* says how the notes so far came about: it begins at a start, goes on from chord to chord,
and pays for what goes wrong. The chords of the piece, in a row, are the *columns*; a column keeps
the cheapest story that ends there. Each note moves all stories at once. Six rows stand one behind
the other in one long array: stories that begin where it was asked, and stories that begin at any
start; of both hands, of the right alone, of the left alone. So what was asked can be compared
with everything else at every moment.

Only columns that hold the note's pitch can do better than "one note too many"; a step adds one
price everywhere and then looks at these columns. The work for a note does not grow with time.

The moves are those of students as in Nakamura et al., arXiv 1404.2313: the next note, one of the
chord before that comes late, one too many, chords left out, back by a few, from the top again, on
from elsewhere, not begun yet.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from trainer.listen.model import Costs, Hands, Waiting

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

FAR = 1e6  # a price that no story has

# The moves. A column that is not touched stayed where it was: one note too many.
EXTRA, MATCH, AGAIN, ADVANCE, BACK, RESTART, JUMP, START, LATE, FREE = range(10)

AHEAD, BEHIND = 4, 3  # how many columns a story may go on or back at once
NEAR = 12  # columns from a start within which one that is no longer asked begins again
PRE_MOST = 8  # foreign notes before a stop that count as a false start


HANDS: tuple[Hands, ...] = ("both", "right", "left")


class Lattice:
    """What does not change while listening: all columns, in six rows one behind the other."""

    def __init__(self, waiting: Waiting, asked: str, costs: Costs, upbeat: float) -> None:
        self.costs, self.waiting = costs, waiting
        self.names = [entry.id for entry in waiting.entries]
        self.asked = self.names.index(asked)
        where: dict[int, list[tuple[int, int]]] = {}
        frees: dict[int, set[int]] = {}
        # walls, so that no story walks from one row into the next
        sizes = [0] * AHEAD
        place = [-1] * AHEAD  # the index of the column's cluster
        self.rows: list[tuple[int, int]] = []
        begin: list[tuple[int, float, int]] = []
        homes: list[tuple[int, int]] = []
        self.asked_home: list[int] = []
        for asked_row in (True, False):
            for hands in HANDS:
                base = len(sizes)
                kept = [i for i, cluster in enumerate(waiting.clusters) if cluster.of(hands)]
                for i in kept:
                    column = len(sizes)
                    cluster = waiting.clusters[i]
                    pitches = cluster.of(hands)
                    for bit, pitch in enumerate(pitches):
                        where.setdefault(pitch, []).append((column, 1 << min(bit, 62)))
                    for pitch in cluster.free:
                        frees.setdefault(pitch, set()).update({column, max(base, column - 1)})
                    sizes.append(len(pitches))
                    place.append(i)
                self.rows.append((base, len(sizes)))
                onsets = [waiting.clusters[i].onset for i in kept]
                price = costs.hand if hands != "both" else 0.0
                sizes_here = sizes[base:]
                for number, entry in enumerate(waiting.entries):
                    onset = waiting.clusters[entry.at].onset
                    home = int(np.searchsorted(onsets, onset - 1e-9))
                    if home >= len(kept) or onsets[home] > onset + 4:
                        if asked_row and number == self.asked:
                            self.asked_home.append(-1)
                        continue
                    if asked_row and number == self.asked:
                        self.asked_home.append(base + home)
                    homes.append((base + home, number))
                    if asked_row and number != self.asked:
                        continue
                    for k in range(min(4, len(kept) - home)):
                        left_out = costs.miss * sum(sizes_here[home : home + k])
                        begin.append(
                            (base + home + k, price + left_out + costs.skip_start * (k > 0), number)
                        )
                    if number == self.asked:
                        for column, at in enumerate(onsets):
                            if onset - upbeat - 1e-9 <= at < onset - 1e-9:
                                begin.append((base + column, price + costs.upbeat, number))
                sizes += [0] * AHEAD
                place += [-1] * AHEAD
        self.n = n = len(sizes)
        self.sizes = np.array(sizes, dtype=np.int64)
        self.place = np.array(place)
        self.before = np.concatenate([[0], np.cumsum(self.sizes)])
        none = np.zeros(0, dtype=np.int64)
        self.none = (none, none)
        self.where = {
            pitch: (np.array([c for c, _ in found]), np.array([b for _, b in found]))
            for pitch, found in where.items()
        }
        self.frees = {pitch: np.array(sorted(found)) for pitch, found in frees.items()}
        self.begin = np.full(n, FAR)
        self.begin_name = np.full(n, -1)
        for column, price, number in begin:
            if price < self.begin[column]:
                self.begin[column], self.begin_name[column] = price, number
        self.entry = np.full(n, -1)
        for column, number in homes:
            if self.entry[column] < 0 or number == self.asked:
                self.entry[column] = number
        self.row = np.full(n, -1)
        for number, (first, last) in enumerate(self.rows):
            self.row[first:last] = number
        self.home = np.full((6, len(self.names) + 1), n)  # a start's own column in each row
        for column, number in homes:
            self.home[self.row[column], number] = column
        self.any_from = self.rows[3][0]


@dataclass(frozen=True)
class Change:
    """What one note did: the columns whose story moved, how, and from where; the columns where
    it came late; those where it was free."""

    columns: Ints
    moves: Ints
    sources: Ints
    late: Ints
    free: Ints | None

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


class Track:
    """The stories so far. With `keep` it can be told how each came about."""

    def __init__(self, lattice: Lattice, keep: bool = False) -> None:
        n = lattice.n
        self.lattice = lattice
        self.cost = np.full(n, FAR)
        self.mask = np.zeros(n, dtype=np.int64)  # which notes of the chord were struck
        self.mask1 = np.zeros(n, dtype=np.int64)  # and of the chord before it
        self.left = np.zeros(n, dtype=np.int64)  # how many of the chord were not
        self.name = np.full(n, -1)
        self.floor = np.zeros(n, dtype=np.int64)  # the column where the story began
        self.count = 0
        self.at_gap = -1
        self.last = 0.0
        self.last_pitch = -1
        self.steps: list[Change] | None = [] if keep else None
        self.recent: deque[float] = deque(maxlen=7)

    def not_begun(self) -> float:
        c = self.lattice.costs
        price = c.pre * self.count
        if self.at_gap >= 0:
            price = min(
                price, c.pre_gap + c.pre_note * self.at_gap + c.pre * (self.count - self.at_gap)
            )
        return price

    def pause(self, dt: float) -> bool:
        """Whether so many seconds are a pause in what was played lately."""
        if len(self.recent) < 2:
            return dt >= 0.8
        return dt >= max(0.3, 2.2 * sorted(self.recent)[len(self.recent) // 2])

    def hear(self, pitch: int, time: float) -> None:
        lat, c = self.lattice, self.lattice.costs
        dt = time - self.last if self.count else 0.0
        gap = self.count > 0 and self.pause(dt)
        if self.count and dt > 0.04:
            self.recent.append(dt)
        if gap and self.count <= PRE_MOST:
            self.at_gap = self.count
        idx, bits = lat.where.get(pitch, lat.none)
        cost, mask, left, name = self.cost, self.mask, self.left, self.name
        free = lat.frees.get(pitch)
        orn = self.count and dt < 0.16 and 1 <= abs(pitch - self.last_pitch) <= 2
        extra = c.ornament if orn else c.extra
        if len(idx):
            n = lat.n
            m = mask[idx]
            hit = (m & bits) != 0
            best = cost[idx] + c.again * hit
            src = idx.copy()
            move = np.where(hit, AGAIN, MATCH)

            def offer(price: Any, source: Any, kind: int) -> None:
                better = price < best
                np.copyto(best, price, where=better)
                np.copyto(src, source, where=better)
                move[better] = kind

            leave = cost + c.miss * left
            upto = lat.before[idx]
            for k in range(1, AHEAD + 1):
                f = idx - k
                offer(
                    leave[f] + (c.miss * (upto - lat.before[f + 1]) + c.skip * (k - 1)), f, ADVANCE
                )
            back = c.back_gap if gap else c.back
            for k in range(1, BEHIND + 1):
                f = idx + k  # the walls keep it within
                price = cost[f] + (back + c.back_step * k)
                offer(np.where(idx >= self.floor[f], price, FAR), f, BACK)
            offer(lat.begin[idx] + self.not_begun(), -1, START)
            if self.count:
                self._returns(idx, gap, best, src, move)
            # a note of the chord before
            late = idx + 1
            late_price = np.where(
                (self.mask1[late] & bits) == 0, cost[late] + (c.late - c.miss), FAR
            )
            s = np.maximum(src, 0)
            stay = move <= AGAIN
            new_mask = np.where(stay, m | bits, bits)
            onward = np.where(src == idx - 1, mask[s], 0)
            new_mask1 = np.where(stay, self.mask1[idx], np.where(move == ADVANCE, onward, -1))
            new_left = np.where(stay, left[idx] - (move == MATCH), lat.sizes[idx] - 1)
            started = move == START
            new_name = np.where(started, lat.begin_name[idx], name[s])
            new_floor = np.where(started, idx, self.floor[s])
        cost += extra
        if free is not None:
            cost[free] += c.free - extra
        if len(idx):
            came = late_price < cost[late]
            at_late = late[came]
            cost[at_late] = late_price[came]
            self.mask1[at_late] |= bits[came]
            keep = best <= cost[idx]
            at = idx[keep]
            cost[at] = best[keep]
            mask[at] = new_mask[keep]
            self.mask1[at] = new_mask1[keep]
            left[at] = new_left[keep]
            name[at] = new_name[keep]
            self.floor[at] = new_floor[keep]
            if self.steps is not None:
                self.steps.append(Change(at, move[keep], src[keep], at_late, free))
        elif self.steps is not None:
            self.steps.append(Change(idx, idx, idx, idx, free))
        self.count += 1
        self.last = time
        self.last_pitch = pitch

    def _returns(self, idx: Ints, gap: bool, best: Floats, src: Ints, move: Ints) -> None:
        """From the top again, and on from another start."""
        lat, c, cost = self.lattice, self.lattice.costs, self.cost
        which = np.flatnonzero(lat.entry[idx] >= 0)
        if not len(which):
            return
        columns = idx[which]
        entry = lat.entry[columns]
        jump = c.jump_gap if gap else c.jump
        restart = c.restart_gap if gap else c.restart
        row = lat.row[columns]
        for number, (first, last) in enumerate(lat.rows[:3]):
            a, z = np.searchsorted(columns, (first, last))
            if a == z:
                continue
            top = first + int(cost[first:last].argmin())
            again = entry[a:z] == lat.asked
            self._take(
                which[a:z],
                cost[top] + np.where(again, restart, jump),
                top,
                np.where(again, RESTART, JUMP),
                best,
                src,
                move,
            )
        a = int(np.searchsorted(columns, lat.any_from))
        if a < len(columns):
            there = np.minimum(columns[a:, None] + np.arange(NEAR), lat.n - 1)
            own = (self.name[there] == entry[a:, None]) & (lat.row[there] == row[a:, None])
            prices = np.where(own, cost[there], FAR)
            nearest = prices.argmin(axis=1)
            each = np.arange(len(nearest))
            self._take(
                which[a:],
                prices[each, nearest] + restart,
                there[each, nearest],
                RESTART,
                best,
                src,
                move,
            )

    @staticmethod
    def _take(
        which: Ints, price: Any, source: Any, kind: Any, best: Floats, src: Ints, move: Ints
    ) -> None:
        better = price < best[which]
        at = which[better]
        best[at] = price[better]
        src[at] = source[better] if isinstance(source, np.ndarray) else source
        move[at] = kind[better] if isinstance(kind, np.ndarray) else kind

    def final(self) -> Floats:
        return self.cost + self.lattice.costs.end_miss * self.left
