"""Drafts: what is being prepared of a deck and is not saved yet, kept step by step.

A draft is no part of the deck: it goes when it is saved or declined, with its piece, and with the
student whose open starts it speaks of.
"""

from __future__ import annotations

from datetime import datetime

from trainer.deck.draft import Draft, Stand, stands
from trainer.store.base import Part
from trainer.store.rows import instant, moment
from trainer.values import Frozen, decode, encode


class KeptDraft(Frozen, frozen=True):
    """The forms of a draft in order, and the place of the one that stood last; `student` is the
    id of the one whose starts it opens and closes, `edited` the instant of the last edit."""

    student: str
    edited: datetime
    here: int
    stands: tuple[Stand, ...]


class Drafts(Part):
    def keep(self, id_: str, student: str, draft: Draft) -> None:
        """Keep a draft as it stands now; only what is new of it is written. Of a deck there is
        one draft: `id_` tells it from another one, whose place it takes. One without an edit is
        dropped. Raises TrainerError."""
        deck, here, now = draft.now.deck.id, len(draft.past), instant(self._now())[0]
        if not draft.past:
            self.drop(deck)
            return
        forms = stands(draft)
        with self._connection.writing() as run:
            run("DELETE FROM draft WHERE deck = ? AND (id <> ? OR place >= ?)",
                (deck, id_, len(forms)))  # fmt: skip
            known = {row[0] for row in run("SELECT place FROM draft WHERE deck = ?", (deck,))}
            for place, one in enumerate(forms):
                if place == here or place not in known:
                    run(
                        "INSERT OR REPLACE INTO draft (deck, place, id, student, content)"
                        " VALUES (?, ?, ?, ?, ?)",
                        (deck, place, id_, student, encode(one)),
                    )
            run("INSERT OR REPLACE INTO draft_at (deck, student, here, edited) VALUES (?, ?, ?, ?)",
                (deck, student, here, now))  # fmt: skip

    def get(self, deck: str) -> KeptDraft | None:
        """The draft of a deck that was neither saved nor declined; None where there is none.
        Raises TrainerError where it cannot be understood."""
        row = self._connection.row(
            "SELECT student, here, edited FROM draft_at WHERE deck = ?", (deck,)
        )
        if row is None:
            return None
        texts = self._connection.read(
            list, "SELECT content FROM draft WHERE deck = ? ORDER BY place", (deck,)
        )
        kept = tuple(decode(text, Stand, "A draft") for (text,) in texts)
        student, here, edited = row
        return KeptDraft(student, moment(edited, 0), here, kept) if here < len(kept) else None

    def drop(self, deck: str) -> None:
        """Forget the draft of a deck, if there is one."""
        with self._connection.writing() as run:
            for table in ("draft", "draft_at"):
                run(f"DELETE FROM {table} WHERE deck = ?", (deck,))
