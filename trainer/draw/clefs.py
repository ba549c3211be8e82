"""The clefs of a passage: which is in force where, and what of it is drawn."""

from __future__ import annotations

from bisect import bisect_right
from typing import Literal

from trainer.draw.window import Window
from trainer.score.model import Score
from trainer.values import Frozen

_CLEF_PLACES = {"G": 32, "F": 24, "C": 28}  # the clef's own note, in steps from C0


class Clef(Frozen, frozen=True):
    """A sign on a line (1-5 from below); `octaves` is +1 for a small 8 above, -1 below."""

    sign: Literal["G", "F", "C"]
    line: int
    octaves: int = 0

    @property
    def row(self) -> int:
        return self.line - 1

    @property
    def bottom(self) -> int:
        """The place (steps from C0) of the lowest line."""
        return _CLEF_PLACES[self.sign] - 2 * (self.line - 1) + 7 * self.octaves

    @property
    def signs(self) -> tuple[tuple[int, str], ...]:
        """What is drawn, by row: the letter, and the 8 or 15 over or under it."""
        if not self.octaves:
            return ((self.row, self.sign),)
        beside = self.row + (1 if self.octaves > 0 else -1)
        return (self.row, self.sign), (beside, "8" if abs(self.octaves) == 1 else "15")


class Clefs:
    """The clefs of a window's staves, moment by moment (by the moments' index)."""

    def __init__(self, window: Window) -> None:
        self._clefs = {staff: _along(window, staff) for staff in window.staves}

    def at(self, staff: int, index: int) -> Clef:
        return self._clefs[staff][index]

    def changes(self, staff: int, index: int) -> bool:
        """Whether the clef is another one than at the moment before; not at the first."""
        clefs = self._clefs[staff]
        return index > 0 and clefs[index] != clefs[index - 1]


def _along(window: Window, staff: int) -> list[Clef]:
    """The clef in force at each moment; before the first one, the first."""
    marks = [mark for mark in window.score.marks_of("clef") if mark.staff == staff]
    found = [(mark.onset, clef) for mark in marks if (clef := _clef(mark.text))]
    if not found:
        return [_guess(window.score, staff)] * len(window.moments)
    places = [onset for onset, _ in found]
    return [found[max(0, bisect_right(places, m.onset) - 1)][1] for m in window.moments]


def _clef(text: str) -> Clef | None:
    sign, line, octaves = text[:1], text[1:2], text[2:]
    if sign not in _CLEF_PLACES or line not in "12345" or not line:
        return None
    if octaves and not 1 < int(line) < 5:
        return None  # no such clef: its 8 would stand off the staff
    shift = {"+8": 1, "-8": -1, "+15": 2, "-15": -2}.get(octaves, 0)
    return Clef("G" if sign == "G" else "F" if sign == "F" else "C", int(line), shift)


def _guess(score: Score, staff: int) -> Clef:
    """The clef that keeps most notes on the staff where the score gives none."""
    pitches = sorted(note.pitch for note in score.notes if note.staff == staff)
    return Clef("F", 4) if pitches and pitches[len(pitches) // 2] < 60 else Clef("G", 2)
