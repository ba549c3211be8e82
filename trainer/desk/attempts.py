"""An attempt outside an exercise, and taking one back."""

from __future__ import annotations

from trainer.deck import edit
from trainer.deck.model import Deck
from trainer.desk.base import Part
from trainer.record.attempt import Attempt, Outcome, Retraction, practice_day
from trainer.reports.view import View


class Attempts(Part):
    def add(
        self, view: View, deck: Deck, number: int, outcome: Outcome, **fields: object
    ) -> Attempt:
        """Record one try outside a drill, as a teacher does at a lesson."""
        now = self.clock()
        attempt = Attempt(
            id=self.new_id(),
            student=view.student.id,
            deck=deck.id,
            revision=view.revision_of(deck),
            start=edit.numbered(deck, number).id,
            machine=self.store.machine,
            at=now,
            day=practice_day(now),
            outcome=outcome,
            **fields,  # type: ignore[arg-type]
        )
        self.store.log.append(attempt)
        return attempt

    def take_back(self, attempt: Attempt) -> None:
        """Retract an attempt; the log keeps both."""
        now, machine = self.clock(), self.store.machine
        self.store.log.append(Retraction(self.new_id(), attempt.id, machine, now, attempt.student))
