"""The starts of a piece, and why each is there."""

from __future__ import annotations

from trainer.reports.table import Table
from trainer.reports.view import View, where


def report(view: View, deck: str | None = None) -> Table:
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
    return Table(
        "starts",
        "Starts" if deck is None else f"Starts of {view.pieces[deck].deck.title}",
        ("piece", "start", "place", "open", "why here", "advice", "id"),
        rows,
        figures=("start",),
        told="why here",
        over="piece",
        hidden=("id", "advice"),
    )
