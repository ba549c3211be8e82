"""Phrase by phrase, what holds: weakest first."""

from __future__ import annotations

from datetime import datetime, timedelta

from trainer.deck.model import Piece, Start
from trainer.memory.model import Retention
from trainer.record.attempt import practice_day
from trainer.reports.table import Cell, Table
from trainer.reports.view import View, where

NOTE = (
    "Estimates from calm tries at home, upper ones for a stage. "
    "A join counts only where its start held."
)


def report(view: View, deck: str | None = None) -> Table:
    """Each open or tried start with its retention now and on the day of the next recital.

    A child sees how it stands in words, without chances.
    """
    rows = [
        (_need(row), row)
        for row in (_row(view, *found) for found in view.starts(deck))
        if row is not None
    ]
    rows.sort(key=lambda pair: pair[0])
    child = view.student.level == "child"
    return Table(
        "retention",
        f"Retention for {view.student.name}",
        COLUMNS,
        tuple(row for _, row in rows),
        () if child else (NOTE,),
        figures=("start",),
        hidden=("chance", "join chance", "id", *(("recital day",) if child else ())),
    )


COLUMNS = (
    "piece", "start", "place", "stands", "now", "join", "recital day", "last cold", "next call",
    "chance", "join chance", "id",
)  # fmt: skip


def _row(view: View, piece: Piece, start: Start) -> tuple[Cell, ...] | None:
    now = view.beliefs.retention(start.id, view.now)
    if start.id not in view.open and not now.tries:
        return None
    join = view.beliefs.retention(start.id, view.now, "join")
    last = view.beliefs.last_cold(start.id)
    call = view.next_calls.get(start.id)
    child = view.student.level == "child"
    return (
        piece.deck.title,
        start.number,
        where(piece, start),
        now.band,
        now.band if child else now.basis,
        join.band if child else join.basis,
        view.beliefs.retention(start.id, _recital(view)).basis,
        practice_day(last) if last else None,
        call.day if call else None,
        now.chance,
        join.chance,
        start.id,
    )


def _recital(view: View) -> datetime:
    days = (view.recital.day - view.day).days if view.recital else 28
    return view.now + timedelta(days=days)


def _need(row: tuple[Cell, ...]) -> tuple[bool, float]:
    """Weakest first; untried ones after those that are known to be weak."""
    chance = row[COLUMNS.index("chance")]
    return (chance is None, chance if isinstance(chance, float) else 0.0)


def bands(view: View, deck: str) -> dict[str, Retention]:
    """The retention now of every start of one piece, by id."""
    return {start.id: view.beliefs.retention(start.id, view.now) for _, start in view.starts(deck)}
