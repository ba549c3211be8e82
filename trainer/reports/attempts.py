"""The log: every try that stands, newest first."""

from __future__ import annotations

from trainer.document.model import Cell, Document, Table, columns, listed
from trainer.draw.words import hint_words
from trainer.memory.evidence import Try
from trainer.record.attempt import Attempt
from trainer.reports.heard import NO_DECK, otherwise, outcome_word
from trainer.reports.view import View, where
from trainer.score.cite import place

COLUMNS = (
    "day", "time", "piece", "start", "place", "outcome", "heard", "cold", "hints", "seconds",
    "when", "drill", "judge", "id",
)  # fmt: skip
RAW = (
    "at", "day", "student", "piece", "start", "place", "outcome", "cold", "start_held",
    "join_held", "hints", "elsewhere", "broke_at", "seconds", "latency", "tempo", "hands", "drill",
    "judge", "amends", "machine", "revision", "deck_id", "start_id", "elsewhere_id", "broke_at_ql",
    "heard", "heard_elsewhere", "heard_broke_at_ql", "wrong", "missed", "extra", "notes", "sure",
    "id",
)  # fmt: skip
NONE = "No attempts yet: `trainer drill` records the first ones, at your own pace."


def report(view: View, deck: str | None = None, start: str | None = None) -> Document:
    """Each try of all pieces, of one deck or of one start, by their ids, under its practice
    day: its outcome, what was heard where that is another, who judged where that was not always the
    player, and whether it was cold."""
    rows = tuple(_row(view, one) for one in _chosen(view, deck, start))
    alike = all(row[COLUMNS.index("heard")] is None for row in rows)
    alone = all(row[COLUMNS.index("judge")] == "self" for row in rows)
    return listed(
        "attempts",
        _title(view, deck, start),
        Table(
            columns(
                *COLUMNS,
                figures=("start", "seconds"),
                hidden=("when", "drill", "id", *["heard"] * alike, *["judge"] * alone),
                spare=("seconds", "hints", "judge"),
            ),
            rows,
            over="day",
        ),
        () if rows else (NONE,),
    )


def raw(view: View, deck: str | None = None, start: str | None = None) -> Table:
    """The same tries with all that is kept of each, for a spreadsheet.

    `at` is an instant with its offset, `seconds` and `latency` are seconds, `tempo` is quarter
    notes a minute, `broke_at_ql` counts quarter notes from the first bar's beginning. From `heard`
    to `sure` (0-1) stands what an instrument heard. What was not observed or not said is empty.
    """
    rows = tuple(_raw_row(view, one) for one in _chosen(view, deck, start))
    return Table(columns(*RAW), rows)


def _title(view: View, deck: str | None, start: str | None) -> str:
    found = view.find(deck, start) if deck and start else None
    of = [view.decks[deck].title] if deck else []
    of += [f"start {found[1].number}"] if found else []
    return ", ".join([f"Attempts of {view.student.name}", *of])


def _chosen(view: View, deck: str | None, start: str | None) -> list[Try]:
    return [
        one
        for one in reversed(view.tries)
        if deck in (None, one.attempt.deck) and start in (None, one.start)
    ]


def _row(view: View, one: Try) -> tuple[Cell, ...]:
    attempt = one.attempt
    return (
        attempt.day,
        f"{attempt.at:%H:%M}",
        *_whose(view, one),
        attempt.outcome.value,
        _heard(view, attempt),
        one.cold,
        hint_words(attempt.hints) if attempt.hints else None,
        None if attempt.seconds is None else round(attempt.seconds),
        f"{attempt.at:%Y-%m-%d %H:%M}",
        attempt.drill,
        attempt.judge,
        attempt.id,
    )


def _raw_row(view: View, one: Try) -> tuple[Cell, ...]:
    attempt = one.attempt
    other = view.find(attempt.deck, attempt.elsewhere) if attempt.elsewhere else None
    at = attempt.broke_at
    piece = view.pieces.get(attempt.deck) if at is not None else None
    return (
        attempt.at.isoformat(),
        attempt.day.isoformat(),
        view.student.name,
        *_whose(view, one),
        attempt.outcome.value,
        one.cold,
        one.held("start"),
        one.held("join"),
        "; ".join(attempt.hints) or None,
        other[1].number if other else None,
        place(piece.score, at, words=view.words) if piece and at is not None else None,
        attempt.seconds,
        attempt.latency,
        attempt.tempo,
        attempt.hands,
        attempt.drill,
        attempt.judge,
        attempt.amends or None,
        attempt.machine,
        attempt.revision,
        attempt.deck,
        one.start,
        attempt.elsewhere or None,
        None if at is None else float(at),
        *_witness(view, attempt),
        attempt.id,
    )


def _heard(view: View, one: Attempt) -> str | None:
    """What was heard, where something else was said."""
    return outcome_word(view, one, one.heard) if one.heard and otherwise(one) else None


def _witness(view: View, one: Attempt) -> tuple[Cell, ...]:
    """All that an instrument heard of a try."""
    heard = one.heard
    if heard is None:
        return (None,) * 8
    other = view.find(one.deck, heard.elsewhere) if heard.elsewhere else None
    return (
        heard.outcome.value,
        other[1].number if other else None,
        None if heard.broke_at is None else float(heard.broke_at),
        heard.wrong,
        heard.missed,
        heard.extra,
        heard.notes,
        heard.sure,
    )


def _whose(view: View, one: Try) -> tuple[str, int | None, str]:
    """The piece, and number and place of the start that has the try now."""
    deck = view.decks.get(one.attempt.deck)
    found = view.find(one.attempt.deck, one.start)
    return (
        deck.title if deck else f"deck {one.attempt.deck[:8]}",
        found[1].number if found else None,
        where(*found, view.words) if found else "no longer a start" if deck else NO_DECK,
    )
