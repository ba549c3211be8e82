"""What phrase finding says: where a phrase may begin, how strongly, and why."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from trainer.values import Frozen

Density = Literal["fewer", "usual", "more"]


class Reason(Frozen, frozen=True):
    """Why a phrase begins here: a clue's name, the sentence for people, and its weight (0-1)."""

    cue: str
    words: str
    strength: float = 1.0


class Proposal(Frozen, frozen=True):
    """A place where a phrase may begin.

    `onset` is a struck note's position in ql. `strength` is from 0 to 1; reasons come
    strongest first and are never empty.
    """

    onset: Fraction
    strength: float
    reasons: tuple[Reason, ...]
