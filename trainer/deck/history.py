"""The edits of a deck, and how two histories of it stand to each other.

A history is a list of edits, the last one current. Descent is told by the edits' global ids,
not by the decks' contents, so that an edit that takes another one back is still the newer one.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import datetime
from itertools import takewhile
from typing import Literal

from trainer.values import Frozen

Relation = Literal["unknown", "same", "newer", "older", "apart"]
"""How a deck that comes in stands to the one that is here: its piece is not known here; its
content is the same; it was made from ours; ours was made from it; neither from the other."""


class DeckEdit(Frozen, frozen=True):
    """One edit of a deck, by which `revision` became current.

    `parent` is the revision it was made from, empty for the first; `undoes` the edit that it
    takes back; `merged` the current revision of a second line of edits that met this one. In a
    deck file `deck` is left out.
    """

    id: str
    revision: str
    parent: str
    machine: str
    at: datetime
    why: str
    undoes: str = ""
    merged: str = ""
    deck: str = ""


def closed(edits: Sequence[DeckEdit], revision: str, now: datetime) -> tuple[DeckEdit, ...]:
    """A history that ends at `revision`. Where its last edit does not, as in a file that was
    written by hand, an edit without a machine is added, with the same id wherever that is done.
    """
    parent = edits[-1].revision if edits else ""
    if parent == revision:
        return tuple(edits)
    id_ = hashlib.sha256(f"{parent} {revision}".encode()).hexdigest()[:32]
    return (*edits, DeckEdit(id_, revision, parent, "", now, "from a file that tells no edits"))


def relation(mine: Sequence[DeckEdit], theirs: Sequence[DeckEdit]) -> Relation:
    """How their history stands to mine; both end with the current edit."""
    if not mine:
        return "unknown"
    now, then = mine[-1].revision, theirs[-1].revision
    if now == then:
        return "same"
    if theirs[-1].id in {edit.id for edit in mine}:
        return "older"
    # Histories that met with equal contents have several last edits.
    last = {edit.id for edit in takewhile(lambda edit: edit.revision == now, reversed(mine))}
    if any(edit.id in last for edit in theirs):
        return "newer"
    told = len(theirs) > 1 or theirs[-1].machine
    return "apart" if told or then not in {edit.revision for edit in mine} else "older"


def standing(history: Sequence[DeckEdit]) -> DeckEdit:
    """The last edit that counts: neither an undo nor undone. Raises IndexError for none."""
    by_id = {edit.id: place for place, edit in enumerate(history)}
    place = len(history) - 1
    while history[place].undoes in by_id:
        undone = by_id[history[place].undoes]
        before = [
            n for n in range(undone - 1, -1, -1) if history[n].revision == history[undone].parent
        ]
        if not before:
            break
        place = before[0]
    return history[place]
