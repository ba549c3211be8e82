"""The log: every try that stands, newest first."""

from __future__ import annotations

from trainer.draw.words import hint_words
from trainer.memory.evidence import Try
from trainer.reports.table import Cell, Table
from trainer.reports.view import View, where


def report(view: View, deck: str | None = None) -> Table:
    """Each try with its outcome, and whether it was cold."""
    rows = tuple(
        _row(view, one) for one in reversed(view.tries) if deck in (None, one.attempt.deck)
    )
    return Table(
        "attempts",
        f"Attempts of {view.student.name}",
        (
            "when",
            "piece",
            "start",
            "place",
            "outcome",
            "cold",
            "hints",
            "seconds",
            "drill",
            "judge",
            "id",
        ),
        rows,
        figures=("start", "seconds"),
        hidden=("drill", "judge", "id"),
        spare=("seconds", "hints"),
    )


def _row(view: View, one: Try) -> tuple[Cell, ...]:
    attempt = one.attempt
    found = view.find(attempt.deck, one.start)
    title = view.pieces[attempt.deck].deck.title if attempt.deck in view.pieces else ""
    return (
        f"{attempt.at:%Y-%m-%d %H:%M}",
        title,
        found[1].number if found else None,
        where(*found, view.words) if found else "no longer a start",
        attempt.outcome.value,
        one.cold,
        hint_words(attempt.hints) if attempt.hints else None,
        None if attempt.seconds is None else round(attempt.seconds),
        attempt.drill,
        attempt.judge,
        attempt.id,
    )
