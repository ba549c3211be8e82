"""How far a judgement of a try is taken at its word.

A player is kind now and then, and lets a start pass that did not hold; an instrument may mistake
what it hears. Let k be the chance of such a kind word and m that of a mistaken ear, independent of
each other. Then the reports of a try are k times as likely where it went otherwise than judged as
where it went as judged; k * m times where an instrument says the same, k / m times where it says
otherwise. The constants are our own, held against simulated students
(`tests/benchmarks/heard_season.py`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.memory.evidence import Part
from trainer.record.attempt import Attempt, Judge, Outcome

if TYPE_CHECKING:
    from trainer.memory.grid import Grade

LATE = 5.0  # seconds after which a start began late
# The chance that a start which did not hold is called stopped; through, half of that. A heard
# try stands as it was heard only where the player lets it stand.
KIND: dict[Judge, float] = {"self": 0.07, "heard": 0.07, "teacher": 0.02}
HARSH = 0.01  # the chance that a try is called worse than it went
MISTAKEN = 0.02  # the chance that an instrument which is wholly sure is mistaken
ROUGH = 0.2  # notes that are not the written ones, to each that was played

_START: dict[Outcome, Grade] = {
    Outcome.THROUGH: "clean",
    Outcome.STOPPED: "hesitant",
    Outcome.BROKE_OFF: "clean",
    Outcome.LOOKED: "looked",
    Outcome.NOTHING: "lost",
    Outcome.ELSEWHERE: "lost",
}
_JOIN: dict[Outcome, Grade] = {
    Outcome.THROUGH: "clean",
    Outcome.STOPPED: "hesitant",
    Outcome.BROKE_OFF: "failed",  # how badly is not known
}
_BEST_FIRST: tuple[Grade, ...] = ("clean", "hesitant", "looked", "failed", "lost")


def judged(one: Attempt, part: Part) -> Grade:
    """What the judge's word says of that part. Raises KeyError where it says nothing of it."""
    found = _grade(one, one.outcome, part)
    if found is None:
        raise KeyError(one.outcome)
    return found


def otherwise(one: Attempt, part: Part) -> tuple[Grade, float] | None:
    """How that part may have gone instead, and how many times as likely the reports of it are
    then; None where the word is taken as it is. That the page was looked at, no instrument
    knows better."""
    grade = judged(one, part)
    heard = _grade(one, one.heard.outcome, part) if one.heard else None
    word = KIND[one.judge] * (0.5 if grade == "clean" else 1.0)
    if heard is not None and heard != grade and grade != "looked":
        kinder = _BEST_FIRST.index(grade) < _BEST_FIRST.index(heard)
        return heard, (word if kinder else HARSH) / _mistaken(one)
    if not holds(grade):
        return None
    return "failed", word * (_mistaken(one) if heard or one.judge == "heard" else 1.0)


def holds(grade: Grade) -> bool:
    return grade in ("clean", "hesitant")


def _grade(one: Attempt, outcome: Outcome, part: Part) -> Grade | None:
    """What an outcome of this try says of that part."""
    late = one.latency is not None and one.latency > LATE
    if outcome is Outcome.BROKE_OFF and part == "start" and late:
        return "hesitant"
    if outcome is Outcome.THROUGH and _rough(one):
        return "hesitant"
    return (_JOIN if part == "join" else _START).get(outcome)


def _rough(one: Attempt) -> bool:
    """Whether too many notes were not the written ones for the playing to be clean."""
    heard = one.heard
    if heard is None:
        return False
    return heard.wrong + heard.missed + heard.extra > ROUGH * heard.notes


def _mistaken(one: Attempt) -> float:
    """The chance that the instrument is mistaken. Of one that says nothing of how sure it is,
    the try stood as it was heard: it was sure."""
    return 1 - (1 - MISTAKEN) * (one.heard.sure if one.heard else 1.0)
