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
from trainer.memory.judges import BEGUN, CLEAN, NEAR, likelihood
from trainer.memory.model import LONGEST, Beliefs, Spent, Trace

ROUNDS = 3  # that the mix is looked for
LEAK = 0.06  # of the posterior that returns to the mix at each attempt
AFRESH = 0.7  # of it that returns, and of the count that is left out, where a start was worked on
POOL = 3.0  # starts that the prior is worth in the mix
OWN, OWN_SD = (0.0, 1.0, 0.15), (0.15, 0.2, 0.3)  # see `Student`
SURE = 0.02  # p (1 - p) is never taken for less
KEEP = 0.9  # of what is known of the three numbers that stays overnight: a student may change
FADE, BESIDE = 0.93, 2.0  # of an older attempt in the count; attempts that the usual share is worth
HINTED, CUED = 1.2, 1.5  # logits by which a hint, or the music before it, helps a start
REPEATED, LED, PARTLY, FIRST, LENT = 0.1, 0.2, 0.5, 0.5, 0.3  # how much of it is evidence
HELPED = 0.5  # of a first attempt with a hint that shows that the start was learned before
KINDS = 4096  # of attempts whose words are kept at a time
INTERRUPTED = 30.0  # seconds before the first note that say nothing of memory
NOT_THERE = 0.15  # seconds that an instant start is taken for
PACE, PACE_VARIANCE = math.log(2.0), 0.25  # ln seconds before the first note at even odds
SLOPE, PACE_SD, SECONDS = 0.35, 0.6, 0.5  # ln seconds less by a logit; their SD; their weight

_HARDER, _EASIER = math.exp(CLEAN), math.exp(-NEAR)


class Student(NamedTuple):
    """What is known of the student in the morning of a day.

    `mix` (cells) is the prior of each start, `own` (3) are the numbers that correct a forecast (see
    `facts`) and `known` (3, 3) is how well they are known (precision), `told` (3) how many attempts
    there were, how many of them began right and how many went through, `pace` the mean and
    variance of ln seconds at even odds."""

    mix: Array
    own: Array
    known: Array
    told: Array
    pace: tuple[float, float]

    @property
    def usual(self) -> tuple[float, float]:
        """The share of attempts that go through, and of those that do not the share that begin
        right."""
        tried, began, held = self.told.tolist()
        return held / tried, (began - held) / (tried - held)


NOBODY = Student(
    PRIOR,
    np.array(OWN),
    np.diag(1 / np.square(OWN_SD)),
    np.array([2.0, 1.0 + BEGUN, 1.0]),
    (PACE, PACE_VARIANCE),
)


class Fact(NamedTuple):
    """A cold attempt as it was foretold and as it went: the logits of the cells' forecast and of
    the count, how likely it is that it went through, and whether it began right."""

    cells: float
    share: float
    held: float
    began: float


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


def counted(count: float, held: float, usual: float) -> float:
    """The logit of the share of a start's cold attempts that went through, older ones fading,
    beside some attempts' worth of the student's usual share."""
    share = (held + BESIDE * usual) / (count + BESIDE)
    return math.log(share / (1 - share))


def settled(
    student: Student, seen: Array, told: Sequence[Fact], timed: Sequence[Timing]
) -> Student:
    """The student after a day: `seen` (n, cells) are the likelihoods of all starts."""
    mix = student.mix
    for _ in range(ROUNDS):  # the mix that best explains the starts is found by repeating
        of_starts = mix * ((1 / (seen @ mix)) @ seen)  # their posteriors' sum
        mix = (POOL * PRIOR + of_starts) / (POOL + len(seen))
    cells, share, held, began = np.array(told).reshape(-1, 4).T
    x = facts(cells, share)
    foretold = logistic(x @ student.own)
    sure = np.maximum(foretold * (1 - foretold), SURE)
    known = KEEP * student.known + (1 - KEEP) * NOBODY.known + (x.T * sure) @ x
    own = student.own + np.linalg.solve(known, x.T @ (held - foretold))
    totals = student.told + np.array([len(told), began.sum(), held.sum()])
    mean, variance = student.pace
    for one in timed:
        gain = variance / (variance + PACE_SD**2)
        mean += gain * (one.seconds - (mean - SLOPE * one.logit))
        variance *= 1 - gain
    return Student(mix, own, known, totals, (mean, variance))


class Word(NamedTuple):
    """What is said of a start: its `likelihood`, the logits that help gave, how much of it is
    evidence, how much of a cold attempt's change of the half-life it brings, and how far it shows
    that the start was learned before."""

    held: float
    clean: float
    failed: float
    lost: float
    aid: float
    weight: float
    share: float
    learned: float


class Said(NamedTuple):
    """What an attempt says: whether its start began right, None where it does not say; whether what
    it shows held; how likely that is; and the word on the start if it is the first attempt, and if
    it is a later one. A cold attempt `counts` if it shows both start and join."""

    began: bool | None
    held: bool
    sure: float
    first: Word
    later: Word
    counts: bool


_SAID: dict[object, Said | None] = {}  # attempts of one kind say the same


def said_by(one: Try) -> Said | None:
    """What an attempt says; None where it shows nothing of start or join."""
    told = one.attempt
    key = (told.outcome, told.judge, told.drill, told.heard, told.broke_at is None,
           not told.elsewhere, bool(told.hints), one.cued, one.repeat)  # fmt: skip
    if key not in _SAID:
        if len(_SAID) >= KINDS:
            _SAID.clear()
        _SAID[key] = _said(one)
    return _SAID[key]


def _said(one: Try) -> Said | None:
    """A start that holds the first time was learned before. Of one that does not hold nothing is
    known but the look. An attempt that shows the join alone is led up to by the start."""
    held, seen = one.held(one.seen), one.seen
    if held is None:
        return None
    found, hinted = likelihood(one.attempt, seen), bool(one.attempt.hints)
    aid = HINTED * hinted + CUED * (one.cued or seen == "join")
    partly = 1.0 if seen == "both" else PARTLY
    weight = (LED if one.cued else REPEATED if one.repeat else 1.0) * partly
    s, clean, near = 0.5, 1 / (1 + _HARDER), 1 / (1 + _EASIER)
    whole = found.held * s + found.clean * clean
    sure = whole / (whole + found.failed * (1 - s) + found.lost * (1 - near))
    learned = sure * held * one.fresh * (HELPED if hinted else 1.0)
    first = Word(*found, aid, FIRST * weight * (held and one.fresh), 0.0, learned)
    later = Word(*found, aid, weight, partly * one.fresh, 0.0)
    return Said(one.held("start"), held, sure, first, later, one.cold and seen == "both")


def noted(trace: Trace, one: Try, said: Said, kept: float) -> Trace:
    """The trace after one more attempt; `kept` of what was counted before stays."""
    at, last = one.attempt.at, trace.last
    if at > last:  # a clock that went back counts as no time at all; in part refreshes in part
        last = last + (at - last) / 2 if one.cued or one.seen != "both" else at
    count, began, held = (kept * n for n in (trace.count, trace.count_began, trace.count_held))
    if not said.counts:
        return Trace(trace.row, last, trace.tries, trace.began, trace.held, trace.last_cold,
                     trace.failing, trace.breaking, count, began, held)  # fmt: skip
    begins, through = bool(said.began), said.held
    return Trace(
        trace.row,
        last,
        trace.tries + 1,
        trace.began + begins,
        trace.held + through,
        at,
        0 if begins else trace.failing + 1,
        trace.breaking if not begins else 0 if through else trace.breaking + 1,
        FADE * count + 1,
        FADE * began + begins,
        FADE * held + said.sure,
    )


class Entry(NamedTuple):
    """One attempt at one start, to be taken up; `place` is its number among all, `told` says that
    its forecast counts."""

    place: int
    row: int
    days: float
    word: Word
    seconds: float
    share: float
    began: bool
    told: bool
    hinted: bool
    renewed: bool
    born: bool
    lender: int


class Replay:
    """Takes up attempts, oldest first, in arrays of its own. `foretold` gets, if given, for each
    cold attempt but a first one its place among the attempts and the forecast."""

    def __init__(self, before: Beliefs, foretold: list[tuple[int, float]] | None = None) -> None:
        self._before, self._foretold, self._taken = before, foretold, 0
        self._count = len(before.traces)
        self._table = np.empty((0, 2, COUNT)) if before.table is None else before.table.copy()
        self._traces = dict(before.traces)
        self._student, self._day = before.morning or NOBODY, before.day
        self._usual = self._student.usual[0]
        self._told, self._timed = list(before.told), list(before.timed)
        self._confusions, self._lenders = dict(before.confusions), dict(before.lenders)
        self._took: dict[str, list[float]] = {}

    def beliefs(self) -> Beliefs:
        took = {key: Spent(int(a), b, int(c), d) for key, (a, b, c, d) in self._took.items()}
        return Beliefs(
            self._traces, self._table[: self._count], self._student, self._day, tuple(self._told),
            tuple(self._timed), self._confusions, self._lenders, self._before.spent | took,
            self._before.worked_on,
        )  # fmt: skip

    def take(self, tries: Iterable[Try]) -> None:
        for day, some in groupby(tries, key=lambda one: one.attempt.day):
            if day != self._day:
                self._morning(day)
            turns: list[list[Entry]] = []
            turn_of: dict[int, int] = {}
            for one in some:
                said = said_by(one)
                self._note(one, said)
                if said:
                    self._enter(one, said, turns, turn_of)
                self._taken += 1
            self._take_up(turns)

    def _morning(self, day: date) -> None:
        if self._day is not None:
            seen = self._table[: self._count, 1]
            self._student = settled(self._student, seen, self._told, self._timed)
            self._usual = self._student.usual[0]
        self._day, self._told, self._timed = day, [], []

    def _note(self, one: Try, said: Said | None) -> None:
        """What is not worked out but counted."""
        for child in one.lent:
            self._lenders[child] = one.start
        if one.confused and one.confused != one.start:
            pair = (one.start, one.confused)
            self._confusions[pair] = self._confusions.get(pair, 0) + 1
        seconds = one.attempt.seconds
        if seconds is None or not 0 < seconds <= LONGEST or one.attempt.drill in CUES_THE_PIECE:
            return  # of these drills they are the seconds of a whole piece, or of an interruption
        if said and said.began is not None:
            place = 0 if said.began else 2
            for key in ("", one.start):
                took = self._took.get(key)
                if took is None:
                    took = self._took[key] = list(astuple(self._before.spent.get(key, Spent())))
                took[place] += 1
                took[place + 1] += seconds

    def _enter(
        self, one: Try, said: Said, turns: list[list[Entry]], turn_of: dict[int, int]
    ) -> None:
        """Give an attempt its turn, and bring up to date what is counted of its start."""
        at, start = one.attempt.at, one.start
        trace, lender, turn = self._traces.get(start), -1, 0
        born = trace is None
        if trace is None:
            lends = self._traces.get(self._lenders.get(start, ""))
            trace = self._born(at)
            if lends:
                lender, turn = lends.row, turn_of.get(lends.row, 0)
        turn = turn_of.get(trace.row, turn)
        turn_of[trace.row] = turn + 1
        worked_on = self._before.worked_on.get(start)
        renewed = worked_on is not None and trace.last < worked_on <= at
        kept = 1 - AFRESH if renewed else 1.0
        share = counted(kept * trace.count, kept * trace.count_held, self._usual)
        seconds = math.nan if born else _log_seconds(one)
        if turn == len(turns):
            turns.append([])
        turns[turn].append(
            Entry(self._taken, trace.row, trace.elapsed(at), said.first if born else said.later,
                  seconds, share, bool(said.began), said.counts and not born,
                  bool(one.attempt.hints), renewed, born, lender)
        )  # fmt: skip
        self._traces[start] = noted(trace, one, said, kept)

    def _born(self, at: datetime) -> Trace:
        if self._count == len(self._table):
            more = np.empty((max(8, 2 * self._count), 2, COUNT))
            more[: self._count] = self._table
            self._table = more
        self._count += 1
        return Trace(self._count - 1, at)

    def _take_up(self, turns: Sequence[Sequence[Entry]]) -> None:
        """Take up the attempts of a day, or of a part of it, turn by turn."""
        found = [
            (one.place, one, forecast, held)
            for entries in turns
            for one, forecast, held in zip(entries, *self._turn(entries), strict=True)
        ]
        for place, one, forecast, held in sorted(found, key=lambda each: each[0]):
            if one.told:
                if not one.hinted:  # how much a hint helps is not what a forecast is corrected by
                    self._told.append(Fact(forecast, one.share, held, float(one.began)))
                if self._foretold is not None:
                    x = facts(np.array(forecast), np.array(one.share))
                    self._foretold.append((place, float(logistic((self._student.own * x).sum()))))
            if one.seconds == one.seconds:
                self._timed.append(Timing(one.seconds, forecast))

    def _turn(self, entries: Sequence[Entry]) -> tuple[list[float], list[float]]:
        """One attempt of each of some rows at the same time: the logits of their forecasts, and how
        likely it is that each held."""
        _, rows, days, words, seconds, _, _, _, _, renewed, born, lenders = zip(
            *entries, strict=True
        )
        rows_, numbers, mix = np.array(rows), np.array(words).T, self._student.mix
        if any(born):
            self._begin(rows, born, lenders, numbers[7])
        ln_h, seen = self._table[rows_, 0], self._table[rows_, 1]
        if any(renewed):
            again = np.array(renewed)
            seen[again] = afresh(seen[again], mix)
        timed = np.array(seconds) if any(s == s for s in seconds) else None
        forecast, held, ln_h, seen = updated(
            ln_h, seen, mix, np.array(days), numbers, timed, self._student.pace[0]
        )
        self._table[rows_, 0], self._table[rows_, 1] = ln_h, seen
        return forecast.tolist(), held.tolist()

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
    """ln of the seconds that memory took, where an instrument was heard to go through; otherwise
    not a number."""
    latency = one.attempt.latency
    if latency is None or not one.cold or not one.held("both") or not 0 <= latency <= INTERRUPTED:
        return math.nan
    return math.log(max(latency - 0.5, NOT_THERE))
