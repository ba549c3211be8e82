"""Fingerings that were typed as text, told apart from numbers of starts.

A teacher who numbers the starts of a piece writes each number once, in rising order. Fingers come
again and again, so digits up to 5 that do not rise throughout are fingers of the notes there.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from msgspec.structs import replace

from trainer.score.model import Mark, Note

_NUMBER = re.compile(r"\d{1,3}\.?")
_FINGER = re.compile(r"[1-5]([-/–][1-5])?")


def fingered(notes: Sequence[Note], marks: Sequence[Mark]) -> tuple[list[Note], list[Mark]]:
    """The notes with such fingers, and the marks without them."""
    texts = sorted((m for m in marks if m.kind == "text"), key=lambda mark: mark.onset)
    numbers = [int(mark.text.rstrip(".")) for mark in texts if _NUMBER.fullmatch(mark.text)]
    if all(one < other for one, other in pairwise(numbers)):
        return list(notes), list(marks)
    fingers: dict[tuple[Fraction, int], list[str]] = {}
    kept = []
    for mark in marks:
        if mark.kind == "text" and _FINGER.fullmatch(mark.text):
            fingers.setdefault((mark.onset, mark.staff), []).append(mark.text)
        else:
            kept.append(mark)
    found = list(notes)
    places: dict[tuple[Fraction, int], list[int]] = {}
    for place, note in enumerate(notes):
        if note.sounds and not note.grace:
            places.setdefault((note.onset, note.staff), []).append(place)
    for at, typed in fingers.items():
        free = [place for place in places.get(at, ()) if not found[place].fingers]
        for place, finger in zip(sorted(free, key=lambda p: -notes[p].pitch), typed, strict=False):
            found[place] = replace(found[place], fingers=(finger,))
    return found, kept
