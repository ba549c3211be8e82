"""The order in which the bars of a score are played: repeats, endings and jumps.

Nothing is unfolded: the route is a list of bar indices, each with the number of the pass.
The reading of the signs is common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

from trainer.score.model import Bar, Score
from trainer.values import Frozen

MOST = 20
"""Visits a bar may have on average before the signs are taken for nonsense."""


class Visit(Frozen, frozen=True):
    """A bar as it comes on the route; `time` is 1 on the first visit to that bar."""

    bar: int
    time: int


def bar_route(score: Score) -> tuple[Visit, ...]:
    """The bars as played.

    One jump (da capo, dal segno) is taken, once, and what it brings back is played without
    repeats and with the last ending, up to the fine or over to the coda. An ending that
    another follows is left for the repeat even where the repeat sign is missing. Signs that
    would go round without end give a plain reading from the first bar to the last. Where a person
    told the order, that is it.
    """
    order = _told(score) or _by_signs(score)
    seen: Counter[int] = Counter()
    route = []
    for index in order:
        seen[index] += 1
        route.append(Visit(index, seen[index]))
    return tuple(route)


def _told(score: Score) -> list[int]:
    """The bars in the order that a person told; empty where nobody did."""
    return [bar for part in score.played for bar in range(part.first, part.last + 1)]


def _by_signs(score: Score) -> list[int]:
    order = _with_repeats(score.bars)
    return list(range(len(score.bars))) if order is None else _with_jump(score, order)


class _Repeat(NamedTuple):
    """A passage that is played again from its last bar back to `begin`, from its pass `first` up
    to its pass `final`; its last bars may be endings."""

    begin: int
    first: int
    final: int


def _with_repeats(bars: Sequence[Bar]) -> list[int] | None:
    """The bars with their repeats and endings; None where there is no end to them."""
    repeats, closing = _repeats(bars)
    passes: dict[int, int] = {}  # that each repeat is on, by its last bar
    order: list[int] = []
    index = 0
    while index < len(bars):
        if len(order) > MOST * len(bars):
            return None
        last = closing[index]
        repeat = repeats.get(last)
        time = passes.setdefault(last, repeat.first) if repeat else 1
        if not bars[index].endings or time in bars[index].endings:
            order.append(index)
        if repeat and index == last and time < repeat.final:
            inner = [other for other in passes if repeat.begin <= other < last]
            for other in inner:  # what is repeated inside is repeated again
                del passes[other]
            passes[last] = time + 1
            index = repeat.begin
            continue
        index += 1
    return order


def _repeats(bars: Sequence[Bar]) -> tuple[dict[int, _Repeat], list[int]]:
    """The repeats by their last bars; and for each bar the last of the endings around it, or
    itself.

    A repeat goes back to the last sign that opens one and is not closed yet, so that one may stand
    inside another; without a sign, to the bar after the repeat before it or to the first one.
    """
    found: dict[int, _Repeat] = {}
    closing: list[int] = []
    opened: list[int] = []
    free = 0  # where a repeat that no sign opens begins
    for index, bar in enumerate(bars):
        if bar.repeat_start:
            opened.append(index)
        if index < len(closing):  # within endings that are done with
            continue
        last = index
        while not _group_ends(bars, last):
            last += 1
        closing += [last] * (last + 1 - index)
        first, final = _passes(bars[index : last + 1])
        if final > first:
            found[last] = _Repeat(opened.pop() if opened else free, first, final)
        elif bar.endings:
            found[last] = _Repeat(index, first, final)
        if final > first or bar.endings:
            free = last + 1
    return found, closing


def _passes(group: Sequence[Bar]) -> tuple[int, int]:
    """The first and the last pass of one bar, or of endings that belong together: as many as the
    endings say, and one more where the last of them has a repeat sign."""
    numbers = {number for bar in group for number in bar.endings}
    if not numbers:
        return 1, max(1, group[0].repeat_times)
    first = time = min(numbers)
    while True:
        ending = [bar for bar in group if time in bar.endings]
        again = any(bar.repeat_times and time < _most(bar) for bar in ending)
        if time + 1 not in numbers and not again:
            return first, time
        time += 1


def _most(bar: Bar) -> int:
    return min(MOST, max(bar.repeat_times, *bar.endings))


def _endings_around(bars: Sequence[Bar], index: int) -> set[int]:
    """The passes of all endings that belong together with the one at this bar."""
    if not bars[index].endings:
        return set()
    first = last = index
    while first and not _group_ends(bars, first - 1):
        first -= 1
    while not _group_ends(bars, last):
        last += 1
    return {number for bar in bars[first : last + 1] for number in bar.endings}


def _group_ends(bars: Sequence[Bar], index: int) -> bool:
    """Whether the bar is no ending, or the last bar of the endings that belong together."""
    if index + 1 == len(bars):
        return True
    here, after = bars[index].endings, bars[index + 1].endings
    return not here or not after or (here != after and min(after) <= max(here))


def _with_jump(score: Score, order: list[int]) -> list[int]:
    """Add what follows after a da capo or dal segno, up to the fine or over to the coda."""
    signs: dict[str, int] = {}
    for mark in score.marks_of("jump"):
        signs.setdefault(mark.text, score.bar_at(mark.onset).index)
    begin = {"da capo": 0, "dal segno": signs.get("segno")}
    jump = next((sign for sign in begin if sign in signs and begin[sign] is not None), None)
    if jump is None or signs[jump] not in order:
        return order
    done = len(order) - order[::-1].index(signs[jump])
    return order[:done] + _after_jump(score.bars, signs, begin[jump] or 0, order, done, jump)


def _after_jump(
    bars: Sequence[Bar], signs: dict[str, int], begin: int, order: list[int], done: int, jump: str
) -> list[int]:
    to_coda, coda, fine = (signs.get(sign) for sign in ("to coda", "coda", "fine"))
    if to_coda is not None and coda is not None and begin <= to_coda < coda:
        end = fine if fine is not None and fine >= coda else len(bars) - 1
        return _plain(bars, begin, to_coda) + _plain(bars, coda, end)
    if fine is not None and fine >= begin:
        return _plain(bars, begin, fine)
    return _plain(bars, begin, signs[jump]) + order[done:]


def _plain(bars: Sequence[Bar], begin: int, last: int) -> list[int]:
    """Bars without repeats, the last ending of each group only."""
    return [
        index
        for index in range(begin, last + 1)
        if not bars[index].endings or max(_endings_around(bars, index)) in bars[index].endings
    ]
