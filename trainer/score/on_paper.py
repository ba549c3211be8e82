"""A printed piece without a file: its score has bars and no notes.

Everything that goes by places works as with any other piece; what needs notes says that there are
none.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from trainer.errors import TrainerError
from trainer.score.find import find
from trainer.score.model import Bar, Meter, Score, Staff

MOST_BARS = 2_000
MOST_BEATS, UNITS = 64, (1, 2, 4, 8, 16, 32)


def on_paper(title: str, bars: int, meter: str, pickup: str = "") -> Score:
    """A score of so many full bars in one metre ("3/4"), printed 1 and on, with a pickup of so
    many of the metre's units before them ("1", "1.5"). Raises TrainerError."""
    if not title.strip():
        raise TrainerError("A piece needs a title, such as 'Sonatina in G'.")
    if not 1 <= bars <= MOST_BARS:
        raise TrainerError(f"A piece has 1 to {MOST_BARS} bars, not {bars}.")
    time, lead = _meter(meter), Fraction(0)
    made, at = [], Fraction(0)
    if pickup:
        length = _pickup(pickup, time)
        lead = time.length - length
        made.append(Bar(0, "0", at, length, time, lead=lead, upbeat=True))
        at = length
    for number in range(1, bars + 1):
        made.append(Bar(len(made), str(number), at, time.length, time, final=number == bars))
        at += time.length
    staves = (Staff(0, "right hand"), Staff(1, "left hand"))
    return Score(title.strip(), staves, tuple(made), ())


def _meter(text: str) -> Meter:
    found = re.fullmatch(r"\s*(\d{1,3})\s*/\s*(\d{1,3})\s*", text)
    if not found or not 0 < int(found[1]) <= MOST_BEATS or int(found[2]) not in UNITS:
        raise TrainerError(f"{text!r} is not a metre; write it as 3/4 or 6/8.")
    return Meter(int(found[1]), int(found[2]))


def _pickup(text: str, meter: Meter) -> Fraction:
    found = re.fullmatch(r"\s*\d{1,3}(\.\d{1,4})?\s*", text)
    length = Fraction(text) * 4 / meter.unit if found else Fraction(0)
    if not 0 < length < meter.length:
        raise TrainerError(
            f"{text!r} is not a pickup of a bar in {meter}; write how many of its "
            f"{meter.count} parts it has, such as 1."
        )
    return length


def places(score: Score, text: str) -> list[Fraction]:
    """The starts as written, "1,9,17,25:3", in order; 1 is the pickup where there is one. Raises
    TrainerError for one that is no place of the score or comes twice, and without the opening."""
    found: list[Fraction] = []
    for piece in text.split(","):
        at = score.bars[0].start if piece.strip() == "1" else find(score, piece.strip())
        if at in found:
            raise TrainerError(f"The start {piece.strip()} is there twice: leave one out.")
        found.append(at)
    if score.bars[0].start not in found:
        raise TrainerError("The first start is the opening: begin the list with 1.")
    return sorted(found)


def played(score: Score, text: str, starts: Sequence[Fraction]) -> list[int]:
    """The starts, by their index, in the order in which they are played, from ranges of printed
    bars as "1-16 1-15 17-64". A range may skip bars, as an ending does; where it goes back, a start
    must begin, for a route goes from start to start. Raises TrainerError."""
    last = int(score.bars[-1].label)
    bars = [max(1, int(score.bar_at(at).label)) for at in starts]
    seen: set[int] = set()
    order: list[int] = []
    before = 0
    for word in text.split():
        first, end = _range(word, last)
        if not order and first != 1:
            raise TrainerError("The route begins with bar 1: write such as 1-16 1-15 17-64.")
        if first == before:
            raise TrainerError(f"The route plays bar {first} twice in a row; write {first + 1} on.")
        if first < before and first not in bars:
            raise TrainerError(
                f"The route goes back to bar {first}, where no start is: add it to --starts."
            )
        seen.update(range(first, end + 1))
        order += [index for index, bar in enumerate(bars) if first <= bar <= end]
        before = end
    if left := sorted(set(range(1, last + 1)) - seen):
        raise TrainerError(f"The route leaves out bar {left[0]}; name every bar at least once.")
    return order


def _range(word: str, last: int) -> tuple[int, int]:
    """The first and last bar of "1-16"."""
    found = re.fullmatch(r"(\d{1,5})(?:-(\d{1,5}))?", word)
    first, end = (int(found[1]), int(found[2] or found[1])) if found else (0, 0)
    if not 1 <= first <= end <= last:
        raise TrainerError(
            f"In the route, {word!r} is not a range of bars from 1 to {last}; write such as "
            "1-16 1-15 17-64."
        )
    return first, end
