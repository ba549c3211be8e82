"""The pieces, and how far each has come."""

from __future__ import annotations

from collections import Counter

from trainer.document.model import Cell, Document, Table, columns, listed
from trainer.draw.words import BANDS
from trainer.reports.view import View
from trainer.score.cite import bar_count


def report(view: View, deck: str | None = None) -> Document:
    """Each piece with its count of starts, open ones, and those in each band."""
    rows: list[tuple[Cell, ...]] = []
    for number, (deck_id, piece) in enumerate(view.pieces.items(), 1):
        if deck not in (None, deck_id):
            continue
        starts = [start for start in piece.deck.starts if start.id not in view.left_out]
        counts = Counter(view.retention(s.id).band for s in starts)
        opened = sum(start.id in view.open for start in starts)
        rows.append(
            (
                number,
                piece.deck.title,
                bar_count(piece.score),
                len(starts),
                opened,
                *(counts[band] for band in BANDS),
                deck_id,
            )
        )
    return listed(
        "pieces",
        "Pieces",
        Table(
            columns(
                *("number", "piece", "bars", "starts", "open", *BANDS, "id"),
                figures=("number", "bars", "starts", "open", *BANDS),
                hidden=("id",),
                spare=("bars",),
                once=(),
            ),
            tuple(rows),
            opens="id",
        ),
        () if rows else ("No piece yet: add a score with `trainer add FILE`.",),
    )
