"""The two-component memory: how a start fades, and what a try does to it.

`h` is the half-life in days: the delay after which a cold start works half the time. `e` are
the days since the last try. `ease` is exp(theta), theta the student's and the start's ease in
natural logarithms; `gain` is how much a success at the edge of forgetting lengthens h.

Power-law forgetting of individuals: Wixted & Ebbesen 1997, Mem Cogn 25:731-739. The half-life
as the thing to learn: Settles & Meeder 2016, ACL. The constants are our own.
The formulas use operators only, so that they serve single numbers and numpy arrays alike.
"""

from __future__ import annotations

from typing import Any

PSI = 0.8  # how heavy the tail of forgetting is
SPACING = 0.30  # how much a long half-life damps further growth
KAPPA = 0.35  # how much of log h is left after a failure, under the hypothesis "drop"
FLOOR = 0.05  # growth of a success without any forgetting
HALF_LIFE = 0.7  # days, after one look at ease 1
HALVING = 2 ** (1 / PSI) - 1  # 1.378414: makes R(h, h) = 1/2


def retained(e: Any, h: Any) -> Any:
    """R, the chance (0-1) that a cold try holds `e` >= 0 days after the last; 1 at e = 0."""
    return (1 + HALVING * e / h) ** -PSI


def after_success(h: Any, r: Any, ease: Any, gain: Any) -> Any:
    """The half-life after a try that held, when its chance was `r`."""
    return h * (1 + FLOOR + gain * ease**0.5 * h**-SPACING * (1 - r))


def after_drop(h: float, ease: float) -> float:
    """The half-life after a failure and a look, under the hypothesis that most was lost."""
    fresh = HALF_LIFE * ease
    return min(h, fresh * float(max(h / fresh, 1.0) ** KAPPA))
