"""What is being prepared of a deck, kept step by step until it is saved."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from trainer.deck import draft as drafts
from trainer.deck.draft import Draft
from trainer.deck.model import Piece
from trainer.desk.base import Part
from trainer.desk.pieces import Pieces
from trainer.record.people import Student


@dataclass(frozen=True)
class Unsaved:
    """A draft that was neither saved nor declined. `fits` says whether the deck is still the one
    that it began with; where it is not, the draft only tells what was done."""

    draft: Draft
    edited: datetime
    fits: bool


@dataclass
class Drafts(Part):
    pieces: Pieces

    def keep(self, id_: str, student: Student, draft: Draft) -> None:
        """Keep what is being prepared, so that nothing is lost before it is saved."""
        if not self.store.read_only:
            self.store.drafts.keep(id_, student.id, draft)

    def unsaved(self, piece: Piece, student: Student, open_: frozenset[str]) -> Unsaved | None:
        """The draft of a piece that is still to be saved, None where there is none. What it says
        of open starts (`open_` are open now) counts only for the student it was made for."""
        kept = self.store.drafts.get(piece.deck.id)
        if kept is None:
            return None
        others = {known.id for known in self.store.students.all()} - {student.id}
        forms = drafts.for_another(kept.stands, open_) if kept.student in others else kept.stands
        draft = drafts.again(forms, kept.here, piece.score)
        return Unsaved(draft, kept.edited, draft.saved.deck == piece.deck)

    def drop(self, deck_id: str) -> None:
        """Forget what was prepared and not saved."""
        self.store.drafts.drop(deck_id)

    def save(self, student: Student, draft: Draft) -> None:
        """Keep a prepared deck as one edit, and what was opened and closed in it, at once."""
        with self.store.together():
            self.pieces.save(draft.saved.deck, draft.now.deck, draft.why)
            for ids, opened in ((draft.opened, True), (draft.closed, False)):
                numbers = [start.number for start in draft.now.deck.starts if start.id in ids]
                self.pieces.set_open(student, draft.now.deck, numbers, opened=opened)
            self.drop(draft.now.deck.id)
