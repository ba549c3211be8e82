"""The law of a two-component memory, for the simulated students that follow it.

`h` is the half-life in days, `e` the days since the last try, `facility` exp(theta), `gain` how
much a success at the edge of forgetting lengthens h. The golden values of the memory's cells
are checked against it. Sources: see `trainer.memory.cells`. The constants are our own.
"""

from __future__ import annotations

from typing import Any

from trainer.values import Frozen


class Law(Frozen, frozen=True):
    """The constants of one memory."""

    psi: float = 0.8  # how heavy the tail of forgetting is
    spacing: float = 0.30  # how much a long half-life damps further growth
    kappa: float = 0.35  # how much of log h is left after a failure, under "drop"
    floor: float = 0.05  # growth of a success without any forgetting
    half_life: float = 0.7  # days, after one look at facility 1
    gain: float = 5.0  # the middle of what is thought possible
    lapse: float = 0.02  # misses and hits that have nothing to do with memory

    def retained(self, e: Any, h: Any) -> Any:
        """R, the chance (0-1) that memory holds `e` >= 0 days after the last try; 1 at 0."""
        return (1 + (2 ** (1 / self.psi) - 1) * e / h) ** -self.psi

    def observed(self, r: Any) -> Any:
        """R*, the chance that a try holds, lapses counted in: never quite 0 nor 1."""
        return self.lapse / 2 + (1 - self.lapse) * r

    def after_success(self, h: Any, r: Any, facility: Any, gain: Any) -> Any:
        """The half-life after a try that held, when its chance was `r`."""
        return h * (1 + self.floor + gain * facility**0.5 * h**-self.spacing * (1 - r))

    def after_drop(self, h: float, facility: float) -> float:
        """The half-life after a failure and a look, if most of it was lost ("drop")."""
        fresh = self.half_life * facility
        return min(h, fresh * float(max(h / fresh, 1.0) ** self.kappa))

    def after_hold(self, h: Any) -> Any:
        """The same, if a failure loses nothing ("hold")."""
        return 1.05 * h

    def after_growth(self, h: Any, r: Any, facility: Any, gain: Any) -> Any:
        """The same, if even a failure and a look teach something ("grow")."""
        return self.after_success(h, r, facility, 0.3 * gain)


DEFAULT = Law()
