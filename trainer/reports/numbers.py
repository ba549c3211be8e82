"""Starts by their numbers, for sentences."""

from __future__ import annotations

from trainer.draw.words import joined
from trainer.reports.view import View


def numbers(view: View, start_ids: tuple[str, ...]) -> str:
    """Starts by their numbers, piece by piece: "Dance 1, 2 and 5; Study 3"."""
    by_piece: dict[str, list[str]] = {}
    for deck in view.decks.values():
        for start in deck.starts:
            if start.id in start_ids:
                by_piece.setdefault(deck.title, []).append(str(start.number))
    return "; ".join(f"{title} {joined(found)}" for title, found in by_piece.items())
