"""One machine for all that is exercised: the drill, the run-through, going on after a slip.

An exercise is a frozen value in one of a few states. What an act does in a state stands in a table
(`Exercise.table`): a function from the exercise and the action to the exercise afterwards and its
records, and the state that it leads to; what the table does not have changes nothing. The records
(attempts and retractions) must be appended to the log before anything more is shown, so that a
crash loses none. Nothing here reads a clock or makes an id: each action brings its own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from enum import StrEnum
from fractions import Fraction
from typing import Any, NamedTuple, TypeVar

from msgspec.structs import replace

from trainer.record.attempt import (
    LONGEST,
    Attempt,
    Hands,
    Outcome,
    Retraction,
    Witness,
    practice_day,
)
from trainer.values import Frozen

Record = Attempt | Retraction
E = TypeVar("E", bound="Exercise")


class Act(StrEnum):
    """What a player can do. The first six are the outcomes."""

    THROUGH = "through"
    STOPPED = "stopped"
    BROKE_OFF = "broke off"
    LOOKED = "looked"
    NOTHING = "nothing"
    ELSEWHERE = "elsewhere"
    CHOOSE = "choose"
    CANCEL = "cancel"
    HEARD = "heard"  # an instrument heard the try to its end
    AGAIN = "again"  # the same start at once
    HINT = "hint"
    PAUSE = "pause"
    RESUME = "resume"
    UNDO = "undo"
    AMEND = "amend"
    STOP = "stop"
    # In a run-through
    SLIP = "slip"
    HESITATE = "hesitate"
    TELL = "tell"  # where a slip was, and where the playing went on
    END = "end"
    # Going on after a slip
    BEGIN = "begin"
    INTERRUPT = "interrupt"
    NEXT = "next"  # the next start was reached
    OTHER = "other"  # another start was reached
    NONE = "none"  # no start was reached


class Action(Frozen, frozen=True):
    """An act, when it was done, and a fresh id for each record it may make.

    `start` is the start that was played instead, or where the playing went on ("" where it is not
    known); `broke_at` the place where the playing broke off, if said; `which` slip is meant, from
    0 (-1: the last). `heard` is what an instrument heard: HEARD needs it, what the player says may
    have it beside it. `latency` (seconds), `tempo` (quarter notes a minute) and `hands` are as
    heard.
    """

    act: Act
    at: datetime
    ids: tuple[str, ...] = ("", "", "")
    start: str = ""
    broke_at: Fraction | None = None
    heard: Witness | None = None
    latency: float | None = None
    tempo: float | None = None
    hands: Hands = "both"
    which: int = -1


class Row(NamedTuple):
    """What an act does in a state, and the state it leads to."""

    do: Callable[[Any, Action], tuple[Any, tuple[Record, ...]]]
    to: StrEnum


Table = Mapping[tuple[StrEnum, Act], Row]
"""What each act does in each state."""


TABLES: dict[type[Exercise], Table] = {}
"""The table of each kind of exercise; its module puts it here."""


class Exercise(Frozen, frozen=True):
    """What all exercises have. Each has a `state` of its own kind besides; the one in which nothing
    goes on is called "over"."""

    student: str
    machine: str

    @property
    def table(self) -> Table:
        return TABLES[type(self)]

    @property
    def now(self) -> StrEnum:
        """The state."""
        state: StrEnum = self.__getattribute__("state")
        return state

    @property
    def over(self) -> bool:
        return self.now == "over"

    def allows(self, act: Act) -> bool:
        """Whether an act does anything now."""
        return (self.now, act) in self.table

    def takes(self, action: Action) -> bool:
        """Whether an action has all that its act needs."""
        return self.allows(action.act)

    def settled(self: E) -> E:
        """The exercise after an act, in the state that it goes on to by itself."""
        return self


def step(exercise: E, action: Action) -> tuple[E, tuple[Record, ...]]:
    """Do an action: the exercise afterwards, and the records to append."""
    if not exercise.takes(action):
        return exercise, ()
    row = exercise.table[exercise.now, action.act]
    after, records = row.do(exercise, action)
    return replace(after, state=row.to).settled(), records


def nothing_more(exercise: E, _action: Action) -> tuple[E, tuple[Record, ...]]:
    """The act leads to another state, and that is all."""
    return exercise, ()


def attempt(exercise: Exercise, action: Action, outcome: Outcome, **fields: Any) -> Attempt:
    """The attempt that an action records."""
    return Attempt(
        id=action.ids[0],
        student=exercise.student,
        machine=exercise.machine,
        at=action.at,
        day=practice_day(action.at),
        outcome=outcome,
        **fields,
    )


def taken_back(exercise: Exercise, action: Action, gone: Attempt, at: int = 0) -> Retraction:
    """The retraction of an attempt, under that one of the action's ids."""
    return Retraction(action.ids[at], gone.id, exercise.machine, action.at, gone.student)


def within(seconds: float) -> float:
    """What an attempt is said to have taken, also where the clock was put back or the call stood
    for days."""
    return min(LONGEST, max(0.0, seconds))
