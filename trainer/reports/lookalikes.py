"""Which starts are easily confused, and where they part."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import partial

from trainer.deck.model import Likeness, Piece
from trainer.document.model import Column, Document, Table, listed
from trainer.draw.words import joined
from trainer.record.attempt import Attempt
from trainer.reports.view import View
from trainer.score.cite import Words, place

NONE = "No two starts have similar openings."
KINDS = {
    "same": "the same notes",
    "transposed": "transposed",
    "shape": "the same rhythm and shape",
    "told": "linked by hand",
}


def report(view: View, deck: str | None = None) -> Document:
    """Each pair of look-alikes with how it is alike, where it parts, and how often the student
    began one for the other; of each piece those first that part latest."""
    confused = {(one.attempt.start, one.confused) for one in view.tries if one.confused}
    rows = []
    decks = tuple(view.decks) if deck is None else (deck,)
    for deck_id in decks:
        piece = view.pieces[deck_id]
        numbers = {start.id: start.number for start in piece.deck.starts}
        for like in sorted(piece.deck.alike, key=partial(lateness, piece)):
            taken = {(like.one, like.other), (like.other, like.one)} & confused
            rows.append(
                (
                    piece.deck.title,
                    numbers[like.one],
                    numbers[like.other],
                    KINDS[like.kind],
                    _parts(piece, like, view.words),
                    like.words,
                    bool(taken),
                    like.one,
                    like.other,
                )
            )
    table = Table(COLUMNS, tuple(rows), over="piece", opens="start_id")
    pieces = [view.pieces[deck_id] for deck_id in decks]
    told = unknown(pieces) or ("" if rows else NONE)
    return listed("look-alikes", "Look-alikes", table, (told,) if told else ())


def unknown(pieces: Sequence[Piece]) -> str:
    """A sentence on the pieces of which no look-alikes can be found; empty without one."""
    bare = [one.deck.title for one in pieces if not (one.score.notes or one.deck.alike)]
    if not bare:
        return ""
    return (
        f"The notes of {joined(bare)} are not known, so look-alikes cannot be found: link those"
        " that you confuse."
    )


COLUMNS = (
    Column("piece", once=True),
    Column("start", kind="figure"),
    Column("other", kind="figure"),
    Column("alike"),
    Column("parts_at", spare=2),
    Column("how", kind="sentence"),
    Column("confused", spare=1),
    Column("start_id", hidden=True),
    Column("other_id", hidden=True),
)


def lateness(piece: Piece, like: Likeness) -> tuple[bool, bool, Fraction]:
    """Sorts the worst traps first: those that go on differently after the longest stretch. Those
    alike in shape come last, before them those that never part."""
    onset = next(start.onset for start in piece.deck.starts if start.id == like.one)
    begins = onset if like.from_one is None else like.from_one
    after = Fraction(0) if like.parts_one is None else like.parts_one - begins
    return like.kind == "shape", like.parts_one is None, -after


def _parts(piece: Piece, like: Likeness, words: Words) -> str:
    ends = (like.parts_one, like.parts_other)
    cited = [place(piece.score, end, words=words) for end in ends if end is not None]
    return " and ".join(cited) or "never"


def parts_at(piece: Piece, start_id: str, other_id: str, words: Words) -> str:
    """Where a start and another one go different ways, in words: the start's place, then the
    other's; empty where that is not known."""
    for like in piece.deck.likenesses(start_id):
        if other_id in (like.one, like.other) and other_id != start_id:
            ends = (like.parts_from(start_id), like.parts_from(other_id))
            cited = [place(piece.score, end, words=words) for end in ends if end is not None]
            return " and ".join(dict.fromkeys(cited))
    return ""


def parting(view: View, attempt: Attempt) -> str:
    """After a start was taken for its look-alike: where the two go different ways, in a
    sentence; empty where the attempt was nothing of the kind."""
    found = view.find(attempt.deck, attempt.start)
    other = view.find(attempt.deck, attempt.elsewhere) if attempt.elsewhere else None
    if found is None or other is None:
        return ""
    piece, start = found
    for like in piece.deck.likenesses(start.id):
        if other[1].id in (like.one, like.other):
            at = like.parts_from(start.id)
            cited = place(piece.score, at, words=view.words) if at is not None else ""
            where = f" They part at {cited}" if cited else ""
            how = f"{where}: {like.words}." if where else f" {like.words.capitalize()}."
            return f"Start {other[1].number} is a look-alike of start {start.number}.{how}"
    return ""
