"""What the teacher asks for until the next lesson."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from trainer.dates import near_by
from trainer.document.model import Column, Document, Table, listed
from trainer.record.attempt import practice_day
from trainer.reports.numbers import numbers
from trainer.reports.view import View, where

COLUMNS = (
    Column("piece", once=True),
    Column("start", kind="figure"),
    Column("place"),
    Column("task", kind="sentence"),
    Column("until"),
    Column("tried_cold", "tried cold"),
    Column("id", hidden=True),
)
NONE = "None: `trainer homework PIECE 3,5` asks for starts 3 and 5 for a week."


def report(view: View, deck: str | None = None) -> Document:
    """Each start asked for, what to do there, until when, and when it was last tried cold."""
    rows = tuple(
        (piece.deck.title, start.number, where(piece, start, view.words), _task(view, start.id),
         view.homework[start.id], _tried(view, start.id), start.id)
        for piece, start in view.starts(deck)
        if start.id in view.homework
    )  # fmt: skip
    title = f"Homework for {view.student.name}"
    table = Table(COLUMNS, rows, over="piece", opens="id")
    return listed("homework", title, table, () if rows else (NONE,))


def _task(view: View, start: str) -> str:
    return "drill" if start in view.open else "learn the phrase, then open it"


def _tried(view: View, start: str) -> date | None:
    at = view.beliefs.last_cold(start)
    return practice_day(at) if at else None


def sentences(view: View, deck: str | None = None) -> Iterator[str]:
    """ "Homework until Monday 9 March: drill Study 3 and 5; learn Air 2, then open it."."""
    wanted = {start.id for _, start in view.starts(deck)}
    by_day: dict[date, list[str]] = {}
    for start, until in view.homework.items():
        if start in wanted:
            by_day.setdefault(until, []).append(start)
    for until, some in sorted(by_day.items()):
        opened = numbers(view, tuple(one for one in some if one in view.open))
        closed = numbers(view, tuple(one for one in some if one not in view.open))
        told = [f"drill {opened}"] if opened else []
        told += [f"learn {closed}, then open {'it' if _one(closed) else 'them'}"] if closed else []
        yield f"Homework until {near_by(until)}: {'; '.join(told)}."


def _one(numbered: str) -> bool:
    return not any(mark in numbered for mark in (" and ", ", ", "; "))
