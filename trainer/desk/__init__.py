"""The desk: where what is kept and what follows from it come together.

Screens and command line both work through it and own no rule. Its edges (the store, the
clock, fresh ids, chance) are given to it; everything else it asks of the pure rooms. It is
made of parts that share these edges (`base`), one for each thing that is done at it.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from random import Random
from typing import TYPE_CHECKING, Self

from trainer.desk.attempts import Attempts
from trainer.desk.base import Part
from trainer.desk.days import Notes, Recitals
from trainer.desk.drafts import Drafts
from trainer.desk.exchange import Records
from trainer.desk.exercises import Exercises, begun_instead, call, spot
from trainer.desk.instruments import Instruments
from trainer.desk.own import Own
from trainer.desk.people import Settings, Students
from trainer.desk.pieces import Edit, Incoming, Pieces, Take
from trainer.desk.scores import Marked, Scores, Wanted
from trainer.desk.shelf import Shelf
from trainer.desk.takeover import Takeover, Takeovers
from trainer.desk.views import Views

if TYPE_CHECKING:
    from trainer.store.store import Store

__all__ = [
    "Desk",
    "Edit",
    "Incoming",
    "Marked",
    "Shelf",
    "Take",
    "Takeover",
    "Wanted",
    "begun_instead",
    "call",
    "spot",
]


class Desk(Part):
    """All that screens and command line do, over one open store."""

    def __init__(
        self, store: Store, clock: Callable[[], datetime], new_id: Callable[[], str], rng: Random
    ) -> None:
        super().__init__(store, clock, new_id, rng)
        edges = (store, clock, new_id, rng)
        self.students = Students(*edges)
        self.settings = Settings(*edges)
        self.views = Views(*edges, self.settings)
        self.pieces = Pieces(*edges)
        self.drafts = Drafts(*edges, self.pieces)
        self.scores = Scores(*edges)
        self.own = Own(*edges)
        self.takeovers = Takeovers(*edges, self.pieces, self.own)
        self.records = Records(*edges, self.students, self.pieces)
        self.recitals = Recitals(*edges)
        self.notes = Notes(*edges)
        self.exercises = Exercises(*edges)
        self.attempts = Attempts(*edges)
        self.instruments = Instruments(*edges, self.settings)

    def beside(self) -> Self:
        """Another desk over the same database, for another thread; its store is to be closed."""
        from trainer.store.store import Store

        store = Store.open(self.store.path, now=self.clock, new_id=self.new_id)
        return type(self)(store, self.clock, self.new_id, Random())
