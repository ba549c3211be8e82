"""From attempt to attempt: prior, likelihood, posterior. The theory is told in `model`.

What an attempt does to its start follows from that start's own history and from what was known of
the student that morning. So the attempts of one practice day are taken up side by side, as rows of
arrays: the first of each start, then the second, and so on, in turns. What is known of the student
is settled when the next day begins. Each row is worked out by itself and every sum has a fixed
order, so that attempts taken up one by one give the same bits as all at once.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from itertools import groupby
from typing import Any, NamedTuple

import numpy as np
from msgspec.structs import astuple

from trainer.memory.cells import CELLS, COUNT, PRIOR, Array
from trainer.memory.evidence import CUES_THE_PIECE, Try
from trainer.memory.judges import CLEAN, NEAR, likelihood
from trainer.memory.model import DAY, LONGEST, PARTS, Beliefs, Spent, Trace

ROUNDS = 3  # that the mix is looked for
LEAK = 0.05  # of the posterior that returns to the mix at each attempt
AFRESH = 0.7  # of it that returns, and of the count that is left out, where a start was worked on
POOL = 2.0  # starts that the prior is worth in the mix
OWN, OWN_SD = (0.0, 1.0, 0.15), (0.15, 0.2, 0.3)  # see `Student`
SURE = 0.02  # p (1 - p) is never taken for less
FADE, BESIDE = 0.93, 2.0  # of an older attempt in the count; attempts that the usual share is worth
HINTED, CUED = 1.2, 1.5  # logits by which a hint, or the music before it, helps a start
REPEATED, LED, APART, FIRST, LENT = 0.1, 0.2, 0.5, 0.5, 0.3  # how much of it is evidence
HELPED = 0.5  # of a first attempt with a hint that shows that the start was learned before
KINDS = 4096  # of attempts whose words are kept at a time
INTERRUPTED = 30.0  # seconds before the first note that say nothing of memory
NOT_THERE = 0.15  # seconds that an instant start is taken for
PACE, PACE_VARIANCE = math.log(2.0), 0.25  # ln seconds before the first note at even odds
SLOPE, PACE_SD, SECONDS = 0.35, 0.6, 0.5  # ln seconds less by a logit; their SD; their weight

_HARDER, _EASIER = math.exp(CLEAN), math.exp(-NEAR)


class Student(NamedTuple):
    """What is known of the student in the morning of a day, for starts and joins apart.

    `mix` (2, cells) is the prior of each start, `own` (2, 3) are the numbers that correct a
    forecast (see `facts`) and `known` (2, 3, 3) is how well they are known (precision), `told`
    (2, 2) how many attempts there were and how many of them held, `pace` the mean and variance of
    ln seconds at even odds."""

    mix: Array
    own: Array
    known: Array
    told: Array
    pace: tuple[float, float]


NOBODY = Student(
    np.stack([PRIOR, PRIOR]),
    np.array([OWN, OWN]),
    np.stack([np.diag(1 / np.square(OWN_SD))] * 2),
    np.array([[2.0, 1.0], [2.0, 1.0]]),
    (PACE, PACE_VARIANCE),
)


class Fact(NamedTuple):
    """A cold attempt as it was foretold and as it went: the part (0, 1), the logits of the cells'
    forecast and of the count, and how likely it is that it held."""

    part: int
    cells: float
    share: float
    held: float


class Timing(NamedTuple):
    """Ln seconds before a first note, and the logit that was expected."""

    seconds: float
    logit: float


def afresh(seen: Array, mix: Array) -> Array:
    """The likelihoods of a start that was worked on: what it was says less of what it is."""
    total = (mix * seen).sum(axis=-1, keepdims=True)
    return np.asarray((1 - AFRESH) * seen / total + AFRESH)


def posterior(mix: Array, seen: Array) -> Array:
    """Prior times likelihood, each row summing to 1."""
    found = mix * seen
    found /= found.sum(axis=-1, keepdims=True)
    return np.asarray(found)


def logit(p: Any) -> Any:
    return np.log(p / (1 - p))


def logistic(x: Any) -> Any:
    return 1 / (1 + np.exp(-x))


def facts(cells: Any, count: Any) -> Array:
    """What the three numbers weigh: one, the logit of the cells, and how far the count's is off."""
    return np.stack([np.ones_like(cells), cells, count - cells], axis=-1)


def counted(count: float, held: float, told: Sequence[float]) -> float:
    """The logit of the share of a start's cold attempts that held, older ones fading, beside some
    attempts' worth of the student's usual share."""
    share = (held + BESIDE * told[1] / told[0]) / (count + BESIDE)
    return math.log(share / (1 - share))


def settled(
    student: Student,
    parts: Sequence[int],
    seen: Array,
    told: Sequence[Fact],
    timed: Sequence[Timing],
) -> Student:
    """The student after a day: `seen` (n, cells) are the likelihoods of all starts and joins, and
    `parts` (n) which of both each is."""
    mix, own, known, totals = (array.copy() for array in student[:4])
    part_of = np.array(parts, dtype=np.intp)
    for part in range(len(PARTS)):
        rows = seen[part_of == part]
        for _ in range(ROUNDS):  # the mix that best explains the starts is found by repeating
            of_starts = mix[part] * ((1 / (rows @ mix[part])) @ rows)  # their posteriors' sum
            mix[part] = (POOL * PRIOR + of_starts) / (POOL + len(rows))
        some = np.array([fact[1:] for fact in told if fact.part == part]).reshape(-1, 3)
        x, held = facts(some[:, 0], some[:, 1]), some[:, 2]
        foretold = logistic(x @ own[part])
        sure = np.maximum(foretold * (1 - foretold), SURE)
        known[part] += (x.T * sure) @ x
        own[part] += np.linalg.solve(known[part], x.T @ (held - foretold))
        totals[part] += len(held), held.sum()
    mean, variance = student.pace
    for one in timed:
        gain = variance / (variance + PACE_SD**2)
        mean += gain * (one.seconds - (mean - SLOPE * one.logit))
        variance *= 1 - gain
    return Student(mix, own, known, totals, (mean, variance))


class Word(NamedTuple):
    """What is said of a start or join: its `likelihood`, the logits that help gave, how much of it
    is evidence, how much of a cold attempt's change of the half-life it brings, and how far it
    shows that the start was learned before."""

    held: float
    clean: float
    failed: float
    lost: float
    aid: float
    weight: float
    share: float
    learned: float


class Said(NamedTuple):
    """What an attempt says: whether the start held, None where it does not say; and of each part
    that it observes whether it held, how likely that is, and the word on it if it is the first
    attempt, and if it is a later one."""

    held: bool | None
    parts: tuple[tuple[int, bool, float, Word, Word], ...]


_SAID: dict[object, Said] = {}  # attempts of one kind say the same


def said_by(one: Try) -> Said:
    """What an attempt says."""
    told = one.attempt
    key = (told.outcome, told.judge, told.drill, told.heard, told.broke_at is None,
           not told.elsewhere, bool(told.hints), one.cued, one.repeat)  # fmt: skip
    said = _SAID.get(key)
    if said is None:
        if len(_SAID) >= KINDS:
            _SAID.clear()
        held = [one.held(part) for part in PARTS]
        parts = (_of(one, n, which) for n, which in enumerate(held) if which is not None)
        said = _SAID[key] = Said(held[0], tuple(parts))
    return said


def _of(one: Try, part: int, held: bool) -> tuple[int, bool, float, Word, Word]:
    """A start that holds the first time was learned before. Of one that does not hold nothing is
    known but the look."""
    found, hinted = likelihood(one.attempt, PARTS[part]), bool(one.attempt.hints)
    aid = HINTED * hinted + CUED * one.cued
    apart = APART if one.apart else 1.0
    weight = (LED if one.cued else REPEATED if one.repeat else 1.0) * apart
    s, clean, near = 0.5, 1 / (1 + _HARDER), 1 / (1 + _EASIER)
    whole = found.held * s + found.clean * clean
    sure = whole / (whole + found.failed * (1 - s) + found.lost * (1 - near))
    learned = sure * held * one.fresh * (HELPED if hinted else 1.0)
    first = Word(*found, aid, FIRST * weight * (held and one.fresh), 0.0, learned)
    return part, held, sure, first, Word(*found, aid, weight, apart * one.fresh, 0.0)


class Going:
    """A trace that more attempts come to; `turn` is that of its next one of the day."""

    __slots__ = ("count", "count_held", "failing", "held", "last", "last_cold", "row", "tries",
                 "turn")  # fmt: skip

    def __init__(self, trace: Trace) -> None:
        self.row, self.last, self.last_cold = trace.row, trace.last, trace.last_cold
        self.tries, self.held, self.failing = trace.tries, trace.held, trace.failing
        self.count, self.count_held = trace.count, trace.count_held
        self.turn = 0

    def trace(self) -> Trace:
        return Trace(self.row, self.last, self.tries, self.held, self.last_cold, self.failing,
                     self.count, self.count_held)  # fmt: skip

    def renew(self, worked_on: datetime | None, at: datetime) -> bool:
        """Whether the start was worked on between its last attempt and this one: then its count
        is left out for the most part."""
        if worked_on is None or not self.last < worked_on <= at:
            return False
        self.count *= 1 - AFRESH
        self.count_held *= 1 - AFRESH
        return True


class Entry(NamedTuple):
    """One attempt at one start or join, to be taken up; `told` says that its forecast counts."""

    turn: int
    row: int
    days: float
    word: Word
    seconds: float
    part: int
    share: float
    told: bool
    hinted: bool
    renewed: bool
    born: bool
    lender: int


class Replay:
    """Takes up attempts, oldest first, in arrays of its own. `foretold` gets, if given, for each
    cold attempt but a first one its place among the attempts, the part and the forecast."""

    def __init__(
        self, before: Beliefs, foretold: list[tuple[int, int, float]] | None = None
    ) -> None:
        self._before, self._foretold, self._taken = before, foretold, 0
        self._count = len(before.parts)
        self._table = np.empty((0, 2, COUNT)) if before.table is None else before.table.copy()
        self._parts = list(before.parts)
        self._old = (before.starts, before.joins)
        self._new: tuple[dict[str, Going], ...] = ({}, {})
        self._student, self._day = before.morning or NOBODY, before.day
        self._usual = self._student.told.tolist()
        self._told, self._timed = list(before.told), list(before.timed)
        self._confusions, self._lenders = dict(before.confusions), dict(before.lenders)
        self._took: dict[str, list[float]] = {}

    def beliefs(self) -> Beliefs:
        starts, joins = (
            old | {start: going.trace() for start, going in new.items()}
            for old, new in zip(self._old, self._new, strict=True)
        )
        took = {key: Spent(int(a), b, int(c), d) for key, (a, b, c, d) in self._took.items()}
        return Beliefs(
            starts, joins, tuple(self._parts), self._table[: self._count], self._student,
            self._day, tuple(self._told), tuple(self._timed), self._confusions, self._lenders,
            self._before.spent | took, self._before.worked_on,
        )  # fmt: skip

    def take(self, tries: Iterable[Try]) -> None:
        for day, some in groupby(tries, key=lambda one: one.attempt.day):
            if day != self._day:
                self._morning(day)
            entries: list[Entry] = []
            going: list[Going] = []
            places: list[int] = []
            for one in some:
                said = said_by(one)
                self._note(one, said)
                self._enter(one, said, entries, going)
                places += [self._taken] * len(said.parts)
                self._taken += 1
            self._take_up(entries, places)
            for touched in going:
                touched.turn = 0

    def _morning(self, day: date) -> None:
        if self._day is not None:
            seen = self._table[: self._count, 1]
            self._student = settled(self._student, self._parts, seen, self._told, self._timed)
            self._usual = self._student.told.tolist()
        self._day, self._told, self._timed = day, [], []

    def _note(self, one: Try, said: Said) -> None:
        """What is not worked out but counted."""
        for child in one.lent:
            self._lenders[child] = one.start
        if one.confused and one.confused != one.start:
            pair = (one.start, one.confused)
            self._confusions[pair] = self._confusions.get(pair, 0) + 1
        seconds = one.attempt.seconds
        if seconds is None or not 0 < seconds <= LONGEST or one.attempt.drill in CUES_THE_PIECE:
            return  # of these drills they are the seconds of a whole piece, or of an interruption
        if said.held is not None:
            place = 0 if said.held else 2
            for key in ("", one.start):
                took = self._took.get(key)
                if took is None:
                    took = self._took[key] = list(astuple(self._before.spent.get(key, Spent())))
                took[place] += 1
                took[place + 1] += seconds

    def _enter(self, one: Try, said: Said, entries: list[Entry], touched: list[Going]) -> None:
        """Give an attempt its turn, and bring up to date what is counted of its start and join."""
        at, start, cold = one.attempt.at, one.start, one.cold
        worked_on = self._before.worked_on
        for part, held, sure, first, later in said.parts:
            going = self._known(part, start)
            born, lender, days = going is None, -1, 0.0
            if going is None:
                lends = self._known(part, self._lenders.get(start, ""))
                going = self._born(part, one)
                if lends:
                    going.turn, lender = lends.turn, lends.row
            if not going.turn or born:
                touched.append(going)
            renewed = bool(worked_on) and going.renew(worked_on.get(start), at)
            if at > going.last:  # a clock that went back counts as no time at all
                days = (at - going.last) / DAY
                half = one.cued or one.apart  # what is cued or apart refreshes in part only
                going.last = going.last + (at - going.last) / 2 if half else at
            share = counted(going.count, going.count_held, self._usual[part])
            seconds = math.nan if part or born else _log_seconds(one)
            entries.append(
                Entry(going.turn, going.row, days, first if born else later, seconds, part, share,
                      cold and not born, bool(one.attempt.hints), renewed, born, lender)
            )  # fmt: skip
            going.turn += 1
            if cold:
                going.tries += 1
                going.held += held
                going.failing = 0 if held else going.failing + 1
                going.last_cold = at
                going.count = FADE * going.count + 1
                going.count_held = FADE * going.count_held + sure

    def _known(self, part: int, start: str) -> Going | None:
        found = self._new[part].get(start)
        if found is None and (trace := self._old[part].get(start)):
            found = self._new[part][start] = Going(trace)
        return found

    def _born(self, part: int, one: Try) -> Going:
        if self._count == len(self._table):
            more = np.empty((max(8, 2 * self._count), 2, COUNT))
            more[: self._count] = self._table
            self._table = more
        going = self._new[part][one.start] = Going(Trace(self._count, one.attempt.at))
        self._parts.append(part)
        self._count += 1
        return going

    def _take_up(self, entries: Sequence[Entry], places: Sequence[int]) -> None:
        """Take up the attempts of a day, or of a part of it."""
        if not entries:
            return
        found: list[tuple[float, float]] = [(0.0, 0.0)] * len(entries)
        last = max(one.turn for one in entries)
        for turn in range(last + 1):
            which = [n for n, one in enumerate(entries) if one.turn == turn]
            if which:
                self._turn(which, [entries[n] for n in which] if last else entries, found)
        for one, place, (forecast, held) in zip(entries, places, found, strict=True):
            if one.told:
                if not one.hinted:  # how much a hint helps is not what a forecast is corrected by
                    self._told.append(Fact(one.part, forecast, one.share, held))
                if self._foretold is not None:
                    x = facts(np.array(forecast), np.array(one.share))
                    chance = float(logistic((self._student.own[one.part] * x).sum()))
                    self._foretold.append((place, one.part, chance))
            if one.seconds == one.seconds:
                self._timed.append(Timing(one.seconds, forecast))

    def _turn(
        self, which: Sequence[int], entries: Sequence[Entry], found: list[tuple[float, float]]
    ) -> None:
        """One attempt of each of some rows at the same time; `found` gets the logit of the forecast
        and how likely it is that the attempt held."""
        _, rows, days, words, seconds, parts, _, _, _, renewed, born, lenders = zip(
            *entries, strict=True
        )
        rows_ = np.array(rows)
        numbers = np.array(words).T
        if any(born):
            self._begin(rows, born, lenders, numbers[7])
        ln_h, seen = self._table[rows_, 0], self._table[rows_, 1]
        mix = self._student.mix[np.array(parts)]
        if any(renewed):
            again = np.array(renewed)
            seen[again] = afresh(seen[again], mix[again])
        timed = np.array(seconds) if any(s == s for s in seconds) else None
        forecast, held, ln_h, seen = updated(
            ln_h, seen, mix, np.array(days), numbers, timed,
            self._student.pace[0],
        )  # fmt: skip
        self._table[rows_, 0], self._table[rows_, 1] = ln_h, seen
        pairs = zip(forecast.tolist(), held.tolist(), strict=True)
        for n, pair in zip(which, pairs, strict=True):
            found[n] = pair

    def _begin(
        self, rows: Sequence[int], born: Sequence[bool], lenders: Sequence[int], learned: Array
    ) -> None:
        """The cells before a first attempt. A start that was split off borrows what its parent has
        seen, as weak evidence."""
        for row, new, lender, share in zip(rows, born, lenders, learned.tolist(), strict=True):
            if new:
                self._table[row, 0] = CELLS.looked + share * (CELLS.learned - CELLS.looked)
                self._table[row, 1] = 1.0
                if lender >= 0:
                    self._table[row, 1] += LENT * (self._table[lender, 1] - 1)


def updated(
    ln_h: Array,
    seen: Array,
    mix: Array,
    days: Array,
    words: Array,
    timed: Array | None,
    pace: float,
) -> tuple[Array, Array, Array, Array]:
    """One attempt at each of n rows: the logit of the forecast (n), how likely it is that it held
    (n), and the cells' ln half-lives and likelihoods (n, cells) after it.

    `seen` is the likelihood of a row's history, `mix` its prior; `words` (8, n) what is said.
    """
    held, clean, failed, lost, aid, weight, share, _ = words[..., np.newaxis]
    recall = CELLS.recall(ln_h, days[:, np.newaxis])
    against = 1 / CELLS.observed(recall) - 1
    if aid.any():
        against *= np.exp(-aid)
    chance = 1 / (1 + against)
    missed = failed * (1 - chance) + lost * (1 - 1 / (1 + against * _EASIER))
    likely = held * chance + clean / (1 + against * _HARDER) + missed
    before = posterior(mix, seen)
    forecast = logit((before * chance).sum(axis=-1))
    failing = missed / likely
    if timed is not None:
        off = timed[:, np.newaxis] - (pace + SLOPE * np.log(against))
        told = ~np.isnan(timed)
        likely[told] *= np.exp(off[told] ** 2 * (-SECONDS / (2 * PACE_SD**2)))
    after = before * likely
    total = after.sum(axis=-1, keepdims=True)
    sure = 1 - (after * failing).sum(axis=-1) / total[:, 0]
    good, bad = CELLS.steps(ln_h, recall)
    ln_h = ln_h + share * (good + failing * (bad - good))
    # With the chance that it is no evidence the posterior is the prior; and some of it returns to
    # the mix, for the start may have become another. Written as a likelihood, for the mix changes.
    found = before * (1 - weight) + after * (weight / total)
    leak = LEAK * weight
    return forecast, sure, ln_h, (1 - leak) * found / mix + leak


def _log_seconds(one: Try) -> float:
    """ln of the seconds that memory took, where an instrument was heard to begin right; otherwise
    not a number."""
    latency = one.attempt.latency
    if latency is None or not one.cold or not one.held() or not 0 <= latency <= INTERRUPTED:
        return math.nan
    return math.log(max(latency - 0.5, NOT_THERE))
