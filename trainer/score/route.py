"""The order in which the bars of a score are played: repeats, endings and jumps.

Nothing is unfolded: the route is a list of bar indices, each with the number of the pass.
The reading of the signs is common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

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
    would go round without end give a plain reading from the first bar to the last.
    """
    order = _with_repeats(score.bars)
    order = list(range(len(score.bars))) if order is None else _with_jump(score, order)
    seen: Counter[int] = Counter()
    route = []
    for index in order:
        seen[index] += 1
        route.append(Visit(index, seen[index]))
    return tuple(route)


def _with_repeats(bars: Sequence[Bar]) -> list[int] | None:
    """The bars with their repeats and endings; None where there is no end to them."""
    order: list[int] = []
    begin = index = 0
    time = 1
    while index < len(bars):
        if len(order) > MOST * len(bars):
            return None
        bar, group = bars[index], _endings_around(bars, index)
        if bar.repeat_start and begin != index:
            begin, time = index, 1
        time = max(time, min(group, default=1))  # a second ending without a first is played
        played = not bar.endings or time in bar.endings
        if played:
            order.append(index)
            if _goes_back(bars, index, time, group):
                index, time = begin, time + 1
                continue
        if (bar.repeat_times and played) or (group and _group_ends(bars, index)):
            begin, time = index + 1, 1
        index += 1
    return order


def _goes_back(bars: Sequence[Bar], index: int, time: int, group: set[int]) -> bool:
    """Whether the bar's end leads back to the beginning of its repeat on this pass."""
    bar = bars[index]
    if bar.endings:
        last = index + 1 == len(bars) or bars[index + 1].endings != bar.endings
        again = bar.repeat_times and time < max(bar.repeat_times, *bar.endings)
        return last and (time + 1 in group or bool(again))
    return time < bar.repeat_times


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
