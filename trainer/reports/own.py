"""One student's own layer: what is another for them than in the teacher's deck."""

from __future__ import annotations

from collections.abc import Iterator

from trainer.deck.model import Piece, Start
from trainer.document.model import Cell, Column, Document, Table, listed
from trainer.record.layer import Own, no_effect
from trainer.reports.view import View, where
from trainer.score.cite import Words, entry, value_word

NOTE = "Kept, but without effect until the deck allows it again."
COLUMNS = (
    Column("piece", once=True),
    Column("start", kind="figure"),
    Column("place"),
    Column("own"),
    Column("value", "is"),
    Column("without_effect", kind="sentence"),
    Column("id", hidden=True),
)


def report(view: View, deck: str | None = None) -> Document:
    """Everything of the student's own in one piece or in all, and what has no effect and why."""
    rows: list[tuple[Cell, ...]] = []
    for deck_id, layer in view.layers.items():
        if deck in (None, deck_id) and deck_id in view.masters:
            piece = view.pieces[deck_id]
            idle = no_effect(view.masters[deck_id], layer, piece.score.end)
            for own in layer.owns:
                rows += _rows(view, piece, own, idle.get(own.start, ""))
    whose = f"{view.student.name}'s own"
    title = f"{whose} in {view.decks[deck].title}" if deck else whose
    table = Table(COLUMNS, tuple(rows), over="piece", opens="id")
    return listed("own", title, table, _notes(rows))


def _notes(rows: list[tuple[Cell, ...]]) -> tuple[str, ...]:
    if not rows:
        return ('Nothing yet: `trainer own PIECE 6 --fingering "R 1-2-4"` gives start 6 one.',)
    return (NOTE,) if any(row[5] for row in rows) else ()


def _rows(view: View, piece: Piece, own: Own, idle: str) -> Iterator[tuple[Cell, ...]]:
    start = next((one for one in piece.deck.starts if one.id == own.start), None)
    if start:
        at = where(piece, start, view.words)
    elif own.added is not None and own.added < piece.score.end:
        at = entry(piece.score, own.added, words=view.words)
    else:
        at = ""
    for name, value in told(view, piece, own):
        number = start.number if start else None
        yield (piece.deck.title, number, at, name, value, idle, own.start)


def advice_words(advice: tuple[str, ...], fingering: str, own: Own) -> Iterator[str]:
    """Advice and fingering as the student has them, with what is their own marked in words."""
    theirs = advice[:-1] if own.words else advice
    if theirs:
        yield f"Advice: {' '.join(theirs)}"
    if own.words:
        yield f"Your words: {own.words}"
    if fingering:
        yield f"{'Your fingering' if own.fingering else 'Fingering'}: {fingering}"


def told(view: View, piece: Piece, own: Own) -> Iterator[tuple[str, str]]:
    """What is the student's own at a start, by name, with its value in words."""
    if own.added is not None:
        yield "start", "added"
    if own.left_out:
        yield "calls", "left out"
    if own.fingering:
        yield "fingering", own.fingering
    if own.words:
        yield "words", own.words
    start = next((one for one in piece.deck.starts if one.id == own.start), None)
    if own.tempo is not None:
        words = tempo_words(piece, start, own, view.words) if start else ""
        yield "tempo", words or f"{own.tempo:g} beats a minute"


def tempo_words(piece: Piece, start: Start, own: Own, words: Words) -> str:
    """The student's own tempo at a start: "dotted crotchet = 72"; empty without one."""
    beat = value_word(piece.score.bar_at(start.onset).meter.beat, words) or "beat"
    return f"{beat} = {own.tempo:g}" if own.tempo else ""
