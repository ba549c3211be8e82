"""The page before a lesson as a document, and for programs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from itertools import groupby
from typing import Any

from trainer.document.model import (
    Document,
    Listing,
    Rule,
    Section,
    Sentence,
    Table,
    columns,
    listed,
)
from trainer.document.words import day_word
from trainer.draw.words import BAND_SIGNS, counted, joined
from trainer.record.lesson import LessonNote, standing_notes
from trainer.reports.lesson import Confused, Lesson, LessonStart, PiecePractised, Practised, lesson
from trainer.reports.view import View
from trainer.values import Frozen, plain

CONFUSED = 3  # that the page tells one by one
LINES = 5  # to write on, on paper
WEAKEST, UNTRIED = "The three weakest", "Open, but not yet tried cold"
DAYS, CONFUSIONS = "Days since each last held cold, in brackets", "Confused with each other"
ONE_THING = "One thing to try"


def report(view: View, deck: str | None = None, *, since: date | None = None) -> Document:
    """The page before the lesson, part by part."""
    return document(lesson(view, deck, since=since))


def title(found: Lesson) -> str:
    return f"Before the lesson: {found.name}"


def document(found: Lesson) -> Document:
    """The page; what has nothing to tell is left out where people read it."""
    tried = by_piece(one for one in found.starts if one.chance is not None)
    ago = (f"{name}: {days_words(some)}" for _, name, some in tried)
    untried = (f"{name}: {numbers_of(some)}" for _, name, some in by_piece(found.untried))
    confused = [f"{one.piece}: {confused_words(one)}" for one in found.confused[:CONFUSED]]
    more = len(found.confused) - len(confused)
    nothing = () if found.starts else ("Open those that were learned.",)
    parts = (
        Section("none", "No start is open yet", (Listing(nothing),)),
        Section("weakest", WEAKEST, (Listing(tuple(map(_weak, found.weakest))),)),
        Section("untried", UNTRIED, (Listing(tuple(untried)),)),
        Section("days", DAYS, (Listing(tuple(ago)),)),
        Section("to_try", ONE_THING, (Sentence(found.one_thing),)),
        Section("notes", "From earlier lessons", (
            Listing(tuple(f"{day_word(one.day)}: {one.text}" for one in found.notes)),
        )),
        Section("confused", CONFUSIONS, (
            Listing((*confused, *([f"and {more} more"] if more > 0 else []))),
        )),
        Section("practised", since_words(found.practised), (
            Sentence(_practised(found.practised)),
        )),
        Section("to_write", "Notes", (Rule(LINES),)),
    )  # fmt: skip
    aside = found.recital or f"{found.day:%A} {day_word(found.day)}"
    return Document("lesson", title(found), parts, aside)


def _weak(one: LessonStart) -> str:
    """ "! Air 3, b. 9: 1 of 4; held 3 days ago; stuck"."""
    stuck = "; stuck" if one.stuck else ""
    where = f"{one.piece} {one.number}, {one.place}"
    return f"{BAND_SIGNS[one.band]} {where}: {one.basis}; {held_words(one.days)}{stuck}"


def held_words(days: int | None) -> str:
    """How long ago a start last held cold."""
    if days is None:
        return "never held"
    return "held today" if days == 0 else f"held {counted(days, 'day')} ago"


def since_words(found: Practised) -> str:
    """ "Practised since the lesson of 25 Feb"."""
    since = day_word(found.since)
    return f"Practised since {'the lesson of ' if found.lesson else ''}{since}"


def practised_words(found: Practised | PiecePractised) -> str:
    """ "3 days, 41 attempts"."""
    if not found.tries:
        return "nothing"
    return f"{counted(found.days, 'day')}, {counted(found.tries, 'attempt')}"


def _practised(found: Practised) -> str:
    told = [f"{one.piece} {practised_words(one)}" for one in found.pieces]
    return f"{practised_words(found)}: {'; '.join(told)}." if told else "Nothing."


def by_piece(starts: Iterable[LessonStart]) -> Iterator[tuple[str, str, list[LessonStart]]]:
    """The id and title of each piece, with its starts."""
    for deck, some in groupby(starts, key=lambda one: one.deck):
        mine = list(some)
        yield deck, mine[0].piece, mine


def numbers_of(starts: Iterable[LessonStart]) -> str:
    """ "3, 4 and 7"."""
    return joined([str(one.number) for one in starts])


def days_words(starts: Sequence[LessonStart]) -> str:
    """The days since each start of a piece last held cold, the longest ago first: "4 (never),
    3 and 5 (12), 2 (today)"."""
    ago = {one.days for one in starts}
    order: list[int | None] = [*sorted((d for d in ago if d is not None), reverse=True)]
    return ", ".join(
        f"{numbers_of(one for one in starts if one.days == days)} ({_days(days)})"
        for days in ([None, *order] if None in ago else order)
    )


def _days(days: int | None) -> str:
    return "never" if days is None else str(days) if days else "today"


def confused_words(one: Confused) -> str:
    """ "played 7 instead of 3, twice, last on 2 Mar; they part at b. 12"."""
    times = {1: "once", 2: "twice"}.get(one.times, f"{one.times} times")
    told = f"played {one.begun_number} instead of {one.called_number}, {times}, last on"
    parts = f"; they part at {one.parts}" if one.parts else ""
    return f"{told} {day_word(one.last)}{parts}"


def notes_table(name: str, notes: Iterable[LessonNote]) -> Document:
    """The teacher's notes that stand, the newest day first."""
    rows = tuple((one.day, one.text, one.id) for one in standing_notes(notes))
    none = "No note yet: `trainer note TEXT` writes today's."
    return listed(
        "notes",
        f"Notes on {name}",
        Table(columns("day", "note", "id", hidden=("id",), sentence="note"), rows),
        () if rows else (none,),
    )


def as_data(found: Lesson) -> dict[str, Any]:
    """All of it for programs, every field there."""
    data: dict[str, Any] = _full(found)
    return {"report": "lesson", "title": title(found), **data}


def _full(value: Any) -> Any:
    if isinstance(value, Frozen):
        return {name: _full(getattr(value, name)) for name in value.__struct_fields__}
    return [_full(one) for one in value] if isinstance(value, tuple) else plain(value)
