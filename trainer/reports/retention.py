"""Phrase by phrase, what holds: weakest first, or in another order."""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import date

from trainer.deck.model import Piece, Start
from trainer.document.model import Cell, Document, Standing, Table, columns, listed
from trainer.document.words import day_word
from trainer.draw.words import BANDS, percent
from trainer.memory.model import FIGURES_FROM, Band, Retention
from trainer.record.attempt import practice_day
from trainer.reports.readiness import stuck_notes
from trainer.reports.view import View, where

NOTES = (
    "✓ holds (85% or more), ~ fading (60% or more), ! weak, ? not tried cold yet.",
    "Next attempt: the chance that a cold attempt begins right and crosses the join; an estimate "
    "for calm practice at home; on stage expect less. Join: for the join alone, once its start "
    "held. "
    "Recital, or in 4 weeks: the same chance on that day with no more practice.",
    "The mark allows for the days since the last attempt. A start tried today will be tried cold "
    "again tomorrow, with the music still fresh from today.",
)
ALL_NOTE = "After each chance its interval, and in brackets the number of cold attempts behind it."
CHILD_NOTE = "✓ holds, ~ fading, ! weak, ? not tried yet."
NONE = "No start is open or tried yet: `trainer open PIECE 1` opens one."
COLUMNS = (
    "piece", "start", "place", "is", "next_try", "join", "the_day", "last_cold", "next_call",
    "stands", "stuck", "chance", "low", "high", "tries", "start_chance", "start_low", "start_high",
    "join_chance", "join_low", "join_high",
    "join_tries", "day_chance", "id",
)  # fmt: skip
CHANCES = ("next_try", "join", "the_day")

Order = Callable[[dict[str, Cell]], tuple[bool, float | date]]


def _by(column: str) -> Order:
    """The least first; rows without it last, in the order they come in."""

    def key(row: dict[str, Cell]) -> tuple[bool, float | date]:
        cell = row[column]
        return (False, cell) if isinstance(cell, float | date) else (True, 0.0)

    return key


# The orders there are: what the title says of each, and its key; None is the order of the score.
SORTS: dict[str, tuple[str, Order | None]] = {
    "weakest": ("weakest first", _by("chance")),
    "score": ("in score order", None),
    "last cold": ("oldest cold attempt first", _by("last_cold")),
    "next call": ("soonest called first", _by("next_call")),
}


def report(
    view: View, deck: str | None = None, *, sort: str = "weakest", only: Collection[Band] = ()
) -> Document:
    """Each open or tried start: its next cold try, its join, and the day planned for (that of
    the next recital, or four weeks ahead).

    `sort` is one of SORTS, `only` the bands that are shown, all where it is empty. A child sees
    how each stands, without chances; an advanced student sees what every chance rests on.
    """
    level = view.level
    told, key = SORTS[sort]
    known = [row for found in view.starts(deck) if (row := _row(view, *found)) is not None]
    rows = [row for row in known if not only or row["stands"] in only]
    for order in (_by("chance"), key) if key else ():
        rows.sort(key=order)
    day = "recital" if view.recital else "in 4 weeks"
    title = (
        f"Retention for {view.student.name}",
        *(titles if len(titles := {row["piece"] for row in known}) == 1 else ()),
        *((f"only {_either(only)}",) if only else ()),
        told,
    )
    return listed(
        "retention",
        ", ".join(title),
        Table(
            columns(
                *COLUMNS,
                figures=("start",),
                hidden=(
                    *COLUMNS[COLUMNS.index("stands") :],
                    *(CHANCES if level == "child" else ()),
                ),
                spare=("last_cold", "next_call", "the_day")
                if level == "advanced"
                else ("last_cold", "join", "next_call", "the_day"),
                heads={"next_try": "next attempt", "the_day": day},
            ),
            tuple(tuple(row[name] for name in COLUMNS) for row in rows),
            over="piece" if key is None else "",
            opens="id",
        ),
        (
            *(stuck_notes(view, deck) if rows else ()),
            *_notes(level, only, any_known=bool(known), any_shown=bool(rows)),
        ),
        f"{day} {day_word(view.target)}",
    )


def _notes(
    level: str, only: Collection[Band], *, any_known: bool, any_shown: bool
) -> tuple[str, ...]:
    if not any_known:
        return (NONE,)
    if not any_shown:
        return (f"There is no start of this kind: {_either(only)}.",)
    if level == "child":
        return (CHILD_NOTE,)
    return (*NOTES, ALL_NOTE) if level == "advanced" else NOTES


def _either(only: Collection[Band]) -> str:
    return " or ".join(band for band in BANDS if band in only)


def _row(view: View, piece: Piece, start: Start) -> dict[str, Cell] | None:
    now, first = view.retention(start.id), view.retention(start.id, "start")
    if start.id in view.left_out or (start.id not in view.open and not now.tries):
        return None
    join = view.retention(start.id, "join")
    day = view.retention(start.id, on=view.target)
    last = view.beliefs.last_cold(start.id)
    whole = view.level == "advanced"
    return {
        "piece": piece.deck.title,
        "start": start.number,
        "place": where(piece, start, view.words),
        "is": Standing(now.band, start.id in view.stuck),
        "next_try": _whole(now) if whole else _figure(now, interval=True),
        "join": _whole(join) if whole else _figure(join),
        "the_day": _figure(day),
        "last_cold": practice_day(last) if last else None,
        "next_call": view.next_day(start.id),
        "stands": now.band,
        "stuck": start.id in view.stuck,
        "chance": now.chance,
        "low": now.low,
        "high": now.high,
        "tries": now.tries,
        "start_chance": first.chance,
        "start_low": first.low,
        "start_high": first.high,
        "join_chance": join.chance,
        "join_low": join.low,
        "join_high": join.high,
        "join_tries": join.tries,
        "day_chance": day.chance,
        "id": start.id,
    }


def _whole(found: Retention) -> str:
    """ "92% 81-97 (14)": a chance with its interval and its tries; under three as `_figure`."""
    text = _figure(found, interval=True)
    return f"{text} ({found.tries})" if text and found.tries >= FIGURES_FROM else text


def _figure(found: Retention, *, interval: bool = False) -> str:
    """ "2 of 2" under three tries, else "92%", with its interval "92% 81-97"."""
    if found.chance is None:
        return ""
    if found.tries < FIGURES_FROM or found.low is None or found.high is None:
        return f"{found.held} of {found.tries}"
    text = percent(found.chance)
    return f"{text} {100 * found.low:.0f}-{100 * found.high:.0f}" if interval else text


def bands(view: View, deck: str) -> dict[str, Retention]:
    """How every start of one piece stands at its next cold try, by id."""
    return {start.id: view.retention(start.id) for start in view.decks[deck].starts}
