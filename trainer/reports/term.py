"""The report of a term, for those at home: what holds, what was practised, in plain words.

It names what can be done. It has no percentages, compares nobody, and counts nothing that failed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from trainer.dates import in_full
from trainer.document.model import Cell, Document, Sentence, Table, columns
from trainer.draw.words import counted, joined
from trainer.errors import TrainerError
from trainer.memory.evidence import made
from trainer.record.attempt import practice_day
from trainer.record.log import Written
from trainer.reports.view import View

WEEKS = 12  # that a report is of, where nothing else is said
COLUMNS = ("piece", "places_that_hold", "numbers", "being_learned", "new")
WHY = (
    "A player who can begin at many places besides the top need not stop after a slip: the next "
    "place is near."
)
NOTE = (
    "A place is where a phrase begins. It holds if, by all attempts so far, you can begin to play "
    "there from memory: an estimate, from calm practice at home."
)


def report(
    view: View, deck: str | None = None, *, first: date | None = None, last: date | None = None
) -> Document:
    """What was practised from `first` to `last`, both included, and what holds at the end: by
    default the last twelve weeks, up to today. Raises TrainerError where it would end before it
    begins."""
    last = min(last or view.day, view.day)
    first = last - timedelta(weeks=WEEKS) + timedelta(days=1) if first is None else first
    if first > last:
        raise TrainerError(f"{first} is after {last}: give the first day, then the last.")
    then = as_of(view, last)
    rows = tuple(_pieces(then, deck, first))
    coming = then.recital
    told = (
        _practised(then, deck, first, new=sum(int(str(row[-1])) for row in rows)),
        _holds(sum(int(str(row[1])) for row in rows)),
        Table(columns(*COLUMNS, figures=COLUMNS[1:2] + COLUMNS[3:], once=()), rows),
        Sentence(f"Next: {coming.name} on {in_full(coming.day)}." if coming else ""),
        Sentence(NOTE),
    )
    title = f"What {view.student.name} has practised"
    return Document("term", title, told, f"{in_full(first)} to {in_full(last)}")


def as_of(view: View, day: date) -> View:
    """What was known at the end of a practice day that may be over. Kept beliefs and plans of a
    later day do no harm: they are taken only for the tries that they rest on."""
    if day >= view.day:
        return view
    return replace(
        view,
        now=view.now - (view.day - day),
        log=Written(one for one in view.attempts if one.day <= day),
        openings=tuple(one for one in view.openings if practice_day(one.at) <= day),
    )


def _pieces(view: View, deck_id: str | None, first: date) -> Iterator[tuple[Cell, ...]]:
    """Each piece with a start that is open or was tried; new is what was first tried since."""
    begun: dict[str, date] = {}
    for one in view.tries:
        begun.setdefault(one.start, one.attempt.day)
    for deck in view.decks.values():
        known = [start for start in deck.starts if start.id in view.open or start.id in begun]
        hold = [start.number for start in known if view.retention(start.id).band == "holds"]
        new = sum(begun.get(start.id, date.min) >= first for start in known)
        if known and deck_id in (None, deck.id):
            numbers = joined([str(number) for number in hold])
            yield deck.title, len(hold), numbers, len(known) - len(hold), new


def _practised(view: View, deck: str | None, first: date, *, new: int) -> Sentence:
    found = [
        one
        for one in view.attempts
        if one.day >= first and one.judge != "teacher" and deck in (None, one.deck)
    ]
    if not made(found):
        return Sentence(
            "No drills were recorded in this period. Practice without the program is not counted."
        )
    days = counted(len({one.day for one in found}), "day")
    told = f" {counted(new, 'place was', 'places were')} new." if new else ""
    return Sentence(
        f"On {days} {view.student.name} practised beginning in the middle of a piece from memory, "
        f"{counted(made(found), 'time')} in all.{told}"
    )


def _holds(hold: int) -> Sentence:
    so_far = f"So far {counted(hold, 'place holds', 'places hold')}."
    return Sentence(f"{WHY} {so_far if hold else 'The first places are being learned.'}")
