"""How accurate the forecasts have been.

Forecasts are scored as they were made: predicted, then compared, then learned from. First
tries and repeats of a day are left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from trainer.memory.evidence import Part, Try
from trainer.memory.model import foretold
from trainer.values import Frozen

BINS = 10
ENOUGH = 2000  # forecasts, under which an error of .03 is told from luck by nobody


class Forecast(Frozen, frozen=True):
    """A chance (0-1) given before a cold try, and whether it held."""

    chance: float
    held: bool


class Bin(Frozen, frozen=True):
    """Forecasts of one tenth: how many, their mean, and the share that held."""

    count: int
    mean: float
    share: float


class Score(Frozen, frozen=True):
    """How right `count` forecasts were.

    `loss` is the mean log loss in nats, `base` that of always giving the overall share;
    `skill` = 1 - loss/base (1 is perfect, 0 no better than the share, None where the share is
    0 or 1). `brier` is the mean squared error, 0-1. `error` (ECE) is the mean distance between
    forecast and share over the ten `bins`, weighted by their counts.
    """

    count: int
    loss: float
    base: float
    brier: float
    error: float
    bins: tuple[Bin, ...]

    @property
    def skill(self) -> float | None:
        return 1 - self.loss / self.base if self.base > 0 else None

    @property
    def telling(self) -> bool:
        """Whether there are enough forecasts for `error` to mean much."""
        return self.count >= ENOUGH


def forecasts(tries: Iterable[Try], part: Part = "start") -> tuple[Forecast, ...]:
    """One student's forecasts, oldest first, with what became of them."""
    return tuple(Forecast(p, held) for _, which, p, held in foretold(tries) if which == part)


def score(made: Sequence[Forecast]) -> Score | None:
    """How right they were; None where there are none. Forecasts of several students may be
    pooled."""
    if not made:
        return None
    n = len(made)
    share = sum(f.held for f in made) / n
    return Score(
        count=n,
        loss=sum(_loss(f.chance, f.held) for f in made) / n,
        base=sum(_loss(share, f.held) for f in made) / n,
        brier=sum((f.chance - f.held) ** 2 for f in made) / n,
        error=sum(b.count * abs(b.mean - b.share) for b in _bins(made)) / n,
        bins=_bins(made),
    )


def _loss(chance: float, held: bool) -> float:
    return -math.log(max(chance if held else 1 - chance, 1e-12))


def _bins(made: Sequence[Forecast]) -> tuple[Bin, ...]:
    sorted_in: list[list[Forecast]] = [[] for _ in range(BINS)]
    for f in made:
        sorted_in[min(int(f.chance * BINS), BINS - 1)].append(f)
    return tuple(
        Bin(
            len(inside),
            sum(f.chance for f in inside) / len(inside) if inside else 0.0,
            sum(f.held for f in inside) / len(inside) if inside else 0.0,
        )
        for inside in sorted_in
    )
