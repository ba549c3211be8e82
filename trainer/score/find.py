"""From a place as typed to a position: "12", "12:3", "12:2.5", "up5"."""

from __future__ import annotations

import re
from fractions import Fraction

from trainer.errors import TrainerError
from trainer.score.cite import whole
from trainer.score.model import Bar, Score

_BEAT = re.compile(r"\d{1,3}(\.\d{1,3}|\+\d{1,2}/\d{1,2})?")


def find(score: Score, text: str) -> Fraction:
    """The position of a place in words a person types.

    "12" is the first beat of the bar printed 12, "12:3" its beat 3, "12:2.5" half a beat
    after beat 2. Where two bars have the same label the first is meant. Raises TrainerError
    that says how to write a place.
    """
    label, colon, beat = text.strip().partition(":")
    bar = _bar(score, label.strip())
    if not colon:
        return bar.start
    beat = beat.strip()
    if not _BEAT.fullmatch(beat) or beat.endswith("/0"):
        raise TrainerError(f"{text!r} is no place; write a bar and a beat, such as 12:3 or 12:2.5.")
    onset = bar.start - bar.lead + (_number(beat) - 1) * bar.meter.beat
    end = whole(score, bar).end
    if not bar.start <= onset < end:
        first, last = float(bar.beat_at(bar.start)), float(bar.beat_at(end))
        raise TrainerError(
            f"Bar {bar.label} has no beat {beat}; its beats run from {first:g} to before {last:g}."
        )
    return onset


def _bar(score: Score, label: str) -> Bar:
    for bar in score.bars:
        if bar.label == label:
            return bar
    raise TrainerError(
        f"There is no bar {label!r} in {score.title}; its bars are printed "
        f"{score.bars[0].label} to {score.bars[-1].label}. Write a place as 12 or 12:3."
    )


def _number(beat: str) -> Fraction:
    whole, plus, rest = beat.partition("+")
    return Fraction(whole) + (Fraction(rest) if plus else 0)
