"""A deck while it is being prepared: edits that can be undone, and nothing kept until said so."""

from __future__ import annotations

from collections.abc import Callable

from msgspec.structs import replace

from trainer.deck.model import Deck, Piece
from trainer.values import Frozen

Change = Callable[[Piece], Deck]


class Step(Frozen, frozen=True):
    """One edit: the deck before it, and what was done in a few words."""

    before: Deck
    why: str


class Draft(Frozen, frozen=True):
    """`saved` is the deck as it is kept, `piece` as it stands now; `past` are the edits between
    them, oldest first, `ahead` those that were undone, the next one last."""

    saved: Deck
    piece: Piece
    past: tuple[Step, ...] = ()
    ahead: tuple[Step, ...] = ()

    @property
    def changed(self) -> bool:
        return self.piece.deck != self.saved

    @property
    def why(self) -> str:
        """All that was done, for the log of edits."""
        return "; ".join(step.why for step in self.past)


def begin(piece: Piece) -> Draft:
    return Draft(piece.deck, piece)


def edit(draft: Draft, change: Change, why: str) -> Draft:
    """The draft after one more edit; one that changes nothing is none. Raises what the edit
    raises, and the draft is as before."""
    deck = change(draft.piece)
    if deck == draft.piece.deck:
        return draft
    step = Step(draft.piece.deck, why)
    return Draft(draft.saved, replace(draft.piece, deck=deck), (*draft.past, step))


def undo(draft: Draft) -> Draft:
    """The draft before its last edit; itself where there is none."""
    if not draft.past:
        return draft
    last = draft.past[-1]
    undone = Step(draft.piece.deck, last.why)
    piece = replace(draft.piece, deck=last.before)
    return Draft(draft.saved, piece, draft.past[:-1], (*draft.ahead, undone))


def redo(draft: Draft) -> Draft:
    """The draft with the last undone edit done again; itself where there is none."""
    if not draft.ahead:
        return draft
    again = draft.ahead[-1]
    step = Step(draft.piece.deck, again.why)
    piece = replace(draft.piece, deck=again.before)
    return Draft(draft.saved, piece, (*draft.past, step), draft.ahead[:-1])


def kept(draft: Draft) -> Draft:
    """The draft once its deck has been kept."""
    return begin(draft.piece)
