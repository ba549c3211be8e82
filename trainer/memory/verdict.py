"""How a start stands, with its join: the one rule of every page, screen, command and print.

A cold attempt holds where it begins right and crosses the join into the next phrase. A join is
observed only where its start held, so the chance that both hold is the product of the two chances
that are believed. The band of a start is that of this chance: it holds from `HOLDS` on, is fading
from `FADING` on, and weak below. How many starts are likely to fail is the sum of what is missing
to 1; so the bands and the counts of one page can be held against those of any other.

Where no attempt reached the join (none ever began right) the start's chance stands for both.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from trainer.memory.model import Retention
from trainer.memory.model import band_of as band_of


def together(start: Retention, join: Retention) -> Retention:
    """What is believed of a start and its join together. `held` counts the cold attempts that
    held in both; the interval has the product of the two lower ends and of the two upper ends."""
    if start.chance is None or start.low is None or start.high is None:
        return Retention()
    held = min(join.held, start.tries) if join.tries else 0
    if join.chance is None or join.low is None or join.high is None:
        return Retention(start.chance, start.low, start.high, start.tries, held)
    return Retention(
        start.chance * join.chance, start.low * join.low, start.high * join.high, start.tries, held
    )


def chances(starts: Mapping[str, float], joins: Mapping[str, float]) -> dict[str, float]:
    """The same of many: their chances alone, by id, of those whose start was tried cold."""
    return {one: chance * joins.get(one, 1.0) for one, chance in starts.items()}


def failing(found: Iterable[float]) -> float:
    """How many starts with these chances are likely to fail."""
    return sum(1 - chance for chance in found)
