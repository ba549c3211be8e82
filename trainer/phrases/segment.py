"""Where the phrases of a score begin, with the reasons."""

from __future__ import annotations

from bisect import bisect_left
from fractions import Fraction

from trainer.phrases.model import Density, Proposal, Reason
from trainer.score.model import Score

_GRID_BARS = {"fewer": 8, "usual": 4, "more": 2}


def propose(score: Score, density: Density = "usual") -> tuple[Proposal, ...]:
    """Phrase starts in score order; the first struck note is always one.

    A denser choice only adds. Empty where the score has no struck note.
    """
    onsets = score.onsets
    if not onsets:
        return ()
    found: dict[Fraction, list[Reason]] = {onsets[0]: [Reason("first", "the piece begins")]}
    for onset, reason in _marked(score):
        at = bisect_left(onsets, onset)
        if at < len(onsets):
            found.setdefault(onsets[at], []).append(reason)
    for onset in _grid(score, _GRID_BARS[density]):
        at = bisect_left(onsets, onset)
        if at < len(onsets):
            found.setdefault(onsets[at], []).append(
                Reason("grid", "bars counted from the beginning", 0.2)
            )
    return tuple(
        Proposal(
            onset,
            max(reason.strength for reason in reasons),
            tuple(sorted(reasons, key=lambda reason: -reason.strength)),
        )
        for onset, reasons in sorted(found.items())
    )


def _marked(score: Score) -> list[tuple[Fraction, Reason]]:
    """The places that a mark of the score sets apart."""
    found = [
        (mark.onset, Reason("rehearsal", f"rehearsal mark {mark.text}"))
        for mark in score.marks_of("rehearsal")
    ]
    found += [
        (bar.end, Reason("double", "a double bar stands before it", 0.8))
        for bar in score.bars
        if (bar.double or bar.repeat_times) and bar.end < score.end
    ]
    return found


def _grid(score: Score, every: int) -> list[Fraction]:
    """Each `every` bars from the first full bar, shifted back by the pickup."""
    bars = [bar for bar in score.bars if not bar.continues]
    pickup = bars[0].length if bars[0].upbeat else Fraction(0)
    return [bar.start - pickup for bar in bars[bool(pickup) :][every::every]]
