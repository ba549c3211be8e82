"""What a report of an attempt says: the likelihood of each grade.

A cell gives the chance p that a cold attempt goes through: it begins right and crosses the join
into the next phrase. Let x be its logit. How well it went or how badly it failed tells a little
more: a clean attempt is one that would have gone through with a logit less, one that needed a look
one that would have with a little more. People grade unlike each other, so only a share GRADED of
the grades is taken to follow x; the rest is as likely for any x. So the likelihood of each grade is
a weighted sum of logistic functions of x. An attempt that broke off did not go through, and no more
is known; where a drill shows only that a start was begun right, it may still have broken off.

A report may be wrong. A player is kind now and then, and lets a start pass that did not hold; an
instrument may mistake what it hears. Let k be the chance of such a kind word and m that of a
mistaken ear, independent of each other. Then the reports are k times as likely where it went
otherwise than judged as where it went as judged; k * m times where an instrument says the same,
k / m times where it says otherwise. The constants are our own, held against simulated students
(`tests/benchmarks/heard_season.py`).
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from trainer.memory.evidence import Part
from trainer.record.attempt import Attempt, Judge, Outcome

Grade = Literal["clean", "hesitant", "begun", "failed", "looked", "lost"]

# The chance that a start which did not hold is called stopped; through, half of that. A heard
# try stands as it was heard only where the player lets it stand.
KIND: dict[Judge, float] = {"self": 0.07, "heard": 0.07, "teacher": 0.02}
HARSH = 0.01  # the chance that a try is called worse than it went
MISTAKEN = 0.02  # the chance that an instrument which is wholly sure is mistaken
ROUGH = 0.2  # notes that are not the written ones, to each that was played
GRADED = 0.5  # of the grades that follow the chance
CLEAN, NEAR = 1.0, 1.2  # logits between hesitant and clean, and between lost and a look
BEGUN = 0.4  # of the attempts that do not go through, those that begin right, where no log says

_GRADES: dict[Outcome, Grade] = {
    Outcome.THROUGH: "clean",
    Outcome.STOPPED: "hesitant",
    Outcome.BROKE_OFF: "failed",
    Outcome.LOOKED: "looked",
    Outcome.NOTHING: "lost",
    Outcome.ELSEWHERE: "lost",
}
_BEST_FIRST: tuple[Grade, ...] = ("clean", "hesitant", "begun", "failed", "looked", "lost")


class Likelihood(NamedTuple):
    """How likely a report is, as held + failed with s the logistic function:

    held   = held * s(x) + clean * s(x - CLEAN)
    failed = failed * (1 - s(x)) + lost * (1 - s(x + NEAR))
    """

    held: float
    clean: float
    failed: float
    lost: float

    def plus(self, other: Likelihood, times: float) -> Likelihood:
        """Of a report that may also mean another grade, so many times as likely then."""
        return Likelihood(*(a + times * b for a, b in zip(self, other, strict=True)))


GRADES: dict[Grade, Likelihood] = {
    "clean": Likelihood(0.6 * (1 - GRADED), GRADED, 0.0, 0.0),
    "hesitant": Likelihood(0.4 * (1 - GRADED) + GRADED, -GRADED, 0.0, 0.0),
    "begun": Likelihood(1.0, 0.0, BEGUN, 0.0),
    "failed": Likelihood(0.0, 0.0, 1.0, 0.0),
    "looked": Likelihood(0.0, 0.0, 0.5 * (1 - GRADED) + GRADED, -GRADED),
    "lost": Likelihood(0.0, 0.0, 0.5 * (1 - GRADED), GRADED),
}


def likelihood(one: Attempt, seen: Part) -> Likelihood:
    """That of what was reported of the part that was seen, all doubts counted in."""
    instead = otherwise(one, seen)
    found = GRADES[_grade(one, one.outcome, seen)]
    return found.plus(GRADES[instead[0]], instead[1]) if instead else found


def otherwise(one: Attempt, seen: Part) -> tuple[Grade, float] | None:
    """How it may have gone instead, and how many times as likely the reports of it are then; None
    where the word is taken as it is. That the page was looked at, no instrument knows better."""
    grade = _grade(one, one.outcome, seen)
    knows = one.heard and (seen != "join" or one.heard.outcome.start_held)
    heard = _grade(one, one.heard.outcome, seen) if one.heard and knows else None
    word = KIND[one.judge] * (0.5 if grade == "clean" else 1.0)
    if heard is not None and heard != grade and grade != "looked":
        kinder = _BEST_FIRST.index(grade) < _BEST_FIRST.index(heard)
        return heard, (word if kinder else HARSH) / _mistaken(one)
    if grade not in ("clean", "hesitant", "begun"):
        return None
    return "failed", word * (_mistaken(one) if heard or one.judge == "heard" else 1.0)


def _grade(one: Attempt, outcome: Outcome, seen: Part) -> Grade:
    """What an outcome of this try says."""
    if seen == "start" and outcome.start_held:
        return "begun"
    if outcome is Outcome.THROUGH and _rough(one):
        return "hesitant"
    return _GRADES[outcome]


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
