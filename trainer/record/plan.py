"""What is to be drilled: the value that the planner gives and the drill is given."""

from __future__ import annotations

from datetime import date

from trainer.values import Frozen


class Slot(Frozen, frozen=True):
    """One start to be called, why, and the seconds it is likely to cost. It is `safe` where it is
    likely to hold at its next turn too though it is not called: only what is safe may be left
    out, if the player would rather stop."""

    deck: str
    start: str
    why: str
    seconds: float
    safe: bool = False


class Held(Frozen, frozen=True):
    """An open start that is not called today though it might be, and why."""

    deck: str
    start: str
    why: str


class Plan(Frozen, frozen=True):
    """A day's calls, most wanted first; the drill gives them their order. `held_back` are starts
    that wait for a reason of their own."""

    student: str
    day: date
    slots: tuple[Slot, ...]
    held_back: tuple[Held, ...] = ()

    @property
    def seconds(self) -> float:
        return sum(slot.seconds for slot in self.slots)


class KeptPlans(Frozen, frozen=True):
    """The plans of one day and the next, as they follow from what `basis` names: a cache that
    can be dropped."""

    basis: str
    plans: tuple[Plan, ...]

    def on(self, day: date, basis: str) -> Plan | None:
        """The plan of a day, None where another one is kept or it rests on something else."""
        return next((plan for plan in self.plans if plan.day == day and basis == self.basis), None)
