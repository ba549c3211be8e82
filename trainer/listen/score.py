"""A score as what a listener waits for: chords in order, and the starts among them. Pure."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable
from fractions import Fraction
from itertools import pairwise
from typing import TYPE_CHECKING

from trainer.listen.model import Cluster, Entry, Waiting

if TYPE_CHECKING:
    from trainer.deck.model import Piece
    from trainer.score.model import Score


def clusters(score: Score) -> tuple[Cluster, ...]:
    """What is struck at each onset, in order: unisons once, the later parts of ties not at all.

    Grace notes ask for nothing and may come: they are `free`, at the onset they lead to. With two
    staves or more the hand is kept by the staff's role; where no role is told, the lowest staff is
    the left hand's. A single staff has no hands: all its notes are the right hand's.
    """
    left = _left_staves(score)
    struck: dict[Fraction, dict[int, set[str]]] = defaultdict(lambda: defaultdict(set))
    graced: dict[Fraction, set[int]] = defaultdict(set)
    for note in score.notes:
        if note.grace:
            graced[note.onset].add(note.pitch)
        elif note.sounds:
            struck[note.onset][note.pitch].add("L" if note.staff in left else "R")
    made = []
    for onset in sorted(struck):
        hands = struck[onset]
        made.append(
            Cluster(
                onset=float(onset),
                right=tuple(sorted(pitch for pitch, who in hands.items() if "R" in who)),
                left=tuple(sorted(pitch for pitch, who in hands.items() if "L" in who)),
                free=tuple(sorted(graced[onset] - hands.keys())),
            )
        )
    return tuple(made)


def is_held(score: Score, before: Fraction, here: Fraction) -> bool:
    """Whether a fermata or a breath mark stands between two places (ql), from the first on."""
    return any(
        mark.onset < here and (mark.onset >= before or (mark.end or 0) > before)
        for mark in score.marks_of("fermata", "breath")
    )


def waiting(piece: Piece) -> Waiting:
    """What a listener needs to know of a piece: its chords, and all starts of its deck."""
    return waiting_at(piece.score, [(start.id, start.onset) for start in piece.deck.starts])


def waiting_at(score: Score, places: Iterable[tuple[str, Fraction]]) -> Waiting:
    """The same for starts given as (id, onset). A start where nothing is struck stands at the
    next chord; one after the last chord is left out."""
    made = clusters(score)
    onsets = [cluster.onset for cluster in made]
    found = [(bisect_left(onsets, float(onset) - 1e-9), name) for name, onset in places]
    kept = sorted((at, name) for at, name in found if at < len(made))
    columns = sorted({at for at, _ in kept})
    ends = dict(pairwise([*columns, len(made)]))
    return Waiting(made, tuple(Entry(name, at, ends[at]) for at, name in kept))


def _left_staves(score: Score) -> frozenset[int]:
    """The staves that the left hand plays from."""
    told = frozenset(staff.number for staff in score.staves if staff.role == "left hand")
    if told or len(score.staves) < 2:
        return told
    return frozenset((max(staff.number for staff in score.staves),))
