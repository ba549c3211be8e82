"""Which places are taken, by their chances: one ranking, and each denser choice only adds.

What a person plainly wrote is taken; of the rest the most likely first, some bars apart, down
to a least chance; then each gap that is still long takes its best place. "Usual" is what a
teacher numbers, "fewer" the long phrases, "more" units of two to four bars.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from trainer.phrases.model import Density
from trainer.phrases.table import Floats, Ints

Chosen = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Rule:
    """From which chance on a place is taken, and how many bars from every other at least."""

    chance: float
    apart: float


@dataclass(frozen=True)
class Rules:
    """One rule a density; and which gaps, in bars, take their best place of at least the chance
    `fill`, so many bars from the gap's ends as `edge` says."""

    fewer: Rule
    usual: Rule
    more: Rule
    gap: float
    gap_of_fewer: float
    fill: float
    edge: float


TEXTURE = Rules(Rule(0.50, 6), Rule(0.28, 3), Rule(0.14, 2), 12, 16, 0.15, 3)
MELODY = Rules(Rule(0.50, 3.5), Rule(0.50, 1), Rule(0.14, 1), 16, 16, 0.15, 3)


CLOSE = 0.02  # chances so near to each other tell nothing


@dataclass(frozen=True, eq=False)
class Odds:
    """The places to choose from, in order: `chance` to begin a phrase, `bar` counted from the
    beginning (`end`: of the piece), and whether it is `plain` what a person wrote, and `firm`
    at every density. `likely` ones are usual whatever their chance. The first place is always a
    start."""

    chance: Floats
    bar: Floats
    end: float
    plain: Chosen
    firm: Chosen
    likely: Chosen


def choose(odds: Odds, density: Density, rules: Rules) -> list[int]:
    """The places taken, in order."""
    usual = _usual(odds, rules)
    if density == "more":
        return sorted(_taken(odds, odds.chance, usual, rules.more))
    return sorted(_fewer(odds, usual, rules) if density == "fewer" else usual)


def _usual(odds: Odds, rules: Rules) -> list[int]:
    kept = _places(odds.plain | odds.firm | odds.likely)
    usual = _taken(odds, odds.chance, kept, rules.usual)
    good = np.flatnonzero(odds.chance >= rules.fill)
    return _filled(odds, usual, good, rules.gap, rules.edge)


def _fewer(odds: Odds, usual: list[int], rules: Rules) -> list[int]:
    """What stands firm, then of the usual ones what is plain and the most likely."""
    worth = np.full(len(odds.chance), -1.0)
    worth[usual] = np.where(odds.plain, 0.7 + 0.3 * odds.chance, odds.chance)[usual]
    few = _taken(odds, worth, _places(odds.firm), rules.fewer)
    return _filled(odds, few, np.array(sorted(usual)), rules.gap_of_fewer, rules.more.apart)


def _places(chosen: Chosen) -> list[int]:
    """The first place, and those that are chosen."""
    return [0, *(place for place in np.flatnonzero(chosen).tolist() if place)]


def _taken(odds: Odds, worth: Floats, kept: list[int], rule: Rule) -> list[int]:
    """Those kept, and in order of worth every further place that the rule allows."""
    taken = list(kept)
    for place in np.argsort(-worth, kind="stable").tolist():
        if worth[place] < rule.chance:
            break
        if np.abs(odds.bar[taken] - odds.bar[place]).min() >= rule.apart:
            taken.append(place)
    return taken


def _filled(odds: Odds, taken: list[int], good: Ints, longest: float, edge: float) -> list[int]:
    """Those taken, and the best place of each gap that is longer than `longest` bars; of places
    about as good one that is fours of bars from the gap's beginning."""
    taken, bars = sorted(taken), odds.bar
    at = 0
    while at < len(taken):
        start = float(bars[taken[at]])
        stop = float(bars[taken[at + 1]]) if at + 1 < len(taken) else odds.end
        inside = good[(bars[good] >= start + edge) & (bars[good] <= stop - edge)]
        if stop - start > longest and len(inside):
            fours = (bars[inside] - start) % 4 == 0
            taken.insert(at + 1, int(inside[(odds.chance[inside] + CLOSE * fours).argmax()]))
        else:
            at += 1
    return taken
