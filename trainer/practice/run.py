"""Playing on after a slip: the run-through of a piece and the slip rehearsal, as pure values.

In a run-through the player plays the whole piece from memory; each slip is told at once or
afterwards, with the place where it was and the start where the playing was taken up again. In
a slip rehearsal the program interrupts after a while, and the player goes on from the next
start. Both give attempts for the log: `start` is the phrase that broke, `broke_at` the place if
said, `elsewhere` the start where the playing went on.
"""

from __future__ import annotations

from datetime import datetime
from fractions import Fraction
from random import Random

from msgspec.structs import replace

from trainer.deck.model import Deck, Start, revision
from trainer.record.attempt import Attempt, Judge, Outcome, Retraction, practice_day
from trainer.values import Frozen

RUN, SLIP = "run-through", "slip"  # the drill kinds' names in the log
SLOWEST = 40.0  # quarter notes a minute, where the score gives no tempo


class Run(Frozen, frozen=True):
    """A run-through as it stands. `over` is set by its end; `slips` are those that stand."""

    student: str
    machine: str
    deck: Deck
    began: datetime
    judge: Judge = "self"
    slips: tuple[Attempt, ...] = ()
    end: Attempt | None = None

    @property
    def over(self) -> bool:
        return self.end is not None


Step = tuple[Run, tuple[Attempt | Retraction, ...]]


def slip(
    run: Run, at: datetime, new_id: str, *, broke_at: Fraction | None = None, resumed: str = ""
) -> Step:
    """A slip: where the playing broke, and the id of the start where it went on, as far as
    known. Nothing happens after the end."""
    if run.over:
        return run, ()
    broken = phrase_of(run.deck, broke_at, resumed)
    attempt = _attempt(run, at, new_id, broken, Outcome.BROKE_OFF, broke_at, resumed)
    return replace(run, slips=(*run.slips, attempt)), (attempt,)


def undo(run: Run, at: datetime, new_id: str) -> Step:
    """Take the end back, or else the last slip; the log keeps it beside its retraction."""
    last = run.end or (run.slips[-1] if run.slips else None)
    if last is None:
        return run, ()
    back = Retraction(new_id, last.id, run.machine, at)
    if run.end:
        return replace(run, end=None), (back,)
    return replace(run, slips=run.slips[:-1]), (back,)


def finish(run: Run, at: datetime, new_id: str) -> Step:
    """The end of the piece was reached: through without a slip, else stopped on the way."""
    if run.over:
        return run, ()
    outcome = Outcome.STOPPED if run.slips else Outcome.THROUGH
    first = run.deck.route[0] if run.deck.route else run.deck.starts[0].id
    seconds = max(0.0, (at - run.began).total_seconds())
    attempt = replace(_attempt(run, at, new_id, first, outcome, None, ""), seconds=seconds)
    return replace(run, end=attempt), (attempt,)


def phrase_of(deck: Deck, broke_at: Fraction | None, resumed: str) -> str:
    """The start whose phrase broke: the one that holds the place; else the one that leads into
    where the playing went on; else the first."""
    if broke_at is not None:
        before = [start.id for start in deck.starts if start.onset <= broke_at]
        return before[-1] if before else deck.starts[0].id
    leading = deck.leading(resumed) if resumed else ()
    return leading[0] if leading else deck.starts[0].id


def _attempt(
    run: Run,
    at: datetime,
    new_id: str,
    start: str,
    outcome: Outcome,
    broke_at: Fraction | None,
    resumed: str,
) -> Attempt:
    return Attempt(
        id=new_id,
        student=run.student,
        deck=run.deck.id,
        revision=revision(run.deck),
        start=start,
        machine=run.machine,
        at=at,
        day=practice_day(at),
        outcome=outcome,
        drill=RUN,
        judge=run.judge,
        broke_at=broke_at,
        elsewhere=resumed,
    )


def interruption(start: Fraction, end: Fraction, tempo: float | None, rng: Random) -> float:
    """Seconds after which a slip rehearsal interrupts: somewhere from a quarter to all of the
    phrase between two positions in ql, at `tempo` quarter notes a minute."""
    whole = float(end - start) * 60 / (tempo or SLOWEST)
    return max(2.0, whole * rng.uniform(0.25, 1.0))


def rehearsed(
    deck: Deck,
    start: Start,
    resumed: str | None,
    *,
    student: str,
    machine: str,
    at: datetime,
    new_id: str,
    seconds: float,
) -> Attempt:
    """The record of a slip rehearsal: `resumed` is the start that was reached, None where the
    player could not go on. The next start on the route is through, a later one is stopped."""
    following = deck.following(start.id)
    if resumed is None:
        outcome = Outcome.BROKE_OFF
    else:
        outcome = Outcome.THROUGH if resumed in following else Outcome.STOPPED
    return Attempt(
        id=new_id,
        student=student,
        deck=deck.id,
        revision=revision(deck),
        start=start.id,
        machine=machine,
        at=at,
        day=practice_day(at),
        outcome=outcome,
        drill=SLIP,
        elsewhere=resumed or "",
        seconds=seconds,
    )
