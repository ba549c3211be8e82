"""A registry of drill kinds. To add one, write its order and add a line to KINDS."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random
from typing import Literal

from trainer.errors import TrainerError
from trainer.practice.order import Arrange, Spot, shuffled
from trainer.record.attempt import Attempt

COLD = "cold"  # the name of the drill that asks for cold attempts

Draws = Literal["plan", "open", "families"]
Begins = Literal["start", "before the join"]


@dataclass(frozen=True)
class DrillKind:
    """A way to drill.

    `says` tells the player what to do at each call; `arrange` orders the calls; `again` is how
    often a missed start may come back in the same drill. `draws` is where the calls come from:
    the day's plan, every open start, or the open look-alikes. `begins` is where the playing
    begins. The memory weighs each kind in its own way (`memory/evidence.py`), by its name. `heard`:
    an instrument can hear whether it was done. `looks`: the page is looked at before the outcome
    is told. `apart`: the phrase is not played as it goes, so that no attempt counts as cold.
    """

    name: str
    title: str
    says: str
    arrange: Arrange
    again: int = 0
    draws: Draws = "plan"
    begins: Begins = "start"
    heard: bool = True
    looks: bool = False
    apart: bool = False


def last_to_first(spots: Sequence[Spot], _previous: Spot | None, _rng: Random) -> tuple[Spot, ...]:
    """From the end of the piece to its beginning: each phrase leads into one just played."""
    return tuple(reversed(spots))


def in_families(spots: Sequence[Spot], _previous: Spot | None, rng: Random) -> tuple[Spot, ...]:
    """Family after family, the look-alikes of each in random order, twice round: the one thing
    that an ordinary drill never does."""
    families: list[list[Spot]] = []
    for spot in spots:
        family = next((f for f in families if any(spot.id in other.kin for other in f)), None)
        if family is None:
            families.append([spot])
        else:
            family.append(spot)
    order: list[Spot] = []
    for family in (f for f in families if len(f) > 1):
        first = rng.sample(family, len(family))
        again = [spot for spot in rng.sample(family, len(family)) if spot != first[-1]]
        order += [*first, *again]
    return tuple(order)


KINDS: dict[str, DrillKind] = {
    kind.name: kind
    for kind in (
        DrillKind(
            COLD,
            "Cold starts",
            "Begin here from memory and play into the next phrase.",
            shuffled,
            again=2,
        ),
        DrillKind(
            "joins",
            "Joins",
            "Begin here, a bar before the next start, and cross into it without a stop.",
            shuffled,
            again=1,
            begins="before the join",
        ),
        DrillKind(
            "last to first",
            "Last to first",
            "Begin here and play to the end of the piece, or into the phrase just played.",
            last_to_first,
            draws="open",
        ),
        DrillKind(
            "look-alikes",
            "Look-alikes",
            "Begin here, and carry on the way this one does, not its look-alike.",
            in_families,
            draws="families",
        ),
        DrillKind(
            "away",
            "Away from the instrument",
            "Say the hand position and the first harmony, hear the phrase in your mind; then look.",
            shuffled,
            heard=False,
            looks=True,
            apart=True,
        ),
        DrillKind(
            "blocks",
            "Blocked chords",
            "Play the chords of this phrase as blocks, one after the other. Spread wide ones.",
            shuffled,
            heard=False,
            apart=True,
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


def asked(attempts: Sequence[Attempt]) -> list[Attempt]:
    """Those of drills that ask again what was missed."""
    return [one for one in attempts if (kind := KINDS.get(one.drill)) and kind.again]


def to_ask_again(attempts: Sequence[Attempt]) -> tuple[str, ...]:
    """The starts that were missed and that their drill would still call again, by their ids, the
    one missed last at the end. `attempts` are those of one practice day, oldest first."""
    found: dict[str, list[Attempt]] = {}
    for attempt in asked(attempts):
        found.setdefault(attempt.start, []).append(attempt)
    missed = [
        mine
        for mine in found.values()
        if not mine[-1].outcome.start_held and len(mine) <= KINDS[mine[-1].drill].again
    ]
    return tuple(mine[-1].start for mine in sorted(missed, key=lambda mine: mine[-1].at))
