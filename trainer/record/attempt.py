"""One try at a start, kept for ever."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from enum import StrEnum
from fractions import Fraction
from typing import Literal

from trainer.values import Frozen

Judge = Literal["self", "teacher", "heard"]
Hands = Literal["both", "right", "left"]


class Outcome(StrEnum):
    """How far the playing went."""

    THROUGH = "through"  # began within about 5 s and crossed the join without a stop
    STOPPED = "stopped"  # began late, or crossed the join with a stop
    BROKE_OFF = "broke off"  # began right, did not reach the join
    LOOKED = "looked"  # needed the music to begin
    NOTHING = "nothing"  # could not begin
    ELSEWHERE = "elsewhere"  # began at another start

    @property
    def start_held(self) -> bool:
        return self in (Outcome.THROUGH, Outcome.STOPPED, Outcome.BROKE_OFF)

    @property
    def join_held(self) -> bool | None:
        """None where the join was not observed because the start did not hold."""
        return self is not Outcome.BROKE_OFF if self.start_held else None


PAGE = "the page"  # among the hints of a try that came after its page was shown
LONGEST = 86_400.0  # seconds that a try is said to have taken, however long the call stood


class Witness(Frozen, frozen=True):
    """What an instrument heard of one try, kept beside what the player said of it.

    `wrong`, `missed` and `extra` count notes against the written ones, `notes` those that were
    played; `sure` is 0-1.
    """

    outcome: Outcome  # as it was proposed
    elsewhere: str = ""  # the start that was begun instead, as heard
    broke_at: Fraction | None = None
    wrong: int = 0
    missed: int = 0
    extra: int = 0
    notes: int = 0
    sure: float = 1.0


class Attempt(Frozen, frozen=True):
    """One try. `at` is an aware instant with the local offset of the place it was made in;
    `day` is its practice day, fixed when it was recorded.

    `seconds` is the whole try's duration, pauses left out; `latency` the seconds before the
    first note, None unless an instrument was heard; both 0 to LONGEST. `amends` is the attempt
    this one corrects. `heard` is the instrument's own account, which stays where the player said
    otherwise.
    """

    id: str
    student: str
    deck: str
    revision: str
    start: str
    machine: str
    at: datetime
    day: date
    outcome: Outcome
    drill: str = "cold"  # the drill kind's name
    judge: Judge = "self"
    hands: Hands = "both"
    tempo: float | None = None  # quarter notes a minute
    hints: tuple[str, ...] = ()
    elsewhere: str = ""  # the start that was begun instead
    broke_at: Fraction | None = None  # where the playing broke off, if said
    seconds: float | None = None
    latency: float | None = None
    amends: str = ""
    heard: Witness | None = None


class Retraction(Frozen, frozen=True):
    """Takes an attempt back. Nothing is deleted: the log only grows.

    `student` is the attempt's; it lets the two travel apart and arrive in any order.
    """

    id: str
    attempt: str
    machine: str
    at: datetime
    student: str = ""


def practice_day(at: datetime) -> date:
    """The practice day of an aware local instant: from 03:00 to 03:00, local time."""
    if at.tzinfo is None:
        raise ValueError("a practice day needs an instant with its offset")
    return (at.replace(tzinfo=None) - timedelta(hours=3)).date()


def standing(
    attempts: tuple[Attempt, ...], retractions: tuple[Retraction, ...]
) -> tuple[Attempt, ...]:
    """The attempts that were not taken back, oldest first, each once."""
    gone = {retraction.attempt for retraction in retractions}
    kept = {attempt.id: attempt for attempt in attempts if attempt.id not in gone}
    return tuple(sorted(kept.values(), key=lambda attempt: (attempt.at, attempt.id)))
