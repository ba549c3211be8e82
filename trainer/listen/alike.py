"""Where places of a piece sound the same, and where they part. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.listen.model import Waiting

DEPTH = 64  # chords compared to find where two places part


def entry_at(waiting: Waiting, start: str) -> int:
    """The cluster where a start begins."""
    return next(entry.at for entry in waiting.entries if entry.id == start)


def parting(waiting: Waiting, one: int, other: int) -> int | None:
    """How many chords two places have in common, with their distances left aside; None where
    they do not part within DEPTH chords or before the end."""
    clusters = waiting.clusters
    for depth in range(DEPTH):
        a, b = one + depth, other + depth
        if a >= len(clusters) or b >= len(clusters):
            return None if a == b else depth
        if clusters[a].of("both") != clusters[b].of("both"):
            return depth
    return None


def identical(waiting: Waiting, one: int, other: int, count: int) -> bool:
    """Whether that many chords are struck alike from two places on, at the same distances;
    grace notes aside."""
    a, b = waiting.clusters[one : one + count], waiting.clusters[other : other + count]
    return len(a) == len(b) and all(
        x.right == y.right and x.left == y.left and x.onset - a[0].onset == y.onset - b[0].onset
        for x, y in zip(a, b, strict=True)
    )


def told_apart(waiting: Waiting, start: str) -> dict[str, int]:
    """For each start, the cluster along it that tells it from the given one; for the given one,
    the cluster that tells it from all others that are alike at first. Starts that never part
    have none."""
    home = entry_at(waiting, start)
    found: dict[str, int] = {}
    deepest = 0
    for entry in waiting.entries:
        depth = parting(waiting, home, entry.at)
        if depth is not None and entry.at != home:
            found[entry.id] = entry.at + depth
            deepest = max(deepest, depth)
    return {**found, start: home + deepest}
