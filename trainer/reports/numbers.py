"""Starts by their numbers, for sentences."""

from __future__ import annotations

from collections.abc import Iterable

from trainer.draw.words import joined
from trainer.reports.view import View


def numbers(view: View, start_ids: tuple[str, ...]) -> str:
    """Starts by their numbers, piece by piece: "Dance 1, 2 and 5 to 8; Study 3"."""
    by_piece: dict[str, list[int]] = {}
    for deck in view.decks.values():
        for start in deck.starts:
            if start.id in start_ids:
                by_piece.setdefault(deck.title, []).append(start.number)
    return "; ".join(f"{title} {joined(runs(found))}" for title, found in by_piece.items())


def runs(numbers: Iterable[int]) -> list[str]:
    """Numbers in order, three and more in a row as one: "1", "2", "5 to 8"."""
    found: list[list[int]] = []
    for number in sorted(numbers):
        if found and number == found[-1][-1] + 1:
            found[-1].append(number)
        else:
            found.append([number])
    return [
        word
        for run in found
        for word in ([f"{run[0]} to {run[-1]}"] if len(run) > 2 else map(str, run))
    ]
