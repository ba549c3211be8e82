"""A registry of drill kinds. To add one, write its order and add an entry to KINDS.

What an attempt of a kind is evidence of stands in the entry too, and the memory takes it from there
(`memory/evidence.py`). It has no default: an entry without it is no entry.
"""

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
# "start and join": begun from memory and played on into the next phrase. "join": the start is left
# out. "apart": the phrase is not played as it goes, so that no attempt counts as cold. "in order":
# the piece is played in its order, which cues what comes next.
Evidence = Literal["start and join", "join", "apart", "in order"]


@dataclass(frozen=True)
class DrillKind:
    """A way to drill.

    `says` tells the player what to do at each call; `arrange` orders the calls; `again` is how
    often a missed start may come back in the same drill. `draws` is where the calls come from:
    the day's plan, every open start, or the open look-alikes. `begins` is where the playing
    begins. `heard`: an instrument can hear whether it was done. `looks`: the page is looked at
    before the outcome is told.
    """

    name: str
    title: str
    says: str
    arrange: Arrange
    evidence: Evidence
    again: int = 0
    draws: Draws = "plan"
    begins: Begins = "start"
    heard: bool = True
    looks: bool = False

    @property
    def apart(self) -> bool:
        return self.evidence == "apart"


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
            "start and join",
            again=2,
        ),
        DrillKind(
            "joins",
            "Joins",
            "Begin here, a bar before the next start, and cross into it without a stop.",
            shuffled,
            "join",
            again=1,
            begins="before the join",
        ),
        DrillKind(
            "last to first",
            "Last to first",
            "Begin here and play to the end of the piece, or into the phrase just played.",
            last_to_first,
            "start and join",
            draws="open",
        ),
        DrillKind(
            "look-alikes",
            "Look-alikes",
            "Begin here, and carry on the way this one does, not its look-alike.",
            in_families,
            "start and join",
            draws="families",
        ),
        DrillKind(
            "away",
            "Away from the instrument",
            "Say the hand position and the first harmony, hear the phrase in your mind; then look.",
            shuffled,
            "apart",
            heard=False,
            looks=True,
        ),
        DrillKind(
            "blocks",
            "Blocked chords",
            "Play the chords of this phrase as blocks, one after the other. Spread wide ones.",
            shuffled,
            "apart",
            heard=False,
        ),
    )
}

# What is played without calls, by its name in the log.
PLAYED: dict[str, Evidence] = {"run-through": "in order", "slip": "in order"}


def evidence_of(drill: str) -> Evidence:
    """What an attempt of that drill is evidence of. A kind that only a newer program knows is taken
    for the least: apart."""
    kind = KINDS.get(drill)
    return kind.evidence if kind else PLAYED.get(drill, "apart")


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
