"""Rehearsing what to do after a slip, as a pure state machine, written as a table.

A start is called and the player begins there; after a while the program interrupts, and the
player goes on from the next start at once. One key says whether that was reached. Each action
makes a new rehearsal and the records that the caller must append to the log.

    calling      --begin------>  playing      until the seconds of the call are over
    playing      --interrupt-->  interrupted
    interrupted  --next, none->  calling      the next call
    interrupted  --other------>  choosing     --choose-->  calling
    choosing     --cancel----->  interrupted
    any          --stop------->  over
    calling, over  --undo----->  calling      the last one again
"""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from fractions import Fraction
from random import Random

from msgspec.structs import replace

from trainer.practice.exercise import (
    TABLES,
    Act,
    Action,
    Exercise,
    Record,
    Row,
    attempt,
    nothing_more,
    taken_back,
)
from trainer.record.attempt import Attempt, Judge, Outcome
from trainer.values import Frozen

SLIP = "slip"  # the drill kind's name in the log
USUAL_TEMPO = 80.0  # quarter notes a minute, where the score gives none
READY = 3.0  # seconds from the key to the first note
SHORTEST = 2.0  # seconds of playing


class SlipState(StrEnum):
    CALLING = "calling"
    PLAYING = "playing"
    INTERRUPTED = "interrupted"
    CHOOSING = "choosing"  # which other start was reached?
    OVER = "over"


class SlipCall(Frozen, frozen=True):
    """A start to begin at, those that may come next on the route, and the seconds from the key
    to the interruption."""

    start: str
    number: int
    place: str
    following: tuple[str, ...]
    wait: float


class Rehearsal(Exercise, frozen=True):
    """A rehearsal as it stands. `calls[position]` is the one to be played; `since` is when its
    playing began."""

    deck: str
    revision: str
    calls: tuple[SlipCall, ...]
    since: datetime
    judge: Judge = "self"
    state: SlipState = SlipState.CALLING
    position: int = 0
    tries: tuple[Attempt, ...] = ()

    @property
    def call(self) -> SlipCall | None:
        return self.calls[self.position] if self.position < len(self.calls) else None

    def allows(self, act: Act) -> bool:
        return Exercise.allows(self, act) and (act is not Act.UNDO or bool(self.tries))

    def settled(self) -> Rehearsal:
        """It is over where no call waits."""
        ended = self.state is SlipState.CALLING and self.call is None
        return replace(self, state=SlipState.OVER) if ended else self


Step = tuple[Rehearsal, tuple[Record, ...]]


def wait(start: Fraction, end: Fraction, tempo: float | None, rng: Random) -> float:
    """Seconds from the key to the interruption: the time to get ready, and then a quarter to
    all of the phrase between two positions in ql, at `tempo` quarter notes a minute."""
    whole = float(end - start) * 60 / (tempo or USUAL_TEMPO)
    return READY + max(SHORTEST, whole * rng.uniform(0.25, 1.0))


def _began(rehearsal: Rehearsal, action: Action) -> Step:
    return replace(rehearsal, since=action.at), ()


def _next(rehearsal: Rehearsal, action: Action) -> Step:
    call = rehearsal.calls[rehearsal.position]
    return _tried(rehearsal, action, call.following[0] if call.following else "")


def _none(rehearsal: Rehearsal, action: Action) -> Step:
    return _tried(rehearsal, action, "")


def _chosen(rehearsal: Rehearsal, action: Action) -> Step:
    return _tried(rehearsal, action, action.start)


def _tried(rehearsal: Rehearsal, action: Action, reached: str) -> Step:
    """One rehearsal of a slip: through where the next start was reached, stopped where another
    one was, broke off where none was."""
    call = rehearsal.calls[rehearsal.position]
    outcome = Outcome.BROKE_OFF
    if reached:
        outcome = Outcome.THROUGH if reached in call.following else Outcome.STOPPED
    made = attempt(
        rehearsal,
        action,
        outcome,
        deck=rehearsal.deck,
        revision=rehearsal.revision,
        start=call.start,
        drill=SLIP,
        judge=rehearsal.judge,
        elsewhere=reached,
        seconds=max(0.0, (action.at - rehearsal.since).total_seconds()),
    )
    tries = (*rehearsal.tries, made)
    return replace(rehearsal, tries=tries, position=rehearsal.position + 1), (made,)


def _undo(rehearsal: Rehearsal, action: Action) -> Step:
    """Take the last one back; its start is called again."""
    last = rehearsal.tries[-1]
    back = taken_back(rehearsal, action, last)
    position, tries = rehearsal.position - 1, rehearsal.tries[:-1]
    return replace(rehearsal, position=position, tries=tries), (back,)


TABLES[Rehearsal] = {
    (SlipState.CALLING, Act.BEGIN): Row(_began, SlipState.PLAYING),
    (SlipState.PLAYING, Act.INTERRUPT): Row(nothing_more, SlipState.INTERRUPTED),
    (SlipState.INTERRUPTED, Act.NEXT): Row(_next, SlipState.CALLING),
    (SlipState.INTERRUPTED, Act.NONE): Row(_none, SlipState.CALLING),
    (SlipState.INTERRUPTED, Act.OTHER): Row(nothing_more, SlipState.CHOOSING),
    (SlipState.CHOOSING, Act.CHOOSE): Row(_chosen, SlipState.CALLING),
    (SlipState.CHOOSING, Act.CANCEL): Row(nothing_more, SlipState.INTERRUPTED),
    (SlipState.CALLING, Act.UNDO): Row(_undo, SlipState.CALLING),
    (SlipState.OVER, Act.UNDO): Row(_undo, SlipState.CALLING),
    **{
        (state, Act.STOP): Row(nothing_more, SlipState.OVER)
        for state in SlipState
        if state is not SlipState.OVER
    },
}
