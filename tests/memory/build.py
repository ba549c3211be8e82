"""Small builders that the tests of the memory share."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from typing import Any

from trainer.deck.model import Deck, Start
from trainer.record.attempt import Attempt, Outcome, practice_day
from trainer.record.people import Opening

BEGIN = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)


def at(days: float) -> datetime:
    return BEGIN + timedelta(days=days)


def attempt(
    days: float, start: str = "s1", outcome: Outcome = Outcome.THROUGH, **fields: Any
) -> Attempt:
    when = fields.pop("when", at(days))
    made: dict[str, Any] = {
        "id": f"a{days:.6f}-{start}",
        "student": "p",
        "deck": "d",
        "revision": "r",
        "start": start,
        "machine": "m",
        "at": when,
        "day": practice_day(when),
        "outcome": outcome,
    }
    return Attempt(**(made | fields))


def deck(n: int, deck_id: str = "d", prefix: str = "s", **fields: Any) -> Deck:
    """A deck of n starts, called s1, s2, ..., played in their order."""
    starts = tuple(Start(f"{prefix}{i}", i, Fraction(8 * (i - 1))) for i in range(1, n + 1))
    made: dict[str, Any] = {
        "id": deck_id,
        "title": "Study",
        "score": "x",
        "starts": starts,
        "route": tuple(start.id for start in starts),
    }
    return Deck(**(made | fields))


def opened(starts: Iterable[str], deck_id: str = "d", days: float = -1) -> tuple[Opening, ...]:
    return tuple(
        Opening(f"o-{start}", "p", deck_id, start, True, "m", at(days)) for start in starts
    )
