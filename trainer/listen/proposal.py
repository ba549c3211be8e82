"""What outcome a verdict comes to: a proposal, which a player may overrule. Pure.

through     begun where asked, the first note soon, into the next phrase without a stop
stopped     the same, but begun late or again, or with a stop on the way
broke off   begun where asked, and not come into the next phrase
elsewhere   begun at another start
None        not sure, or nothing that could be judged: the player's key decides
"""

from __future__ import annotations

from bisect import bisect_left
from fractions import Fraction
from typing import TYPE_CHECKING

from msgspec.structs import replace

from trainer.listen.model import exact
from trainer.listen.score import is_held
from trainer.listen.words import headline, number, where
from trainer.record.attempt import Outcome, Witness
from trainer.score.cite import BRITISH, Words
from trainer.values import Frozen

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.deck.model import Piece
    from trainer.listen.model import Hands, Pause, Verdict

DOUBTFUL = 0.5  # how sure what was heard is where the player is asked
BY_SOUND = 0.9  # how sure a microphone is beside a cable
FASTEST = 1000  # quarter notes a minute that a record takes


class Lenience(Frozen, frozen=True):
    """What is still through, in seconds. The first is the design's own; the others are chosen,
    without a source."""

    begin: float = 5.0  # until the first note
    hold: float = 5.0  # what a fermata or a breath mark may add before the next chord


class Proposal(Frozen, frozen=True):
    """An outcome, None where it is not sure, with what goes into the log beside it. `why` is one
    sentence."""

    outcome: Outcome | None
    witness: Witness | None
    latency: float | None
    tempo: float | None
    hands: Hands
    why: str


def propose(
    verdict: Verdict,
    piece: Piece,
    lenience: Lenience = Lenience(),  # noqa: B008
    words: Words = BRITISH,
) -> Proposal:
    """The outcome that a verdict on a start of the piece comes to."""
    guess, why = _guessed(verdict, piece, lenience, words)
    outcome: Outcome | None = guess
    told = headline(verdict, piece, words)
    if not verdict.notes:
        outcome, why = None, "No note was heard."
    elif not verdict.played or (not verdict.accepted and verdict.played == verdict.asked):
        outcome, why = None, told
    elif verdict.answer == "unsure":
        outcome, why = None, f"Not sure: {told[0].lower()}{told[1:]}"
    tempo = verdict.tempo if verdict.tempo and 0 < verdict.tempo <= FASTEST else None
    witness = _witness(verdict, guess, piece, lenience) if verdict.notes else None
    if witness and outcome is None:
        witness = replace(witness, sure=min(witness.sure, DOUBTFUL))
    return Proposal(outcome, witness, verdict.latency, tempo, verdict.hands, why)


def _guessed(
    verdict: Verdict, piece: Piece, lenience: Lenience, words: Words
) -> tuple[Outcome, str]:
    """The likeliest outcome, sure or not, and why."""
    if not verdict.played:
        return Outcome.NOTHING, ""
    if verdict.played != verdict.asked:
        return Outcome.ELSEWHERE, headline(verdict, piece, words)
    told = headline(verdict, piece, words).rstrip(".")
    joined = _joined(verdict, piece)
    if joined is None:
        return Outcome.BROKE_OFF, f"{told}, {_end(verdict, piece, words)}."
    faults = list(_faults(verdict, piece, joined, lenience, words))
    if faults:
        return Outcome.STOPPED, f"{told}, but {', '.join(faults)}."
    ends = piece.end_of(piece.deck.start(verdict.asked)) >= piece.score.end
    return Outcome.THROUGH, f"{told}, and on {'to the end' if ends else 'into the next phrase'}."


def _joined(verdict: Verdict, piece: Piece) -> float | None:
    """The seconds at which the join was crossed; None where it was not. On a route with repeats it
    may lead back: by a jump to a start that follows, or from the top again."""
    if verdict.joined is not None:
        return verdict.joined
    following = piece.deck.following(verdict.asked)
    back = [(time, left) for time, left in _times(verdict) if verdict.asked in following]
    if verdict.jump and {verdict.jump.to, *verdict.jump.same}.intersection(following):
        back.append((verdict.jump.time, verdict.broke_at))
    return next((time for time, left in back if _closes(left, verdict, piece)), None)


def _times(verdict: Verdict) -> Iterator[tuple[float, float | None]]:
    """When it was begun again, and the position left each time."""
    return zip(verdict.restarts, verdict.left, strict=True)


def _closes(left: float | None, verdict: Verdict, piece: Piece) -> bool:
    """Whether a place is in a bar that ends the phrase or a repeated passage."""
    if left is None:
        return False
    bar = piece.score.bar_at(exact(left))
    end = piece.end_of(piece.deck.start(verdict.asked))
    return bar.end >= end or bar.repeat_times > 0


def _faults(
    verdict: Verdict, piece: Piece, joined: float, lenience: Lenience, words: Words
) -> Iterator[str]:
    """What went wrong until the join, in words."""
    if verdict.latency is not None and verdict.latency > lenience.begin:
        yield f"late (the first note after {verdict.latency:.1f} seconds)"
    before = [left for time, left in _times(verdict) if time < joined]
    if before:
        yield "after a false start" if before == [None] else "begun again"
    if pause := _stop(verdict, piece, joined, lenience):
        place = where(piece, pause.onset, words)
        yield f"with a stop of {pause.seconds:.1f} seconds before {place}"


def _stop(verdict: Verdict, piece: Piece, joined: float, lenience: Lenience) -> Pause | None:
    """The longest stop before the join."""
    stops = [
        pause
        for pause in verdict.pauses
        if pause.time < joined and not (pause.seconds <= lenience.hold and _held(pause, piece))
    ]
    return max(stops, key=lambda pause: pause.seconds, default=None)


def _held(pause: Pause, piece: Piece) -> bool:
    """Whether a fermata or a breath mark stands between a chord and the one before it."""
    score, here = piece.score, exact(pause.onset)
    place = bisect_left(score.onsets, here)
    return is_held(score, score.onsets[place - 1] if place else here, here)


def _end(verdict: Verdict, piece: Piece, words: Words) -> str:
    """How a try came to its end before the join, in words."""
    at = _broke(verdict)
    place = "" if at is None else f" at {where(piece, float(at), words)}"
    if verdict.jump:
        return f"but left{place} for start {number(piece, verdict.jump.to)}"
    return f"but broken off{place}"


def _broke(verdict: Verdict) -> Fraction | None:
    """Where a try that did not reach the join came to its end."""
    at = verdict.broke_at if verdict.jump else verdict.reached
    return None if at is None else exact(at)


def _witness(verdict: Verdict, outcome: Outcome, piece: Piece, lenience: Lenience) -> Witness:
    joined, broke = _joined(verdict, piece), None
    if outcome is Outcome.BROKE_OFF:
        broke = _broke(verdict)
    elif outcome is Outcome.STOPPED and joined is not None:
        stop = _stop(verdict, piece, joined, lenience)
        broke = None if stop is None else exact(stop.onset)
    return Witness(
        outcome=outcome,
        elsewhere=verdict.played if outcome is Outcome.ELSEWHERE else "",
        broke_at=broke,
        wrong=verdict.wrong,
        missed=verdict.missed,
        extra=verdict.extra,
        notes=verdict.notes,
        sure=verdict.sure.get("answer", 0.0) * (1.0 if verdict.counted else BY_SOUND),
    )
