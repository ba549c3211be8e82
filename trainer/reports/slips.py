"""The slips of run-throughs and rehearsals: where it broke, and where it was taken up again."""

from __future__ import annotations

from trainer.practice.run import RUN
from trainer.practice.slip import SLIP
from trainer.record.attempt import Attempt, Outcome
from trainer.reports.table import Cell, Table
from trainer.reports.view import View, where
from trainer.score.cite import place

COLUMNS = ("when", "piece", "kind", "phrase", "broke at", "went on at", "outcome", "id")


def report(view: View, deck: str | None = None) -> Table:
    """Each slip, newest first, and each run-through that had none."""
    rows = tuple(
        row
        for one in reversed(view.attempts)
        if one.drill in (RUN, SLIP) and deck in (None, one.deck)
        if (row := _row(view, one)) is not None
    )
    return Table(
        "slips",
        f"Run-throughs and slips of {view.student.name}",
        COLUMNS,
        rows,
        () if rows else ("No run-through yet: `trainer run PIECE`.",),
        figures=("phrase",),
        hidden=("id",),
        spare=("outcome", "kind"),
    )


def _row(view: View, one: Attempt) -> tuple[Cell, ...] | None:
    found = view.find(one.deck, one.start)
    if found is None:
        return None
    piece, start = found
    resumed = view.find(one.deck, one.elsewhere) if one.elsewhere else None
    broke = None if one.broke_at is None else place(piece.score, one.broke_at, words=view.words)
    at_end = one.drill == RUN and one.outcome is not Outcome.BROKE_OFF
    ended = "reached the end" if at_end else None
    return (
        f"{one.at:%Y-%m-%d %H:%M}",
        piece.deck.title,
        one.drill,
        start.number,
        broke,
        f"{resumed[1].number}, {where(*resumed, view.words)}" if resumed else ended,
        one.outcome.value,
        one.id,
    )
