"""The words for outcomes, bands, hands and hints, shared by screens and command line."""

from __future__ import annotations

from typing import get_args

from trainer.memory.model import Band
from trainer.memory.verdict import band_of as band_of
from trainer.record.attempt import Outcome
from trainer.score.cite import counted as counted

BANDS: tuple[Band, ...] = get_args(Band)
BAND_SIGNS: dict[Band, str] = {"holds": "✓", "fading": "~", "weak": "!", "untried": "?"}
BAND_SHADES: dict[Band, str] = {"holds": "█", "fading": "▒", "weak": "░", "untried": "·"}
ASCII_SIGNS: dict[Band, str] = BAND_SIGNS | {"holds": "+"}
ASCII_SHADES: dict[Band, str] = {"holds": "#", "fading": "=", "weak": "-", "untried": "."}

NO_MORE_HINTS = "No more hints."
NO_NOTES = "The notes are not in this deck: look at your own copy of the score."

BAND_MEANINGS: dict[Band, str] = {
    "holds": "a cold attempt is likely to hold, into the next phrase",
    "fading": "it may not hold much longer: an attempt brings it back",
    "weak": "a cold attempt is likely to fail",
    "untried": "not tried cold yet",
}

OUTCOME_MEANINGS: dict[Outcome, str] = {
    Outcome.THROUGH: "began within about five seconds and crossed the join without a stop",
    Outcome.STOPPED: "began late, or crossed the join with a stop",
    Outcome.BROKE_OFF: "began right and did not reach the join",
    Outcome.LOOKED: "needed the music to begin",
    Outcome.NOTHING: "could not begin",
    Outcome.ELSEWHERE: "began at another start",
}

_OUTCOME_VERBS: dict[Outcome, str] = {
    Outcome.THROUGH: "went through",
    Outcome.STOPPED: "went on after a stop or a late beginning",
    Outcome.BROKE_OFF: "broke off",
    Outcome.LOOKED: "needed a look at the music",
    Outcome.NOTHING: "did not begin",
    Outcome.ELSEWHERE: "began elsewhere",
}


def outcome_sentence(
    number: int,
    outcome: Outcome,
    *,
    piece: str = "",
    place: str = "",
    other: int | None = None,
    into: str = "",
) -> str:
    """What a try was: "Start 7 broke off at b. 12.", "Start 7 of Study went through."

    `piece` is the title where it has to be said; `place` is where it broke off, in words;
    `other` the number of the start begun instead. `into` is what the join leads into where the
    join alone was called ("into start 6").
    """
    what = f"The join {into}" if into else f"Start {number}"
    start = f"{what} of {piece}" if piece else what
    if outcome is Outcome.ELSEWHERE and other is not None:
        return f"{start} began at start {other} instead."
    where = f" at {place}" if place and outcome is Outcome.BROKE_OFF else ""
    return f"{start} {_OUTCOME_VERBS[outcome]}{where}."


def band_sign(band: Band, *, ascii: bool = False) -> str:
    return (ASCII_SIGNS if ascii else BAND_SIGNS)[band]


def band_shade(band: Band, *, ascii: bool = False) -> str:
    return (ASCII_SHADES if ascii else BAND_SHADES)[band]


def hint_words(hints: tuple[str, ...]) -> str:
    """The hints taken, in words: "harmony and advice"; "none" where there were none."""
    return joined(list(hints)) or "none"


def percent(chance: float) -> str:
    """A chance (0-1) in whole percent; 100% and 0% only where it is exact."""
    rounded = round(100 * chance)
    if rounded == 100 and chance < 1:
        rounded = 99
    if rounded == 0 and chance > 0:
        rounded = 1
    return f"{rounded}%"


def joined(words: list[str]) -> str:
    """ "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"
