"""The page before a lesson in words: as sections of lines, as a table, and for programs."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from itertools import groupby
from typing import Any

from trainer.document.model import Cell, Document, Table, columns, listed
from trainer.document.words import day_word
from trainer.draw.text import PLAIN, cells, clean, cut
from trainer.draw.words import band_sign, counted, joined
from trainer.record.lesson import LessonNote, standing_notes
from trainer.reports.lesson import Confused, Lesson, LessonStart, PiecePractised, Practised, lesson
from trainer.reports.view import View
from trainer.values import Frozen, plain

CONFUSED = 3  # that the page tells one by one
COLUMNS = (
    "part", "piece", "start", "place", "next_try", "told", "days", "chance", "deck_id", "id",
)  # fmt: skip
WEAKEST, UNTRIED = "The three weakest", "Open, not tried cold yet"
DAYS, CONFUSIONS = "Days since each last held cold, in brackets", "Confused with each other"
ONE_THING = "One thing to try"


class Section(Frozen, frozen=True):
    title: str
    lines: tuple[str, ...]


def report(view: View, deck: str | None = None, *, since: date | None = None) -> Document:
    """The page before the lesson, part by part."""
    return as_table(lesson(view, deck, since=since))


def head(found: Lesson) -> tuple[str, str]:
    """The title of the page, and what stands at its right end."""
    name = f"Before the lesson: {found.name}"
    return name, found.recital or f"{found.day:%A} {day_word(found.day)}"


def title(found: Lesson) -> str:
    return "; ".join(head(found))


def sections(found: Lesson, width: int, *, ascii: bool = False) -> tuple[Section, ...]:
    """The page in lines of at most `width` cells; what has nothing to tell is left out."""
    few = tuple(f"{one.piece}: {confused_words(one)}" for one in found.confused[:CONFUSED])
    more = len(found.confused) - len(few)
    made = (
        Section(WEAKEST, tuple(_weakest(found.weakest, width, ascii))),
        Section(
            UNTRIED,
            _fitted(
                (f"{name}: {numbers_of(some)}" for _, name, some in by_piece(found.untried)), width
            ),
        ),
        Section(
            DAYS,
            _fitted(
                (f"{name}: {days_words(some)}" for _, name, some in by_piece(_tried(found))),
                width,
            ),
        ),
        Section(ONE_THING, _fitted([found.one_thing] if found.one_thing else [], width)),
        Section(
            "Notes", _fitted((f"{day_word(one.day)}: {one.text}" for one in found.notes), width)
        ),
        Section(CONFUSIONS, _fitted((*few, *([f"and {more} more"] if more > 0 else [])), width)),
        Section(since_words(found.practised), _fitted([_practised(found.practised)], width)),
    )
    told = tuple(section for section in made if section.lines)
    if not found.starts:
        told = (Section("No start is open yet", ("Open those that were learned.",)), *told)
    return tuple(_plain(section) for section in told) if ascii else told


def as_text(found: Lesson, width: int, *, ascii: bool = False) -> list[str]:
    """The whole page as lines."""
    lines = textwrap.wrap(clean(title(found)), width)
    for section in sections(found, width - 2, ascii=ascii):
        lines += ["", *textwrap.wrap(section.title, width)]
        lines += [f"  {line}" for line in section.lines]
    return [line.translate(PLAIN) for line in lines] if ascii else lines


def _plain(section: Section) -> Section:
    return Section(section.title, tuple(line.translate(PLAIN) for line in section.lines))


def _fitted(sentences: Iterable[str], width: int) -> tuple[str, ...]:
    return tuple(
        line
        for sentence in sentences
        for line in textwrap.wrap(clean(sentence), width, subsequent_indent="  ")
    )


def _weakest(found: Sequence[LessonStart], width: int, ascii: bool) -> Iterator[str]:
    """Each with its figure at the same column, or below it where that has no room."""
    heads = [clean(f"{one.piece} {one.number}, {one.place}") for one in found]
    told = [f"{one.basis}; {held_words(one.days)}{'; stuck' if one.stuck else ''}" for one in found]
    one_line = max((cells(h) for h in heads), default=0) + max(map(len, told), default=0) + 4
    wide = max((cells(h) for h in heads), default=0)
    for one, start, figure in zip(found, heads, told, strict=True):
        sign = band_sign(one.band, ascii=ascii)
        if one_line <= width:
            yield f"{sign} {start}{' ' * (wide - cells(start))}  {figure}"
        else:
            yield cut(f"{sign} {start}", width, ascii=ascii)
            yield cut(f"    {figure}", width, ascii=ascii)


def held_words(days: int | None) -> str:
    """How long ago a start last held cold."""
    if days is None:
        return "never held"
    return "held today" if days == 0 else f"held {counted(days, 'day')} ago"


def _tried(found: Lesson) -> Iterator[LessonStart]:
    return (one for one in found.starts if one.chance is not None)


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


# As a table, and for programs


def as_table(found: Lesson) -> Document:
    rows = list(_rows(found))
    return listed(
        "lesson",
        title(found),
        Table(
            columns(*COLUMNS, hidden=("days", "chance", "deck_id", "id"), sentence="told"),
            tuple(tuple(row.get(name) for name in COLUMNS) for row in rows),
            over="part",
        ),
        (
            *(() if found.starts else ("No start is open yet.",)),
            *((f"{ONE_THING}: {found.one_thing}",) if found.one_thing else ()),
            *(f"Note of {day_word(note.day)}: {note.text}" for note in found.notes),
        ),
    )


def _rows(found: Lesson) -> Iterator[dict[str, Cell]]:
    for one in found.weakest:
        yield {
            "part": WEAKEST,
            "piece": one.piece,
            "start": str(one.number),
            "place": one.place,
            "next_try": one.basis,
            "told": held_words(one.days) + ("; stuck" if one.stuck else ""),
            "days": one.days,
            "chance": one.chance,
            "deck_id": one.deck,
            "id": one.start,
        }
    for deck, piece, some in by_piece(found.untried):
        yield {"part": UNTRIED, "piece": piece, "start": numbers_of(some), "deck_id": deck}
    for deck, piece, some in by_piece(_tried(found)):
        yield {"part": DAYS, "piece": piece, "told": days_words(some), "deck_id": deck}
    for pair in found.confused:
        told = confused_words(pair)
        yield {"part": CONFUSIONS, "piece": pair.piece, "told": told, "deck_id": pair.deck}
    part = since_words(found.practised)
    if len(found.practised.pieces) != 1:
        yield {"part": part, "piece": "in all", "told": practised_words(found.practised)}
    for mine in found.practised.pieces:
        told = practised_words(mine)
        yield {"part": part, "piece": mine.piece, "told": told, "deck_id": mine.deck}


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
