"""The slips of run-throughs and rehearsals: where it broke, and where it was taken up again."""

from __future__ import annotations

from trainer.document.model import Cell, Column, Document, Table, listed
from trainer.practice.run import RUN
from trainer.practice.slip import SLIP
from trainer.record.attempt import Attempt, Outcome
from trainer.reports.view import View, where
from trainer.score.cite import place

COLUMNS = (
    Column("when"),
    Column("piece", once=True),
    Column("kind", spare=2),
    Column("phrase", kind="figure"),
    Column("broke_at"),
    Column("went_on_at"),
    Column("outcome", spare=1),
    Column("id", hidden=True),
)


def report(view: View, deck: str | None = None) -> Document:
    """Each slip, newest first, and each run-through that had none."""
    rows = tuple(
        row
        for one in reversed(view.attempts)
        if one.drill in (RUN, SLIP) and deck in (None, one.deck)
        if (row := _row(view, one)) is not None
    )
    title = f"Run-throughs and slips of {view.student.name}"
    none = "No run-through yet: `trainer run PIECE`."
    return listed("slips", title, Table(COLUMNS, rows), () if rows else (none,))


def _row(view: View, one: Attempt) -> tuple[Cell, ...] | None:
    found = view.find(one.deck, one.start)
    if found is None:
        return None
    piece, start = found
    resumed = view.find(one.deck, one.elsewhere) if one.elsewhere else None
    broke = None if one.broke_at is None else place(piece.score, one.broke_at, words=view.words)
    ended = None
    if one.drill == RUN and one.outcome is not Outcome.BROKE_OFF:
        ended = "reached the end" if one.broke_at is None else "hesitated"
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
