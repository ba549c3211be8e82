"""Phrase by phrase, what holds: weakest first."""

from __future__ import annotations

from trainer.deck.model import Piece, Start
from trainer.draw.words import BAND_SIGNS, percent
from trainer.memory.model import Retention
from trainer.record.attempt import practice_day
from trainer.reports.table import Cell, Table, day_word
from trainer.reports.view import View, where

NOTES = (
    "✓ holds (85% or more), ~ fading (60% or more), ! weak, ? no cold try yet.",
    "The chance that a cold try holds: an estimate from calm tries at home, an upper one for a "
    "stage. A join counts only where its start held. The day: if nothing more were played.",
)
CHILD_NOTE = "✓ holds, ~ fading, ! weak, ? not tried yet."
COLUMNS = (
    "piece", "start", "place", "is", "next try", "join", "the day", "last cold", "next call",
    "stands", "chance", "low", "high", "tries", "join chance", "day chance", "id",
)  # fmt: skip
CHANCES = ("next try", "join", "the day")


def report(view: View, deck: str | None = None) -> Table:
    """Each open or tried start: its next cold try, its join, and the day planned for (that of
    the next recital, or four weeks ahead). A child sees how it stands, without chances.
    """
    rows = [row for found in view.starts(deck) if (row := _row(view, *found)) is not None]
    child = view.student.level == "child"
    return Table(
        "retention",
        f"Retention for {view.student.name}, weakest first; the day is {day_word(view.target)}",
        COLUMNS,
        tuple(sorted(rows, key=_need)),
        (CHILD_NOTE,) if child else NOTES,
        figures=("start",),
        hidden=(
            *COLUMNS[COLUMNS.index("stands") :],
            *(CHANCES if child else ()),
        ),
        spare=("last cold", "join", "next call", "the day"),
    )


def _row(view: View, piece: Piece, start: Start) -> tuple[Cell, ...] | None:
    now = view.retention(start.id)
    if start.id not in view.open and not now.tries:
        return None
    join = view.retention(start.id, "join")
    day = view.retention(start.id, on=view.target)
    last = view.beliefs.last_cold(start.id)
    call = view.next_calls.get(start.id)
    return (
        piece.deck.title,
        start.number,
        where(piece, start, view.words),
        BAND_SIGNS[now.band],
        _figure(now, interval=True),
        _figure(join),
        _figure(day),
        practice_day(last) if last else None,
        call.day if call else None,
        now.band,
        now.chance,
        now.low,
        now.high,
        now.tries,
        join.chance,
        day.chance,
        start.id,
    )


def _figure(found: Retention, *, interval: bool = False) -> str:
    """ "2 of 2" under three tries, else "92%", with its interval "92% 81-97"."""
    if found.chance is None:
        return ""
    if found.tries < 3 or found.low is None or found.high is None:
        return f"{found.held} of {found.tries}"
    text = percent(found.chance)
    return f"{text} {100 * found.low:.0f}-{100 * found.high:.0f}" if interval else text


def _need(row: tuple[Cell, ...]) -> tuple[bool, float]:
    """Weakest first; untried ones after those that are known to be weak."""
    chance = row[COLUMNS.index("chance")]
    return (chance is None, chance if isinstance(chance, float) else 0.0)


def bands(view: View, deck: str) -> dict[str, Retention]:
    """The retention of every start of one piece at its next cold try, by id."""
    return {start.id: view.retention(start.id) for _, start in view.starts(deck)}
