"""A run-through as a pure state machine, written as a table.

The player plays a whole piece from memory. At a slip one key: the slip is in the log at once,
and where it was and where the playing went on may be told then or later, or never. Each action
makes a new run and a tuple of records that the caller must append to the log.

    playing   --slip-->  playing     over  --tell-->  over
    playing   --tell-->  playing     over  --undo-->  playing
    playing   --undo-->  playing     over  --slip-->  over
    playing   --hesitate-->  playing
    playing   --end--->  over        the end of the piece was reached
    playing   --stop-->  over        given up: nothing is said of the rest

A slip's attempt has as `start` the phrase that broke, as `broke_at` the place if said, and as
`elsewhere` the start where the playing was taken up again. A hesitation, of which only an
instrument tells, is no slip: its attempt says that the phrase in which it was, at `broke_at`, was
played with a stop. The end's attempt is one of the first start: through without a slip, else
stopped on the way. The `seconds` of all count from the beginning of the run.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from msgspec.structs import replace

from trainer.deck.model import Deck, revision
from trainer.record.attempt import (
    LONGEST,
    Attempt,
    Judge,
    Outcome,
    Retraction,
    Witness,
    practice_day,
)
from trainer.values import Frozen

RUN = "run-through"  # the drill kind's name in the log

Record = Attempt | Retraction


class RunState(StrEnum):
    PLAYING = "playing"
    OVER = "over"


class RunAct(StrEnum):
    SLIP = "slip"
    HESITATE = "hesitate"
    TELL = "tell"  # where a slip was, and where the playing went on
    END = "end"
    UNDO = "undo"
    STOP = "stop"


class RunAction(Frozen, frozen=True):
    """An act, when it was done, and a fresh id for each record it may make. For SLIP, HESITATE and
    TELL: the place and the id of the start where the playing went on, as far as known; for TELL
    also `which` slip, from 0 (-1: the last). `heard` is an instrument's own account of a slip or
    of the end, which then stands as it was heard until the player says otherwise."""

    act: RunAct
    at: datetime
    ids: tuple[str, ...] = ("", "", "")
    broke_at: Fraction | None = None
    resumed: str = ""
    which: int = -1
    heard: Witness | None = None


class Run(Frozen, frozen=True):
    """A run-through as it stands. `slips` and `hesitations` are those that stand, `end` is the
    attempt made at the end of the piece."""

    student: str
    machine: str
    deck: Deck
    began: datetime
    judge: Judge = "self"
    state: RunState = RunState.PLAYING
    slips: tuple[Attempt, ...] = ()
    hesitations: tuple[Attempt, ...] = ()
    end: Attempt | None = None
    revision: str = ""  # what its tries name, where the deck has a student's own layer over it

    @property
    def over(self) -> bool:
        return self.state is RunState.OVER

    def allows(self, act: RunAct) -> bool:
        """Whether an act does anything now."""
        wanting = (act is RunAct.TELL and not self.slips) or (
            act is RunAct.UNDO and not (self.slips or self.hesitations or self.over)
        )
        return (self.state, act) in TABLE and not wanting


Step = tuple[Run, tuple[Record, ...]]


def is_told(slip: Attempt) -> bool:
    """Whether anything is known of where a slip was."""
    return slip.broke_at is not None or bool(slip.elsewhere)


def step(run: Run, action: RunAction) -> Step:
    """Do an action: the run afterwards, and the records to append. An act that the table does
    not know in this state changes nothing."""
    if not run.allows(action.act):
        return run, ()
    row = TABLE[run.state, action.act]
    after, records = row.do(run, action)
    return replace(after, state=row.to), records


def _slip(run: Run, action: RunAction) -> Step:
    attempt = _attempt(run, action, _broken(run, action), Outcome.BROKE_OFF)
    seconds = _since(run, action)
    attempt = replace(attempt, broke_at=action.broke_at, elsewhere=action.resumed, seconds=seconds)
    return replace(run, slips=(*run.slips, attempt)), (attempt,)


def _late(run: Run, action: RunAction) -> Step:
    """A slip of which the player says afterwards that it was one: the end was not through."""
    run, records = _slip(run, action)
    if run.end is None or run.end.outcome is not Outcome.THROUGH:
        return run, records
    before, (_, back_id, end_id) = run.end, action.ids
    back = Retraction(back_id, before.id, run.machine, action.at, run.student)
    end = replace(before, id=end_id, outcome=Outcome.STOPPED, judge=run.judge, amends=before.id)
    return replace(run, end=end), (*records, back, end)


def _hesitate(run: Run, action: RunAction) -> Step:
    attempt = _attempt(run, action, _broken(run, action), Outcome.STOPPED)
    attempt = replace(attempt, broke_at=action.broke_at)
    return replace(run, hesitations=(*run.hesitations, attempt)), (attempt,)


def _tell(run: Run, action: RunAction) -> Step:
    """A slip is taken back, and one with its place stands in its stead."""
    slips = list(run.slips)
    if not -len(slips) <= action.which < len(slips):
        return run, ()
    before = slips[action.which]
    told = replace(
        before,
        id=action.ids[0],
        start=_broken(run, action),
        broke_at=action.broke_at,
        elsewhere=action.resumed,
        judge=run.judge,
        amends=before.id,
    )
    slips[action.which] = told
    back = Retraction(action.ids[1], before.id, run.machine, action.at, run.student)
    return replace(run, slips=tuple(slips)), (back, told)


def _end(run: Run, action: RunAction) -> Step:
    outcome = Outcome.STOPPED if run.slips else Outcome.THROUGH
    first = _attempt(run, action, _first(run.deck), outcome)
    attempt = replace(first, seconds=_since(run, action))
    return replace(run, end=attempt), (attempt,)


def _since(run: Run, action: RunAction) -> float:
    """The seconds since the run began; they tell which slips and which end are of one run."""
    return min(LONGEST, max(0.0, (action.at - run.began).total_seconds()))


def _undo(run: Run, action: RunAction) -> Step:
    """Take the end back, or else what was logged last; a run that was given up goes on."""
    if run.over and run.end is None:
        return run, ()
    last = run.end or max((*run.hesitations, *run.slips), key=lambda one: one.at)
    back = Retraction(action.ids[0], last.id, run.machine, action.at, run.student)
    slips = tuple(one for one in run.slips if one is not last)
    hesitations = tuple(one for one in run.hesitations if one is not last)
    return replace(run, slips=slips, hesitations=hesitations, end=None), (back,)


def _stop(run: Run, _action: RunAction) -> Step:
    return run, ()


def _first(deck: Deck) -> str:
    return deck.route[0] if deck.route else deck.starts[0].id


def _broken(run: Run, action: RunAction) -> str:
    return phrase_of(run.deck, action.broke_at, action.resumed)


def phrase_of(deck: Deck, broke_at: Fraction | None, resumed: str) -> str:
    """The start whose phrase broke: the one that holds the place; else the one that leads into
    where the playing went on; else the first."""
    if broke_at is not None:
        before = [start.id for start in deck.starts if start.onset <= broke_at]
        return before[-1] if before else deck.starts[0].id
    leading = deck.leading(resumed) if resumed else ()
    return leading[0] if leading else _first(deck)


def _attempt(run: Run, action: RunAction, start: str, outcome: Outcome) -> Attempt:
    return Attempt(
        id=action.ids[0],
        student=run.student,
        deck=run.deck.id,
        revision=run.revision or revision(run.deck),
        start=start,
        machine=run.machine,
        at=action.at,
        day=practice_day(action.at),
        outcome=outcome,
        drill=RUN,
        judge="heard" if action.heard else run.judge,
        heard=action.heard,
    )


class Row(NamedTuple):
    """What an act does in a state, and the state it leads to."""

    do: Callable[[Run, RunAction], Step]
    to: RunState


TABLE: dict[tuple[RunState, RunAct], Row] = {
    (RunState.PLAYING, RunAct.SLIP): Row(_slip, RunState.PLAYING),
    (RunState.PLAYING, RunAct.HESITATE): Row(_hesitate, RunState.PLAYING),
    (RunState.PLAYING, RunAct.TELL): Row(_tell, RunState.PLAYING),
    (RunState.PLAYING, RunAct.UNDO): Row(_undo, RunState.PLAYING),
    (RunState.PLAYING, RunAct.END): Row(_end, RunState.OVER),
    (RunState.PLAYING, RunAct.STOP): Row(_stop, RunState.OVER),
    (RunState.OVER, RunAct.SLIP): Row(_late, RunState.OVER),
    (RunState.OVER, RunAct.TELL): Row(_tell, RunState.OVER),
    (RunState.OVER, RunAct.UNDO): Row(_undo, RunState.PLAYING),
}
