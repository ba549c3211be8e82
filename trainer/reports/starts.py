"""The starts of a piece, and why each is there."""

from __future__ import annotations

from trainer.document.model import Column, Document, Table, listed
from trainer.reports.view import View, where

COLUMNS = (
    Column("piece", once=True),
    Column("start", kind="figure"),
    Column("place"),
    Column("open"),
    Column("reasons", "why here", "sentence"),
    Column("advice", hidden=True),
    Column("id", hidden=True),
)


def report(view: View, deck: str | None = None) -> Document:
    """Each start with its place, its reasons, and whether it is open."""
    rows = tuple(
        (
            piece.deck.title,
            start.number,
            where(piece, start, view.words),
            start.id in view.open,
            "; ".join(reason.words for reason in start.reasons),
            " ".join(start.advice),
            start.id,
        )
        for piece, start in view.starts(deck)
    )
    title = "Starts" if deck is None else f"Starts of {view.pieces[deck].deck.title}"
    return listed("starts", title, Table(COLUMNS, rows, over="piece", opens="id"))
