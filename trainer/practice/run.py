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

from datetime import datetime
from enum import StrEnum
from fractions import Fraction

from msgspec.structs import replace

from trainer.deck.model import Deck, revision
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
    within,
)
from trainer.record.attempt import Attempt, Judge, Outcome

RUN = "run-through"  # the drill kind's name in the log


class RunState(StrEnum):
    PLAYING = "playing"
    OVER = "over"


class Run(Exercise, frozen=True):
    """A run-through as it stands. `slips` and `hesitations` are those that stand, `end` is the
    attempt made at the end of the piece."""

    deck: Deck
    began: datetime
    judge: Judge = "self"
    state: RunState = RunState.PLAYING
    slips: tuple[Attempt, ...] = ()
    hesitations: tuple[Attempt, ...] = ()
    end: Attempt | None = None
    revision: str = ""  # what its tries name, where the deck has a student's own layer over it

    def allows(self, act: Act) -> bool:
        wanting = (act is Act.TELL and not self.slips) or (
            act is Act.UNDO and not (self.slips or self.hesitations or self.over)
        )
        return Exercise.allows(self, act) and not wanting


Step = tuple[Run, tuple[Record, ...]]


def is_told(slip: Attempt) -> bool:
    """Whether anything is known of where a slip was."""
    return slip.broke_at is not None or bool(slip.elsewhere)


def _slip(run: Run, action: Action) -> Step:
    made = _attempt(run, action, _broken(run, action), Outcome.BROKE_OFF)
    seconds = _since(run, action)
    made = replace(made, broke_at=action.broke_at, elsewhere=action.start, seconds=seconds)
    return replace(run, slips=(*run.slips, made)), (made,)


def _late(run: Run, action: Action) -> Step:
    """A slip of which the player says afterwards that it was one: the end was not through."""
    run, records = _slip(run, action)
    if run.end is None or run.end.outcome is not Outcome.THROUGH:
        return run, records
    before, back = run.end, taken_back(run, action, run.end, 1)
    end = replace(
        before, id=action.ids[2], outcome=Outcome.STOPPED, judge=run.judge, amends=before.id
    )
    return replace(run, end=end), (*records, back, end)


def _hesitate(run: Run, action: Action) -> Step:
    made = _attempt(run, action, _broken(run, action), Outcome.STOPPED)
    made = replace(made, broke_at=action.broke_at)
    return replace(run, hesitations=(*run.hesitations, made)), (made,)


def _tell(run: Run, action: Action) -> Step:
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
        elsewhere=action.start,
        judge=run.judge,
        amends=before.id,
    )
    slips[action.which] = told
    back = taken_back(run, action, before, 1)
    return replace(run, slips=tuple(slips)), (back, told)


def _end(run: Run, action: Action) -> Step:
    outcome = Outcome.STOPPED if run.slips else Outcome.THROUGH
    first = _attempt(run, action, _first(run.deck), outcome)
    end = replace(first, seconds=_since(run, action))
    return replace(run, end=end), (end,)


def _since(run: Run, action: Action) -> float:
    """The seconds since the run began; they tell which slips and which end are of one run."""
    return within((action.at - run.began).total_seconds())


def _undo(run: Run, action: Action) -> Step:
    """Take the end back, or else what was logged last; a run that was given up goes on."""
    if run.over and run.end is None:
        return run, ()
    last = run.end or max((*run.hesitations, *run.slips), key=lambda one: one.at)
    back = taken_back(run, action, last)
    slips = tuple(one for one in run.slips if one is not last)
    hesitations = tuple(one for one in run.hesitations if one is not last)
    return replace(run, slips=slips, hesitations=hesitations, end=None), (back,)


def _first(deck: Deck) -> str:
    return deck.route[0] if deck.route else deck.starts[0].id


def _broken(run: Run, action: Action) -> str:
    return phrase_of(run.deck, action.broke_at, action.start)


def phrase_of(deck: Deck, broke_at: Fraction | None, resumed: str) -> str:
    """The start whose phrase broke: the one that holds the place; else the one that leads into
    where the playing went on; else the first."""
    if broke_at is not None:
        before = [start.id for start in deck.starts if start.onset <= broke_at]
        return before[-1] if before else deck.starts[0].id
    leading = deck.leading(resumed) if resumed else ()
    return leading[0] if leading else _first(deck)


def _attempt(run: Run, action: Action, start: str, outcome: Outcome) -> Attempt:
    return attempt(
        run,
        action,
        outcome,
        deck=run.deck.id,
        revision=run.revision or revision(run.deck),
        start=start,
        drill=RUN,
        judge="heard" if action.heard else run.judge,
        heard=action.heard,
    )


TABLES[Run] = {
    (RunState.PLAYING, Act.SLIP): Row(_slip, RunState.PLAYING),
    (RunState.PLAYING, Act.HESITATE): Row(_hesitate, RunState.PLAYING),
    (RunState.PLAYING, Act.TELL): Row(_tell, RunState.PLAYING),
    (RunState.PLAYING, Act.UNDO): Row(_undo, RunState.PLAYING),
    (RunState.PLAYING, Act.END): Row(_end, RunState.OVER),
    (RunState.PLAYING, Act.STOP): Row(nothing_more, RunState.OVER),
    (RunState.OVER, Act.SLIP): Row(_late, RunState.OVER),
    (RunState.OVER, Act.TELL): Row(_tell, RunState.OVER),
    (RunState.OVER, Act.UNDO): Row(_undo, RunState.PLAYING),
}
