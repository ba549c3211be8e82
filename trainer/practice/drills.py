"""A registry of drill kinds. To add one, write its order and add a line to KINDS."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from trainer.errors import TrainerError
from trainer.practice.order import Arrange, Spot, shuffled


@dataclass(frozen=True)
class DrillKind:
    """A way to drill. `says` tells the player what to do at each call; `arrange` orders the
    calls; `again` is how often a missed start may come back in the same drill."""

    name: str
    title: str
    says: str
    arrange: Arrange
    again: int = 0


def _as_given(spots: Sequence[Spot], _previous: Spot | None, _rng: Random) -> tuple[Spot, ...]:
    return tuple(spots)


KINDS: dict[str, DrillKind] = {
    kind.name: kind
    for kind in (
        DrillKind(
            "cold",
            "Cold starts",
            "Begin here from memory and play into the next phrase.",
            shuffled,
            again=2,
        ),
    )
}


def drill_kind(name: str) -> DrillKind:
    """The drill kind of that name. Raises TrainerError with the names there are."""
    try:
        return KINDS[name]
    except KeyError:
        raise TrainerError(
            f"There is no drill kind {name!r}; there are: {', '.join(KINDS)}."
        ) from None
