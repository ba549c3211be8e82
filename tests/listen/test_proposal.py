"""What a verdict comes to, worked out by hand from the outcomes' own definitions."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

import pytest
from msgspec.structs import replace

from tests.listen.build import PIECE, after, chords, heard, played, score, start
from tests.pieces import piece_of
from trainer.deck.model import Piece
from trainer.listen.model import Jump, Pause, Verdict
from trainer.listen.proposal import DOUBTFUL, Lenience, propose
from trainer.record.attempt import Outcome, Witness
from trainer.score.cite import AMERICAN
from trainer.score.model import Mark

CLEAN = Verdict(
    asked=start(2),
    answer="yes",
    accepted=True,
    played=start(2),
    same=(start(2),),
    notes=50,
    latency=2.0,
    reached=35.0,
    join_reached=True,
    joined=9.0,
    tempo=120.0,
    sure={"answer": 0.9},
)
BROKEN = replace(CLEAN, join_reached=False, joined=None, reached=22.0, stopped=True, broke_at=22.0)


@dataclass
class Case:
    """A verdict, and what has to be said of it."""

    verdict: Verdict
    outcome: Outcome | None
    why: str
    witness: dict[str, Any] = field(default_factory=dict)
    piece: Piece = PIECE


def pause(seconds: float, onset: float, time: float = 5.0) -> Pause:
    return Pause(time, seconds, onset)


def with_marks(*marks: Mark) -> Piece:
    return replace(PIECE, score=replace(PIECE.score, marks=marks))


def repeated(first: int, last: int) -> Piece:
    """The piece with a repeat sign that closes bar `last`; on its route the way leads back."""
    whole = score()
    bars = tuple(
        replace(bar, repeat_start=bar.index == first - 1, repeat_times=2 * (bar.index == last - 1))
        for bar in whole.bars
    )
    return piece_of(replace(whole, bars=bars), (0, 16, 32, 48))


FERMATA = Mark("fermata", Fraction(21), end=Fraction(22))
BREATH = Mark("breath", Fraction(21), end=Fraction(22))
EARLIER = Mark("fermata", Fraction(20), end=Fraction(21))
LEFT = Jump(7.0, start(4), (start(4),))

CASES = {
    "through": Case(CLEAN, Outcome.THROUGH, "Start 2, as called, and on into the next phrase."),
    "to the end": Case(
        replace(CLEAN, asked=start(4), played=start(4)),
        Outcome.THROUGH,
        "Start 4, as called, and on to the end.",
    ),
    "as late as it may be": Case(
        replace(CLEAN, latency=5.0),
        Outcome.THROUGH,
        "Start 2, as called, and on into the next phrase.",
    ),
    "late": Case(
        replace(CLEAN, latency=5.1),
        Outcome.STOPPED,
        "Start 2, as called, but late (the first note after 5.1 seconds).",
    ),
    "a stop before the join": Case(
        replace(CLEAN, pauses=(pause(1.5, 20.0), pause(2.5, 22.0), pause(9.0, 34.0, 9.5))),
        Outcome.STOPPED,
        "Start 2, as called, but with a stop of 2.5 seconds before b. 6, beat 3.",
        {"broke_at": Fraction(22)},
    ),
    "a stop at the join": Case(
        replace(CLEAN, pauses=(pause(2.0, 32.0, 7.0),)),
        Outcome.STOPPED,
        "Start 2, as called, but with a stop of 2.0 seconds before b. 9.",
        {"broke_at": Fraction(32)},
    ),
    "a stop after the join": Case(
        replace(CLEAN, pauses=(pause(2.0, 34.0, 9.5),), stopped=True, broke_at=35.0),
        Outcome.THROUGH,
        "Start 2, as called, and on into the next phrase.",
    ),
    "a fermata is held": Case(
        replace(CLEAN, pauses=(pause(2.5, 22.0),)),
        Outcome.THROUGH,
        "Start 2, as called, and on into the next phrase.",
        piece=with_marks(FERMATA),
    ),
    "a breath": Case(
        replace(CLEAN, pauses=(pause(2.5, 22.0),)),
        Outcome.THROUGH,
        "Start 2, as called, and on into the next phrase.",
        piece=with_marks(BREATH),
    ),
    "a fermata elsewhere": Case(
        replace(CLEAN, pauses=(pause(2.5, 22.0),)),
        Outcome.STOPPED,
        "Start 2, as called, but with a stop of 2.5 seconds before b. 6, beat 3.",
        {"broke_at": Fraction(22)},
        with_marks(EARLIER),
    ),
    "a fermata and long after it": Case(
        replace(CLEAN, pauses=(pause(5.5, 22.0),)),
        Outcome.STOPPED,
        "Start 2, as called, but with a stop of 5.5 seconds before b. 6, beat 3.",
        {"broke_at": Fraction(22)},
        with_marks(FERMATA),
    ),
    "begun again, and late": Case(
        replace(CLEAN, latency=6.0, restarts=(7.0,), left=(20.0,)),
        Outcome.STOPPED,
        "Start 2, as called, but late (the first note after 6.0 seconds), begun again.",
    ),
    "a false start": Case(
        replace(CLEAN, restarts=(3.0,), left=(None,)),
        Outcome.STOPPED,
        "Start 2, as called, but after a false start.",
    ),
    "begun again after the join": Case(
        replace(CLEAN, restarts=(11.0,), left=(34.0,)),
        Outcome.THROUGH,
        "Start 2, as called, and on into the next phrase.",
    ),
    "broke off": Case(
        BROKEN,
        Outcome.BROKE_OFF,
        "Start 2, as called, but broken off at b. 6, beat 3.",
        {"broke_at": Fraction(22)},
    ),
    "broke off after a hesitation elsewhere": Case(
        replace(BROKEN, stopped=False, pauses=(pause(2.0, 18.0),), broke_at=18.0, latency=9.0),
        Outcome.BROKE_OFF,
        "Start 2, as called, but broken off at b. 6, beat 3.",
        {"broke_at": Fraction(22)},
    ),
    "went on elsewhere": Case(
        replace(BROKEN, jump=LEFT, broke_at=20.0, reached=55.0),
        Outcome.BROKE_OFF,
        "Start 2, as called, but left at b. 6 for start 4.",
        {"broke_at": Fraction(20)},
    ),
    "on from another start after the join": Case(
        replace(CLEAN, jump=replace(LEFT, time=12.0), broke_at=35.0),
        Outcome.THROUGH,
        "Start 2, as called, and on into the next phrase.",
    ),
    "back to the start that the repeat leads to": Case(
        replace(BROKEN, jump=Jump(8.0, start(1), (start(1), start(3))), broke_at=31.0),
        Outcome.THROUGH,
        "Start 2, as called, and on into the next phrase.",
        piece=repeated(1, 8),
    ),
    "back to it too soon": Case(
        replace(BROKEN, jump=Jump(8.0, start(1), (start(1), start(3))), broke_at=20.0),
        Outcome.BROKE_OFF,
        "Start 2, as called, but left at b. 6 for start 1.",
        {"broke_at": Fraction(20)},
        repeated(1, 8),
    ),
    "a phrase that is repeated": Case(
        replace(BROKEN, restarts=(4.0, 9.0), left=(18.0, 31.0)),
        Outcome.STOPPED,
        "Start 2, as called, but begun again.",
        piece=repeated(5, 8),
    ),
    "elsewhere": Case(
        replace(CLEAN, answer="no", accepted=False, played=start(1), asked=start(3), parts=40.0),
        Outcome.ELSEWHERE,
        "Start 1's opening, but 3 was called; they part at b. 11.",
        {"elsewhere": start(1)},
    ),
    "not sure": Case(
        replace(CLEAN, answer="unsure", sure={"answer": 0.55}),
        None,
        "Not sure: start 2, as called.",
        {"outcome": Outcome.THROUGH},
    ),
    "not sure elsewhere": Case(
        replace(CLEAN, answer="unsure", accepted=False, played=start(4), parts=None),
        None,
        "Not sure: start 4's opening, but 2 was called.",
        {"outcome": Outcome.ELSEWHERE, "elsewhere": start(4)},
    ),
    "an octave off": Case(
        replace(CLEAN, answer="no", accepted=False, shift=12),
        None,
        "Start 2, but an octave too high.",
        {"outcome": Outcome.THROUGH},
    ),
    "one hand, where both are wanted": Case(
        replace(CLEAN, answer="no", accepted=False, hands="left"),
        None,
        "Start 2, but with the left hand alone.",
        {"outcome": Outcome.THROUGH},
    ),
    "one hand": Case(
        replace(CLEAN, hands="left"),
        Outcome.THROUGH,
        "Start 2, as called, the left hand alone, and on into the next phrase.",
    ),
    "nothing of the piece": Case(
        Verdict(start(2), "no", False, "", notes=7, sure={"answer": 0.8}),
        None,
        "Nothing of the piece was recognised; start 2 was called.",
        {"outcome": Outcome.NOTHING, "notes": 7},
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_the_outcome_of_a_verdict(name: str) -> None:
    case = CASES[name]
    found = propose(case.verdict, case.piece)
    assert (found.outcome, found.why) == (case.outcome, case.why)
    sure = DOUBTFUL if case.outcome is None else 0.9  # where the player is asked it says little
    expected = Witness(case.outcome or Outcome.NOTHING, notes=50, sure=sure)
    assert found.witness == replace(expected, **case.witness)


def test_nothing_is_never_proposed() -> None:
    found = propose(Verdict(start(2), "no", False, ""), PIECE)
    assert (found.outcome, found.witness, found.why) == (None, None, "No note was heard.")


def test_what_goes_beside_it() -> None:
    verdict = replace(CLEAN, wrong=3, missed=2, extra=1, hands="right", tempo=66.5)
    found = propose(verdict, PIECE)
    assert (found.latency, found.tempo, found.hands) == (2.0, 66.5, "right")
    assert found.witness == Witness(Outcome.THROUGH, wrong=3, missed=2, extra=1, notes=50, sure=0.9)
    assert propose(replace(CLEAN, tempo=4000.0), PIECE).tempo is None  # no record takes it
    assert propose(replace(CLEAN, tempo=None), PIECE).tempo is None


def test_how_lenient_may_be_said() -> None:
    late = replace(CLEAN, latency=7.0)
    assert propose(late, PIECE, Lenience(begin=8.0)).outcome is Outcome.THROUGH
    assert propose(BROKEN, PIECE, words=AMERICAN).why.endswith("m. 6, beat 3.")


def test_from_the_notes_to_the_outcome() -> None:
    """A few tries heard whole; the verdicts above are the listener's own."""
    tries = {
        "through": played(chords(16, 36)),
        "late": played(chords(16, 36), at=7.0),
        "stop": after(played(chords(16, 22)), played(chords(22, 36)), 3.0),
        "again": after(played(chords(16, 22)), played(chords(16, 36)), 2.0),
        "off": played(chords(16, 22)),
        "jump": after(played(chords(16, 24)), played(chords(48, 62)), 0.8),
        "strayed": after(
            after(played(chords(16, 22)), played(chords(48, 56)), 0.8), played(chords(16, 36)), 2.0
        ),
        "else": played(chords(48, 60)),
    }
    found = {name: propose(heard(notes, 2), PIECE) for name, notes in tries.items()}
    assert {name: one.outcome for name, one in found.items()} == {
        "through": Outcome.THROUGH,
        "late": Outcome.STOPPED,
        "stop": Outcome.STOPPED,
        "again": Outcome.STOPPED,
        "off": Outcome.BROKE_OFF,
        "jump": Outcome.BROKE_OFF,
        "strayed": Outcome.STOPPED,
        "else": Outcome.ELSEWHERE,
    }
    assert found["off"].witness is not None
    assert found["off"].witness.broke_at == 21
    assert found["jump"].witness is not None
    assert found["jump"].witness.broke_at == 23


def test_a_repeated_phrase_from_the_notes() -> None:
    piece = repeated(1, 8)
    assert piece.deck.following(start(2)) == (start(1), start(3))
    back = propose(heard(after(played(chords(16, 32)), played(chords(0, 8)), 0.5), 2), piece)
    assert back.outcome is Outcome.THROUGH
    soon = propose(heard(after(played(chords(16, 24)), played(chords(0, 8)), 0.5), 2), piece)
    assert soon.outcome is Outcome.BROKE_OFF
