"""How far the forecasts have been right, and constants of one's own where they do better.

Forecasts are scored as they were made: predicted, then compared, then learned from. First
tries and repeats of a day are left out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

from trainer.memory.curve import DEFAULT, Law
from trainer.memory.evidence import Part, Try
from trainer.memory.lot import is_probe
from trainer.memory.model import Beliefs, believe, foretold
from trainer.values import Frozen

BINS = 10
ENOUGH = 2000  # forecasts, under which an error of .03 is told from luck by nobody
REFIT_FROM = 300


class Forecast(Frozen, frozen=True):
    """A chance (0-1) given before a cold try, and whether it held. `probe`: the try fell on a
    day that was the start's own by lot, whatever was believed of it."""

    chance: float
    held: bool
    probe: bool = False


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


def forecasts(
    tries: Iterable[Try], law: Law = DEFAULT, part: Part = "start"
) -> tuple[Forecast, ...]:
    """One student's forecasts, oldest first, with what became of them."""
    return tuple(
        Forecast(chance, held, is_probe(one.attempt.student, one.start, one.attempt.day))
        for one, which, chance, held in foretold(tries, law)
        if which == part
    )


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


# The constants that a student may have of their own: name, scale (ln or plain), prior SD.
OWN: tuple[tuple[str, bool, float], ...] = (
    ("half_life", True, 0.5),
    ("gain", True, 0.9),
    ("spacing", False, 0.1),
    ("kappa", False, 0.15),
    ("psi", False, 0.2),
    ("clean", False, 0.3),
    ("looked", False, 0.3),
    ("latency", False, 0.5),
    ("slope", False, 0.1),
)
LEAST = 0.05  # no constant but latency goes below


def refit(tries: Sequence[Try]) -> Law:
    """Constants of the student's own, if they foretell better; else the default ones.

    The most probable constants given the oldest 80 % of the tries (start and join, what is
    unknown of student and starts summed out on the grid) are kept only if the log loss of the
    newest 20 % gets lower. Under 300 cold tries the default is returned at once. Takes many
    replays: half a minute for a long log.
    """
    if sum(one.cold for one in tries) < REFIT_FROM:
        return DEFAULT
    cut = len(tries) * 4 // 5
    fitted = _law(_lowest(lambda z: _misfit(z, tries[:cut]), [0.0] * len(OWN)))
    return fitted if _late_loss(tries, cut, fitted) < _late_loss(tries, cut, DEFAULT) else DEFAULT


def _law(z: Sequence[float]) -> Law:
    """The constants at `z` prior standard deviations from the default."""
    values = {}
    for (name, in_ln, sd), step in zip(OWN, z, strict=True):
        middle = getattr(DEFAULT, name)
        value = middle * math.exp(sd * step) if in_ln else middle + sd * step
        values[name] = value if name == "latency" else max(value, LEAST)
    return Law(**values)


def _misfit(z: Sequence[float], tries: Sequence[Try]) -> float:
    """Minus the ln posterior of the constants, up to a constant."""
    beliefs = believe(tries, _law(z))
    return 0.5 * sum(step * step for step in z) - _ln_evidence(beliefs)


def _ln_evidence(beliefs: Beliefs) -> float:
    total = 0.0
    for side in (beliefs.start, beliefs.join):
        if side is not None:
            top = float(side.student.max())
            cells = side.student.ravel().tolist()
            total += top + math.log(sum(math.exp(cell - top) for cell in cells))
    return total


def _late_loss(tries: Sequence[Try], cut: int, law: Law) -> float:
    late = {one.attempt.id for one in tries[cut:]}
    losses = [
        _loss(chance, held)
        for one, _, chance, held in foretold(tries, law)
        if one.attempt.id in late
    ]
    return sum(losses) / len(losses) if losses else 0.0


def _slope(f: Callable[[list[float]], float], z: list[float], step: float = 1e-3) -> list[float]:
    """The gradient by central differences."""
    slope = []
    for i in range(len(z)):
        up, down = z.copy(), z.copy()
        up[i] += step
        down[i] -= step
        slope.append((f(up) - f(down)) / (2 * step))
    return slope


def _lowest(
    f: Callable[[list[float]], float], z: list[float], *, rounds: int = 12, memory: int = 6
) -> list[float]:
    """Where `f` is lowest, by L-BFGS (Liu & Nocedal 1989, Math Program 45:503-528) with
    numerical slopes and backtracking."""
    pairs: list[tuple[list[float], list[float]]] = []
    value, slope = f(z), _slope(f, z)
    for _ in range(rounds):
        way = _direction(slope, pairs)
        size = 1.0
        downhill = _dot(way, slope)
        for _ in range(12):
            ahead = [a + size * b for a, b in zip(z, way, strict=True)]
            reached = f(ahead)
            if reached <= value + 1e-4 * size * downhill:
                break
            size /= 2
        else:
            return z
        after = _slope(f, ahead)
        moved = [a - b for a, b in zip(ahead, z, strict=True)]
        turned = [a - b for a, b in zip(after, slope, strict=True)]
        if _dot(moved, turned) > 1e-10:
            pairs = [*pairs, (moved, turned)][-memory:]
        gained, z, value, slope = value - reached, ahead, reached, after
        if gained < 1e-3:
            break
    return z


def _direction(slope: list[float], pairs: Sequence[tuple[list[float], list[float]]]) -> list[float]:
    """Minus the slope, bent by what the last steps told of the curvature."""
    way = [-s for s in slope]
    factors = []
    for moved, turned in reversed(pairs):
        factor = _dot(moved, way) / _dot(moved, turned)
        factors.append(factor)
        way = [w - factor * t for w, t in zip(way, turned, strict=True)]
    if pairs:
        moved, turned = pairs[-1]
        scale = _dot(moved, turned) / _dot(turned, turned)
        way = [scale * w for w in way]
    else:
        size = math.sqrt(_dot(slope, slope))
        way = [w / max(size, 1.0) for w in way]
    for (moved, turned), factor in zip(pairs, reversed(factors), strict=True):
        back = _dot(turned, way) / _dot(moved, turned)
        way = [w + (factor - back) * m for w, m in zip(way, moved, strict=True)]
    return way


def _dot(a: Sequence[float], b: Sequence[float]) -> float:
    return sum(x * y for x, y in zip(a, b, strict=True))
