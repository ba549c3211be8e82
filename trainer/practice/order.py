"""The order of calls: random, and nothing cued by what came just before."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from random import Random

from trainer.values import Frozen

TRIES = 60


class Spot(Frozen, frozen=True):
    """What the order needs to know of a start.

    `after` are the ids that the start's playing leads into, on the route or in number;
    `kin` are its look-alikes.
    """

    id: str
    after: frozenset[str] = frozenset()
    kin: frozenset[str] = frozenset()


def cost(before: Spot | None, after: Spot) -> int:
    """How bad it is to call `after` straight after `before`: 0 is free, higher is worse.

    The same start twice is worst (100); then the phrase just played into (10: it was cued);
    then a look-alike (3).
    """
    if before is None:
        return 0
    if before.id == after.id:
        return 100
    if after.id in before.after:
        return 10
    return 3 if after.id in before.kin or before.id in after.kin else 0


def total(order: Sequence[Spot], previous: Spot | None) -> int:
    """The sum of the costs along an order that follows on `previous`."""
    return sum(cost(a, b) for a, b in zip((previous, *order), order, strict=False))


def shuffled(spots: Sequence[Spot], previous: Spot | None, rng: Random) -> tuple[Spot, ...]:
    """A random order of the spots, none called straight after one that cues it.

    Where the spots leave no such order (three or fewer, all of one family), the least bad of
    a fixed number of tries is taken: it never loops.
    """
    best: tuple[Spot, ...] = tuple(spots)
    lowest: int | None = None
    for _ in range(TRIES):
        order = _walk(spots, previous, rng)
        weight = total(order, previous)
        if lowest is None or weight < lowest:
            best, lowest = order, weight
        if lowest == 0:
            break
    return best


def _walk(spots: Sequence[Spot], previous: Spot | None, rng: Random) -> tuple[Spot, ...]:
    """One random walk that always steps to a cheapest spot left."""
    left = list(spots)
    rng.shuffle(left)
    order: list[Spot] = []
    while left:
        here = order[-1] if order else previous
        step = min(range(len(left)), key=lambda i: cost(here, left[i]))
        order.append(left.pop(step))
    return tuple(order)


def in_again(queue: Sequence[Spot], spot: Spot, at: int, *, gap: int = 3) -> int | None:
    """Where a missed start may come again in a running drill: the first place at least `gap`
    calls after position `at` that cues nothing; None if there is no such place.

    `queue` holds the calls of the drill as they stand; the result is an index into it.
    """
    for index in range(at + gap, len(queue) + 1):
        follows = queue[index] if index < len(queue) else None
        after = cost(spot, follows) if follows else 0
        if cost(queue[index - 1], spot) == 0 and after == 0:
            return index
    return None


Arrange = Callable[[Sequence[Spot], Spot | None, Random], tuple[Spot, ...]]
