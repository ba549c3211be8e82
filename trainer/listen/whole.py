"""What was heard of a whole piece, phrase by phrase: each as a verdict on its start, so that it is
drawn and told as a single attempt is. Pure."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from itertools import pairwise
from typing import TYPE_CHECKING

from trainer.listen.model import Jump, Pause, Verdict

if TYPE_CHECKING:
    from collections.abc import Iterable

    from trainer.deck.model import Piece
    from trainer.listen.follow import Slip
    from trainer.listen.model import Mark


def phrases_heard(
    piece: Piece, marks: Iterable[Mark], slips: Iterable[Slip]
) -> tuple[Verdict, ...]:
    """The phrases that were played, in the order of the score, each with its notes and with what
    broke in it. What stands before the first start goes with it."""
    starts = sorted(piece.deck.starts, key=lambda start: start.onset)
    onsets = [float(start.onset) for start in starts]

    def phrase(onset: float) -> int:
        return max(0, bisect_right(onsets, onset + 1e-9) - 1)

    notes: dict[int, list[Mark]] = defaultdict(list)
    for mark in marks:
        notes[phrase(mark.onset or 0.0)].append(mark)
    broken: dict[int, list[Slip]] = defaultdict(list)
    for slip in slips:
        broken[phrase(float(slip.broke_at))].append(slip)
    return tuple(
        _verdict(starts[at].id, notes[at], broken[at])
        for at in sorted(notes)
        if any(mark.onset is not None for mark in notes[at])
    )


def _verdict(start: str, marks: list[Mark], slips: list[Slip]) -> Verdict:
    onsets = sorted({mark.onset for mark in marks if mark.onset is not None})
    kinds = [mark.kind for mark in marks]
    on = next((slip for slip in slips if slip.kind == "on"), None)
    ended = next((slip for slip in slips if slip.kind == "end"), None)
    after = dict(pairwise(onsets))
    return Verdict(
        asked=start,
        answer="yes",
        accepted=True,
        played=start,
        notes=sum(mark.time is not None for mark in marks),
        wrong=kinds.count("wrong"),
        missed=kinds.count("missed"),
        extra=kinds.count("extra"),
        left=tuple(float(slip.broke_at) for slip in slips if slip.kind == "back"),
        restarts=tuple(slip.time for slip in slips if slip.kind == "back"),
        pauses=tuple(
            Pause(slip.time, slip.seconds, after[float(slip.broke_at)])
            for slip in slips
            if slip.kind == "hesitation" and float(slip.broke_at) in after
        ),
        jump=None if on is None else Jump(on.time, start, (start,)),
        broke_at=None if on is None else float(on.broke_at),
        reached=None if ended is None else float(ended.broke_at),
        join_reached=ended is None,
        marks=tuple(marks),
    )
