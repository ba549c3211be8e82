"""One page for the teacher before a lesson, with room for notes."""

from __future__ import annotations

from collections.abc import Iterator

from trainer.document.words import day_word
from trainer.paper.html import Element, el, p, section, sentences, strong, table
from trainer.paper.page import Paper, document, long_day
from trainer.reports.lesson import Lesson, LessonStart
from trainer.reports.lesson_page import (
    CONFUSIONS,
    DAYS,
    ONE_THING,
    UNTRIED,
    WEAKEST,
    by_piece,
    confused_words,
    days_words,
    numbers_of,
    practised_words,
    since_words,
)

LINES = 5  # to write on
CONFUSED = 4  # confusions that are shown, the last first


def lesson_page(found: Lesson, *, paper: Paper | None = None) -> str:
    """What to know before a lesson (`reports.lesson`), to print. It is the teacher's own page:
    it shows chances, a child's too."""
    return document(
        f"Before the lesson with {found.name}",
        p(strong(f"{ONE_THING}: "), found.one_thing, class_="note first")
        if found.one_thing
        else None,
        *_parts(found),
        section(2, "Notes", *(el("div", class_="rule") for _ in range(LINES))),
        about="; ".join(part for part in (long_day(found.day), found.recital) if part),
        size="tight",
        paper=paper,
    )


def _parts(found: Lesson) -> Iterator[Element | None]:
    if not found.starts:
        yield p("No start is open yet.")
    if found.weakest:
        yield section(2, WEAKEST, _weakest(found))
    if found.untried:
        told = [
            el("span", strong(piece), f": {numbers_of(some)}")
            for _, piece, some in by_piece(found.untried)
        ]
        yield section(2, UNTRIED, sentences(told))
    tried = [one for one in found.starts if one.chance is not None]
    if tried:
        told = [
            el("span", strong(piece), f": {days_words(some)}") for _, piece, some in by_piece(tried)
        ]
        yield section(2, DAYS, sentences(told))
    if found.confused:
        told = [
            el("span", strong(one.piece), f": {confused_words(one)}")
            for one in found.confused[:CONFUSED]
        ]
        more = len(found.confused) - len(told)
        told += [el("span", f"and {more} more")] if more > 0 else []
        yield section(2, CONFUSIONS, sentences(told))
    yield section(2, since_words(found.practised), _practised(found))
    if found.notes:
        told = [el("span", strong(day_word(note.day)), f": {note.text}") for note in found.notes]
        yield section(2, "From earlier lessons", sentences(told))


def _weakest(found: Lesson) -> Element:
    def row(one: LessonStart) -> list[str]:
        held = "never yet" if one.days is None else _ago(one.days)
        basis = f"{one.basis}; stuck" if one.stuck else one.basis
        return [str(one.number), one.piece, one.place, basis, held]

    heads = ["start", "piece", "place", "next attempt", "last held cold"]
    return table("The next cold attempt: its chance, or how many held", heads,
                 [row(one) for one in found.weakest])  # fmt: skip


def _ago(days: int) -> str:
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")


def _practised(found: Lesson) -> Element:
    """In all, then piece by piece, in one sentence."""
    told = [f"{one.piece} {practised_words(one)}" for one in found.practised.pieces]
    return p(
        f"{practised_words(found.practised).capitalize()}{': ' * bool(told)}{'; '.join(told)}."
    )
