"""Published facts that the memory and the simulated students must keep, source beside each."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from tests.benchmarks.law import DEFAULT
from tests.benchmarks.minds import Activation
from trainer.memory.cells import CELLS, PSI

# Ebbinghaus 1885, savings after so many hours, as tabled in Murre & Dros 2015,
# PLoS ONE 10:e0120644.
HOURS = np.array([0.33, 1, 8.8, 24, 48, 144, 744])
SAVINGS = np.array([0.582, 0.442, 0.358, 0.337, 0.278, 0.254, 0.211])


def _fit(curve: str) -> tuple[float, float, float]:
    """a, b and R2 of the least squares on the savings, by a fine search over b."""
    days = HOURS / 24
    best = (0.0, 0.0, -math.inf)
    for b in np.geomspace(1e-4, 5, 4001):
        shape = days**-b if curve == "power" else np.exp(-b * days)
        a = float(shape @ SAVINGS / (shape @ shape))
        left = ((SAVINGS - a * shape) ** 2).sum()
        r2 = 1 - left / ((SAVINGS - SAVINGS.mean()) ** 2).sum()
        if r2 > best[2]:
            best = (a, float(b), float(r2))
    return best


def test_forgetting_is_a_power_of_time_not_an_exponential() -> None:
    a, b, r2 = _fit("power")
    assert a == pytest.approx(0.3176, abs=5e-4)
    assert b == pytest.approx(0.1302, abs=5e-4)
    assert r2 > 0.95
    assert _fit("exponential")[2] < 0.5
    # Our own curve has that form: far out it falls as a power of time, by psi.
    soon, late = (CELLS.recall(np.zeros(len(CELLS.moves)), days) for days in (1e6, 2e6))
    assert late / soon == pytest.approx(2**-PSI, rel=1e-3)


def _best_gap(delay: float) -> float:
    """The gap in days between two looks that leaves most `delay` days after the second."""

    def left(gap: float) -> float:
        h = DEFAULT.half_life
        r = DEFAULT.retained(gap, h)
        held = DEFAULT.after_success(h, r, 1.0, DEFAULT.gain)
        failed = 0.5 * DEFAULT.retained(delay, DEFAULT.after_drop(h, 1.0))
        failed += 0.3 * DEFAULT.retained(delay, DEFAULT.after_hold(h))
        failed += 0.2 * DEFAULT.retained(delay, DEFAULT.after_growth(h, r, 1.0, DEFAULT.gain))
        return float(r * DEFAULT.retained(delay, held) + (1 - r) * failed)

    return float(max(np.geomspace(0.01, 200, 4000), key=left))


def test_the_best_gap_rises_with_the_delay_and_its_ratio_falls() -> None:
    """Cepeda, Vul, Rohrer, Wixted & Pashler 2008, Psychol Sci 19:1095-1102: about 3, 8, 12 and
    27 days for tests after 7, 35, 70 and 350. Only the shape is asked for."""
    delays = [7, 35, 70, 350]
    gaps = [_best_gap(delay) for delay in delays]
    assert all(a <= b * 1.001 for a, b in pairwise(gaps))
    ratios = [gap / delay for gap, delay in zip(gaps, delays, strict=True)]
    assert all(a > b for a, b in pairwise(ratios))


@pytest.mark.parametrize(
    ("times", "decays", "test_at", "m"),
    [
        ((0, 10, 20), (0.177, 0.32136, 0.40823), 3620, -1.07377),
        ((0, 1800, 3600), (0.177, 0.23458, 0.26533), 5400, -0.68957),
    ],
)
def test_the_activation_equations(
    times: tuple[float, ...], decays: tuple[float, ...], test_at: float, m: float
) -> None:
    """Pavlik & Anderson 2005, Cogn Sci 29:559-586, with a = .177 and c = .217; the values
    computed from the paper's equations outside this project. Seconds, nothing slowed."""
    mind = Activation(np.random.default_rng(0), 1)
    mind.SLOW = 1.0
    for t in times:
        mind.learn(0, t / 86400, held=True)
    assert mind.decays[0] == pytest.approx(decays, abs=1e-5)
    assert mind.activation(0, test_at / 86400) == pytest.approx(m, abs=1e-5)
