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

from collections.abc import Callable
from datetime import datetime
from enum import StrEnum
from fractions import Fraction
from random import Random
from typing import NamedTuple

from msgspec.structs import replace

from trainer.record.attempt import Attempt, Judge, Outcome, Retraction, practice_day
from trainer.values import Frozen

SLIP = "slip"  # the drill kind's name in the log
USUAL_TEMPO = 80.0  # quarter notes a minute, where the score gives none
READY = 3.0  # seconds from the key to the first note
SHORTEST = 2.0  # seconds of playing

Record = Attempt | Retraction


class SlipState(StrEnum):
    CALLING = "calling"
    PLAYING = "playing"
    INTERRUPTED = "interrupted"
    CHOOSING = "choosing"  # which other start was reached?
    OVER = "over"


class SlipAct(StrEnum):
    BEGIN = "begin"
    INTERRUPT = "interrupt"
    NEXT = "next"  # the next start was reached
    OTHER = "other"
    CHOOSE = "choose"
    NONE = "none"  # no start was reached
    CANCEL = "cancel"
    UNDO = "undo"
    STOP = "stop"


class SlipAction(Frozen, frozen=True):
    """An act, when it was done, and a fresh id for the record it may make; `start` is the one
    that was reached, for CHOOSE."""

    act: SlipAct
    at: datetime
    id: str = ""
    start: str = ""


class SlipCall(Frozen, frozen=True):
    """A start to begin at, those that may come next on the route, and the seconds from the key
    to the interruption."""

    start: str
    number: int
    place: str
    following: tuple[str, ...]
    wait: float


class Rehearsal(Frozen, frozen=True):
    """A rehearsal as it stands. `calls[position]` is the one to be played; `since` is when its
    playing began."""

    student: str
    machine: str
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

    @property
    def over(self) -> bool:
        return self.state is SlipState.OVER

    def allows(self, act: SlipAct) -> bool:
        """Whether an act does anything now."""
        return (self.state, act) in TABLE and (act is not SlipAct.UNDO or bool(self.tries))


Step = tuple[Rehearsal, tuple[Record, ...]]


def wait(start: Fraction, end: Fraction, tempo: float | None, rng: Random) -> float:
    """Seconds from the key to the interruption: the time to get ready, and then a quarter to
    all of the phrase between two positions in ql, at `tempo` quarter notes a minute."""
    whole = float(end - start) * 60 / (tempo or USUAL_TEMPO)
    return READY + max(SHORTEST, whole * rng.uniform(0.25, 1.0))


def step(rehearsal: Rehearsal, action: SlipAction) -> Step:
    """Do an action: the rehearsal afterwards, and the records to append. An act that the table
    does not know in this state changes nothing."""
    if not rehearsal.allows(action.act):
        return rehearsal, ()
    row = TABLE[rehearsal.state, action.act]
    after, records = row.do(rehearsal, action)
    ended = row.to is SlipState.CALLING and after.call is None
    return replace(after, state=SlipState.OVER if ended else row.to), records


def _began(rehearsal: Rehearsal, action: SlipAction) -> Step:
    return replace(rehearsal, since=action.at), ()


def _nothing_more(rehearsal: Rehearsal, _action: SlipAction) -> Step:
    return rehearsal, ()


def _next(rehearsal: Rehearsal, action: SlipAction) -> Step:
    call = rehearsal.calls[rehearsal.position]
    return _tried(rehearsal, action, call.following[0] if call.following else "")


def _none(rehearsal: Rehearsal, action: SlipAction) -> Step:
    return _tried(rehearsal, action, "")


def _chosen(rehearsal: Rehearsal, action: SlipAction) -> Step:
    return _tried(rehearsal, action, action.start)


def _tried(rehearsal: Rehearsal, action: SlipAction, reached: str) -> Step:
    """One rehearsal of a slip: through where the next start was reached, stopped where another
    one was, broke off where none was."""
    call = rehearsal.calls[rehearsal.position]
    outcome = Outcome.BROKE_OFF
    if reached:
        outcome = Outcome.THROUGH if reached in call.following else Outcome.STOPPED
    attempt = Attempt(
        id=action.id,
        student=rehearsal.student,
        deck=rehearsal.deck,
        revision=rehearsal.revision,
        start=call.start,
        machine=rehearsal.machine,
        at=action.at,
        day=practice_day(action.at),
        outcome=outcome,
        drill=SLIP,
        judge=rehearsal.judge,
        elsewhere=reached,
        seconds=max(0.0, (action.at - rehearsal.since).total_seconds()),
    )
    tries = (*rehearsal.tries, attempt)
    return replace(rehearsal, tries=tries, position=rehearsal.position + 1), (attempt,)


def _undo(rehearsal: Rehearsal, action: SlipAction) -> Step:
    """Take the last one back; its start is called again."""
    last = rehearsal.tries[-1]
    back = Retraction(action.id, last.id, rehearsal.machine, action.at, last.student)
    position, tries = rehearsal.position - 1, rehearsal.tries[:-1]
    return replace(rehearsal, position=position, tries=tries), (back,)


class Row(NamedTuple):
    """What an act does in a state, and the state it leads to."""

    do: Callable[[Rehearsal, SlipAction], Step]
    to: SlipState


TABLE: dict[tuple[SlipState, SlipAct], Row] = {
    (SlipState.CALLING, SlipAct.BEGIN): Row(_began, SlipState.PLAYING),
    (SlipState.PLAYING, SlipAct.INTERRUPT): Row(_nothing_more, SlipState.INTERRUPTED),
    (SlipState.INTERRUPTED, SlipAct.NEXT): Row(_next, SlipState.CALLING),
    (SlipState.INTERRUPTED, SlipAct.NONE): Row(_none, SlipState.CALLING),
    (SlipState.INTERRUPTED, SlipAct.OTHER): Row(_nothing_more, SlipState.CHOOSING),
    (SlipState.CHOOSING, SlipAct.CHOOSE): Row(_chosen, SlipState.CALLING),
    (SlipState.CHOOSING, SlipAct.CANCEL): Row(_nothing_more, SlipState.INTERRUPTED),
    (SlipState.CALLING, SlipAct.UNDO): Row(_undo, SlipState.CALLING),
    (SlipState.OVER, SlipAct.UNDO): Row(_undo, SlipState.CALLING),
    **{
        (state, SlipAct.STOP): Row(_nothing_more, SlipState.OVER)
        for state in SlipState
        if state is not SlipState.OVER
    },
}
