"""From a place as typed to a position: "12", "12:3", "12:2.5", "up5"."""

from __future__ import annotations

import re
from fractions import Fraction
from math import ceil

from trainer.errors import TrainerError
from trainer.score.cite import counted, whole
from trainer.score.model import Bar, Score

_BEAT = re.compile(r"\d{1,3}(\.\d{1,3}|\+\d{1,2}/\d{1,2})?")


def find(score: Score, text: str) -> Fraction:
    """The position of a place in words a person types.

    "12" is the first beat of the bar printed 12, "12:3" its beat 3, "12:2.5" half a beat
    after beat 2. Where several bars are printed 12, "12#2" is the second of them, and "12" alone
    is refused. Raises TrainerError that says how to write a place.
    """
    label, colon, beat = text.strip().partition(":")
    bar = _bar(score, label.strip())
    if not colon:
        return bar.start
    beat = beat.strip()
    if not _BEAT.fullmatch(beat) or beat.endswith("/0"):
        raise TrainerError(
            f"{text!r} is not a place; write a bar and a beat, such as 12:3 or 12:2.5."
        )
    onset = bar.start - bar.lead + (_number(beat) - 1) * bar.meter.beat
    end = whole(score, bar).end
    if not bar.start <= onset < end:
        first, last = ceil(bar.beat_at(bar.start)), ceil(bar.beat_at(end)) - 1
        beats = f"beats {first} to {last}" if first < last else f"beat {last} alone"
        raise TrainerError(f"Bar {bar.label} has no beat {beat}; it has {beats}.")
    return onset


def _bar(score: Score, typed: str) -> Bar:
    label, hash_, nth = typed.partition("#")
    found = [bar for bar in score.bars if bar.label == label and not bar.continues]
    if hash_ and nth.isdecimal() and 0 < int(nth[:6]) <= len(found):
        return found[int(nth) - 1]
    if found and (hash_ or len(found) > 1):
        raise TrainerError(
            f"{counted(len(found), 'bar is', 'bars are')} printed {label} in {score.title}: write "
            f"{label}#1 for the first of them and so on."
        )
    if found:
        return found[0]
    raise TrainerError(
        f"There is no bar {label!r} in {score.title}; its bars are numbered "
        f"{score.bars[0].label} to {score.bars[-1].label}. Write a place as 12 or 12:3."
    )


def _number(beat: str) -> Fraction:
    whole, plus, rest = beat.partition("+")
    return Fraction(whole) + (Fraction(rest) if plus else 0)
