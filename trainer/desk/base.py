"""What the rooms of the desk share: its edges."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from random import Random
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.store.store import Store


class Base:
    """`clock` gives the aware local instant, `new_id` a fresh global id, `rng` chance."""

    def __init__(
        self, store: Store, clock: Callable[[], datetime], new_id: Callable[[], str], rng: Random
    ) -> None:
        self.store = store
        self.clock = clock
        self.new_id = new_id
        self.rng = rng
