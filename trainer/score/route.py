"""The order in which the bars of a score are played: repeats, endings and jumps.

Nothing is unfolded: the route is a list of bar indices, each with the number of the pass.
"""

from __future__ import annotations

from collections import Counter

from trainer.score.model import Bar, Score
from trainer.values import Frozen


class Visit(Frozen, frozen=True):
    """A bar as it comes on the route; `time` is 1 on the first visit to that bar."""

    bar: int
    time: int


def bar_route(score: Score) -> tuple[Visit, ...]:
    """The bars as played. Jumps (da capo, dal segno, to coda, fine) are taken once, without
    the repeats, as is common practice. Signs that contradict each other end in a plain
    reading from first bar to last rather than a loop."""
    order = _with_jumps(score, _with_repeats(score))
    if len(order) > 20 * len(score.bars):
        order = list(range(len(score.bars)))
    seen: Counter[int] = Counter()
    route = []
    for index in order:
        seen[index] += 1
        route.append(Visit(index, seen[index]))
    return tuple(route)


def _with_repeats(score: Score) -> list[int]:
    bars = score.bars
    order: list[int] = []
    begin = index = 0
    time = 1
    while index < len(bars) and len(order) <= 20 * len(bars):
        bar = bars[index]
        if bar.repeat_start and begin != index:
            begin, time = index, 1
        if bar.endings and time not in bar.endings:
            index += 1
            continue
        order.append(index)
        times = max(bar.repeat_times, max(bar.endings, default=0) if bar.repeat_times else 0)
        last_ending = bar.endings and not _ending_after(score, index, time)
        if bar.repeat_times and time < times and not last_ending:
            index, time = begin, time + 1
            continue
        if bar.repeat_times or (bar.endings and last_ending and _ending_ends(score, index)):
            begin, time = index + 1, 1
        index += 1
    return order


def _ending_after(score: Score, index: int, time: int) -> bool:
    """Whether a later ending of the same group waits for the next pass."""
    for bar in score.bars[index + 1 :]:
        if not bar.endings:
            return False
        if time + 1 in bar.endings:
            return True
    return time + 1 in score.bars[index].endings


def _ending_ends(score: Score, index: int) -> bool:
    following = score.bars[index + 1] if index + 1 < len(score.bars) else None
    return following is None or following.endings != score.bars[index].endings


def _with_jumps(score: Score, order: list[int]) -> list[int]:
    """Add the passage after a da capo or dal segno, up to the fine or over to the coda."""
    signs: dict[str, int] = {}
    for mark in score.marks_of("jump"):
        signs.setdefault(mark.text, score.bar_at(mark.onset).index)
    jump = next((sign for sign in ("da capo", "dal segno") if sign in signs), None)
    if jump is None or (jump == "dal segno" and "segno" not in signs):
        return order
    jump_bar = signs[jump]
    if jump_bar not in order:
        return order
    head = order[: len(order) - order[::-1].index(jump_bar)]
    begin = signs["segno"] if jump == "dal segno" else 0
    to_coda, coda, fine = signs.get("to coda"), signs.get("coda"), signs.get("fine")
    if to_coda is not None and coda is not None and to_coda < coda:
        tail = [*_plain(score, begin, to_coda), *_plain(score, coda, len(score.bars) - 1)]
    else:
        tail = _plain(score, begin, fine if fine is not None else jump_bar)
    return head + tail


def _plain(score: Score, begin: int, last: int) -> list[int]:
    """Bars without repeats, the last ending of each group only."""
    picked = []
    for index in range(begin, last + 1):
        bar = score.bars[index]
        followed = (
            any(b.endings and min(b.endings) > max(bar.endings) for b in _group(score, index))
            if bar.endings
            else False
        )
        if not followed:
            picked.append(index)
    return picked


def _group(score: Score, index: int) -> list[Bar]:
    """The bars of the endings that follow in one unbroken group."""
    found = []
    for bar in score.bars[index:]:
        if not bar.endings:
            break
        found.append(bar)
    return found
