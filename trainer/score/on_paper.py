"""A printed piece without a file: its score has bars and no notes.

Everything that goes by places works as with any other piece; what needs notes says that there are
none. The order of play is told in bars, and is kept in the score as the repeat signs of a file are.
"""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import pairwise

from trainer.errors import TrainerError
from trainer.score.cite import leads_into
from trainer.score.find import find
from trainer.score.model import Bar, Meter, Passage, Score, Staff
from trainer.score.route import MOST
from trainer.score.text import clean

MOST_BARS, MOST_TITLE = 2_000, 200
MOST_BEATS, UNITS = 64, (1, 2, 4, 8, 16, 32)


def on_paper(title: str, bars: int, meter: str, pickup: str = "", route: str = "") -> Score:
    """A score of so many full bars in one metre ("3/4"), printed 1 and on, with a pickup of so
    many of the metre's units before them ("1", "1.5"), played in the order of `route`
    ("1-16 1-15 17-64"), by default straight through. Raises TrainerError."""
    title = clean(title, MOST_TITLE).strip()
    if not title:
        raise TrainerError("A piece needs a title, such as 'Sonatina in G'.")
    if not 1 <= bars <= MOST_BARS:
        raise TrainerError(f"A piece has 1 to {MOST_BARS} bars, not {bars}.")
    time, lead = meter_of(meter), Fraction(0)
    made, at = [], Fraction(0)
    if pickup.strip() not in ("", "0"):
        length = _pickup(pickup, time)
        lead = time.length - length
        made.append(Bar(0, "0", at, length, time, lead=lead, upbeat=True))
        at = length
    for number in range(1, bars + 1):
        made.append(Bar(len(made), str(number), at, time.length, time, final=number == bars))
        at += time.length
    staves = (Staff(0, "right hand"), Staff(1, "left hand"))
    played = _played(route, bars, len(made) - bars)
    return Score(title, staves, tuple(made), (), played=played)


def bars_of(text: str) -> int:
    """A number of bars as typed. Raises TrainerError."""
    if not re.fullmatch(r"\d{1,6}", text.strip(), re.ASCII):
        raise TrainerError(f"{text!r} is not a number of bars; write such as 64.")
    return int(text)


def meter_of(text: str) -> Meter:
    """A metre as typed, "3/4". Raises TrainerError."""
    found = re.fullmatch(r"\s*(\d{1,3})\s*/\s*(\d{1,3})\s*", text, re.ASCII)
    if not found or not 0 < int(found[1]) <= MOST_BEATS or int(found[2]) not in UNITS:
        raise TrainerError(f"{text!r} is not a metre; write it as 3/4 or 6/8.")
    return Meter(int(found[1]), int(found[2]))


def _pickup(text: str, meter: Meter) -> Fraction:
    found = re.fullmatch(r"\s*\d{1,3}(\.\d{1,4})?\s*", text, re.ASCII)
    length = Fraction(text) * 4 / meter.unit if found else Fraction(0)
    if not 0 < length < meter.length:
        raise TrainerError(
            f"{text!r} is not a pickup of a bar in {meter}; write how many of its "
            f"{meter.count} parts it has, such as 1."
        )
    return length


def places(score: Score, text: str) -> list[Fraction]:
    """The starts as written, "1,9,17,25:3", in order; 1 is the pickup where there is one. Raises
    TrainerError for one that is no place of the score or comes twice, without the opening, and
    where the order of play goes back to a bar in which none begins: a route goes from start to
    start."""
    found: list[Fraction] = []
    for piece in text.split(","):
        at = score.bars[0].start if piece.strip() == "1" else find(score, piece.strip())
        if at in found:
            raise TrainerError(f"The start {piece.strip()} is there twice: leave one out.")
        found.append(at)
    if score.bars[0].start not in found:
        raise TrainerError("The first start is the opening: begin the list with 1.")
    begun = {leads_into(score, at).index for at in found}
    for before, part in pairwise(score.played):
        if part.first <= before.last and part.first not in begun:
            bar = score.bars[part.first].label
            raise TrainerError(
                f"The route goes back to bar {bar}, where no start is: add it to the starts."
            )
    return sorted(found)


def _played(text: str, last: int, pickups: int) -> tuple[Passage, ...]:
    """The passages of a route in printed bars, "1-16 1-15 17-64", of bars 1 to `last` with so many
    pickups before them; the first one begins with the pickup. Raises TrainerError."""
    parts = [_part(word, last) for word in re.split(r"[\s,;]+", text.strip()) if word]
    for (_, end), (first, until) in pairwise(parts):
        if end == first < until:
            raise TrainerError(
                f"The route plays bar {end} twice in a row, in {first}-{until}: begin with"
                f" {end + 1}, or write {end} once more by itself if that bar is repeated."
            )
    if parts and parts[0][0] != 1:
        raise TrainerError(f"The route begins with bar {parts[0][0]}: begin it with bar 1.")
    seen = {bar for first, end in parts for bar in range(first, end + 1)}
    if parts and (left := sorted(set(range(1, last + 1)) - seen)):
        raise TrainerError(f"The route leaves out bar {left[0]}; name every bar at least once.")
    if sum(end + 1 - first for first, end in parts) > MOST * last:
        raise TrainerError(f"The route plays each bar over {MOST} times: leave repeats out.")
    begun = [(first + pickups - 1, end + pickups - 1) for first, end in parts]
    return tuple(Passage(first if n else 0, end) for n, (first, end) in enumerate(begun))


def _part(word: str, last: int) -> tuple[int, int]:
    found = re.fullmatch(r"(\d{1,5})(?:-(\d{1,5}))?", word, re.ASCII)
    first, end = (int(found[1]), int(found[2] or found[1])) if found else (0, 0)
    if not 1 <= first <= end <= last:
        raise TrainerError(
            f"In the route, {word!r} is not a range of bars from 1 to {last}; write such as "
            "1-16 1-15 17-64."
        )
    return first, end
