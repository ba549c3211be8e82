"""The end of a drill: what held, what did not, and when each comes back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import islice

from trainer.document.model import Cell, Document, Table, columns, listed
from trainer.draw.words import counted
from trainer.record.attempt import Attempt, Outcome
from trainer.reports.numbers import numbers
from trainer.reports.view import View, where

FAILS = 3  # times running


def report(view: View, attempts: Sequence[Attempt]) -> Document:
    """Each start of a drill with its tries and its next call. `view` is as after the drill."""
    by_start: dict[tuple[str, str], list[Attempt]] = {}
    for attempt in attempts:
        by_start.setdefault((attempt.deck, attempt.start), []).append(attempt)
    rows = tuple(
        row for key, tries in by_start.items() if (row := _row(view, *key, tries)) is not None
    )
    cold = {one.attempt.id for one in view.tries if one.cold}
    firsts = [tries[0].outcome for tries in by_start.values() if tries[0].id in cold]
    count = counted(len(by_start), "start")
    child = view.student.level == "child"
    return listed(
        "drill",
        f"{count} tried" if child else _said(firsts, len(by_start)),
        Table(
            columns(
                "piece",
                "start",
                "place",
                "first_try",
                "then",
                "next_call",
                "id",
                figures=("start",),
                hidden=("id",),
                heads={"first_try": "first attempt"},
            ),
            rows,
        ),
        _notes(view, by_start) if rows else ("Nothing was tried.",),
    )


def _said(firsts: Sequence[Outcome], starts: int) -> str:
    """How the cold attempts went: how many went through, and how many more could be begun. What
    was no cold attempt is not counted."""
    others = starts - len(firsts)
    if not firsts:
        return f"{counted(others, 'start')} practised; no attempt counts as cold"
    through = firsts.count(Outcome.THROUGH)
    begun = sum(outcome.start_held for outcome in firsts) - through
    more = f"; {begun} more began right" if begun else ""
    apart = f"; {counted(others, 'start')} practised besides" if others else ""
    count = counted(len(firsts), "start")
    return f"{through} of {count} went through at the first attempt{more}{apart}"


def _notes(view: View, keys: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """What failed three times running is to be taken apart (common practice, no source)."""
    failing = tuple(start_id for _, start_id in keys if _fails(view, start_id))
    if not failing:
        return ()
    return (
        f"Failed three times in a row: {numbers(view, failing)}. Take it apart, slowly, at half "
        "tempo, before the next attempt.",
    )


def _fails(view: View, start_id: str) -> bool:
    """Whether the last tries of a start all failed."""
    mine = (one.held() for one in reversed(view.tries) if one.start == start_id)
    return list(islice((held for held in mine if held is not None), FAILS)) == [False] * FAILS


def _row(view: View, deck: str, start_id: str, tries: Sequence[Attempt]) -> tuple[Cell, ...] | None:
    found = view.find(deck, start_id)
    if found is None:
        return None
    piece, start = found
    return (
        piece.deck.title,
        start.number,
        where(piece, start, view.words),
        tries[0].outcome.value,
        ", ".join(attempt.outcome.value for attempt in tries[1:]) or None,
        view.next_day(start_id),
        start_id,
    )
