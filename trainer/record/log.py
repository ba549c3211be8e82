"""The log of one student's attempts, as those see it who only read it.

Most of what is asked of a log needs its end alone: what was tried today, and what has come since
something was worked out. A `Mark` remembers how far that went.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from functools import cached_property
from typing import Protocol

from trainer.record.attempt import Attempt
from trainer.values import Frozen


class Mark(Frozen, frozen=True):
    """A place in a log: behind the attempt `id`, made at `at`. `attempts` are those up to there,
    retracted ones included, `day` is the last practice day among them, `retractions` the place
    of the last retraction that was known, `entries` the ids that the student had."""

    attempts: int
    at: datetime
    id: str
    day: date
    retractions: int = 0
    entries: tuple[str, ...] = ()


class Log(Protocol):
    """Does not change, and reads no more than it is asked for. Attempts are those that stand,
    oldest first."""

    @property
    def attempts(self) -> tuple[Attempt, ...]:
        """All of them."""

    @property
    def state(self) -> str:
        """A text that changes with everything that comes to the log."""

    def on(self, day: date) -> tuple[Attempt, ...]:
        """Those of one practice day."""

    def later(self, at: datetime) -> tuple[Attempt, ...]:
        """Those after an instant."""

    def mark(self, last: Attempt, day: date) -> Mark:
        """The place behind an attempt of this log; `day` is the last one up to there."""

    def since(self, mark: Mark) -> tuple[Attempt, ...] | None:
        """Those behind a mark. None where what stands before it is not what it was: something
        earlier came in, was taken back, or is corrected by one behind it."""


class Written:
    """A log of attempts that are all at hand."""

    def __init__(self, attempts: Iterable[Attempt] = ()) -> None:
        self.attempts = tuple(attempts)

    @cached_property
    def state(self) -> str:
        return " ".join(one.id for one in self.attempts)

    def on(self, day: date) -> tuple[Attempt, ...]:
        return tuple(one for one in self.attempts if one.day == day)

    def later(self, at: datetime) -> tuple[Attempt, ...]:
        return tuple(one for one in self.attempts if one.at > at)

    def mark(self, last: Attempt, day: date) -> Mark:
        place = (last.at, last.id)
        before = sum((one.at, one.id) <= place for one in self.attempts)
        return Mark(before, last.at, last.id, day)

    def since(self, mark: Mark) -> tuple[Attempt, ...] | None:
        place = (mark.at, mark.id)
        before = {one.id for one in self.attempts if (one.at, one.id) <= place}
        after = tuple(one for one in self.attempts if one.id not in before)
        corrected = any(one.amends in before for one in after)
        return None if corrected or len(before) != mark.attempts else after
