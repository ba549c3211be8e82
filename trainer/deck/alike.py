"""The look-alikes of a deck: what phrase finding sees, corrected by what a person says."""

from __future__ import annotations

from collections.abc import Sequence

from msgspec.structs import replace

from trainer.deck.model import Likeness, Start, Told
from trainer.score.model import Score


def likenesses(
    score: Score,
    starts: Sequence[Start],
    told: Sequence[Told] = (),
    before: Sequence[Likeness] = (),
) -> tuple[Likeness, ...]:
    """Pairs of starts whose openings are alike, in score order.

    A pair that a person said not to be alike is left out; one that a person linked is there,
    with what was found about it if anything was, and is never one alike in shape only. Where
    the notes are not in the deck, the pairs `before` are taken in place of what would be found.
    """
    said = {_sides(one): one.alike for one in told}
    ids = {start.id for start in starts}
    found = _found(score, starts) if score.notes else list(before)
    found = [like for like in found if {like.one, like.other} <= ids]
    kept = [
        replace(like, kind="told") if like.kind == "shape" and _sides(like) in said else like
        for like in found
        if said.get(_sides(like), True)
    ]
    known = {_sides(like) for like in kept}
    order = {start.id: position for position, start in enumerate(starts)}
    for pair, alike in said.items():
        if alike and pair not in known and pair <= ids:
            one, other = sorted(pair, key=lambda start_id: order[start_id])
            kept.append(Likeness(one, other, "told", words="linked by hand"))
    return tuple(sorted(kept, key=lambda like: (order[like.one], order[like.other])))


def _sides(pair: Likeness | Told) -> frozenset[str]:
    return frozenset((pair.one, pair.other))


def _found(score: Score, starts: Sequence[Start]) -> list[Likeness]:
    """The pairs that phrase finding sees in the notes."""
    from trainer.phrases.lookalikes import families

    by_onset = {start.onset: start.id for start in starts}
    return [
        Likeness(
            by_onset[pair.one],
            by_onset[pair.other],
            pair.kind,
            pair.parts_one,
            pair.parts_other,
            pair.repeat,
            pair.words,
            None if pair.from_one == pair.one else pair.from_one,
        )
        for pair in families(score, by_onset).pairs
        if pair.one in by_onset and pair.other in by_onset
    ]
