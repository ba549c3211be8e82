"""What the parts of the desk share: its edges."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from random import Random
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.store.store import Store


@dataclass
class Part:
    """One job at the desk. `clock` gives the aware local instant, `new_id` a fresh global id,
    `rng` chance."""

    store: Store
    clock: Callable[[], datetime]
    new_id: Callable[[], str]
    rng: Random
