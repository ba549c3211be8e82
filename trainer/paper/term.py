"""The report of a term, for those at home: what holds, what was practised, in plain words.

It names what can be done. It has no percentages, compares nobody, and counts nothing that failed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from trainer.dates import in_full
from trainer.draw.words import counted, joined
from trainer.errors import TrainerError
from trainer.memory.evidence import made
from trainer.paper.html import el, p, section, sentences, strong
from trainer.paper.page import Paper, document
from trainer.record.attempt import practice_day
from trainer.record.log import Written
from trainer.reports.view import View
from trainer.values import Frozen

WEEKS = 12  # that a report is of, where nothing else is said
NOTE = (
    "A place is where a phrase begins. It holds if, by all attempts so far, you can begin to play "
    "there from memory: an estimate, from calm practice at home."
)


class PieceTerm(Frozen, frozen=True):
    """One piece at the end of the time: the numbers of the starts that hold, how many others
    are open or were tried, and how many of all were first tried in this time."""

    title: str
    hold: tuple[int, ...]
    others: int
    new: int


class Term(Frozen, frozen=True):
    """What was practised from `first` to `last`, both included, and what holds at the end."""

    name: str
    first: date
    last: date
    days: int
    tries: int
    pieces: tuple[PieceTerm, ...]
    recital: str = ""  # "School concert on Friday 18 December 2026"

    @property
    def hold(self) -> int:
        return sum(len(piece.hold) for piece in self.pieces)

    @property
    def new(self) -> int:
        return sum(piece.new for piece in self.pieces)


def term(view: View, first: date | None = None, last: date | None = None) -> Term:
    """The term of a student: by default the last twelve weeks, up to today. Raises TrainerError
    where it would end before it begins."""
    last = min(last or view.day, view.day)
    first = last - timedelta(weeks=WEEKS) + timedelta(days=1) if first is None else first
    if first > last:
        raise TrainerError(f"{first} is after {last}: give the first day, then the last.")
    then = as_of(view, last)
    found = [one for one in then.attempts if one.day >= first and one.judge != "teacher"]
    coming = then.recital
    return Term(
        then.student.name,
        first,
        last,
        len({one.day for one in found}),
        made(found),
        tuple(_pieces(then, first)),
        f"{coming.name} on {in_full(coming.day)}" if coming else "",
    )


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


def _pieces(view: View, first: date) -> Iterator[PieceTerm]:
    """Each piece with a start that is open or was tried."""
    begun: dict[str, date] = {}
    for one in view.tries:
        begun.setdefault(one.start, one.attempt.day)
    for deck in view.decks.values():
        known = [start for start in deck.starts if start.id in view.open or start.id in begun]
        hold = [start for start in known if view.verdict(start.id).band == "holds"]
        new = [start for start in known if begun.get(start.id, date.min) >= first]
        if known:
            numbers = tuple(start.number for start in hold)
            yield PieceTerm(deck.title, numbers, len(known) - len(hold), len(new))


def term_report(found: Term, *, paper: Paper | None = None) -> str:
    """The report as a page."""
    listed = [el("span", strong(one.title), f": {_piece_words(one)}.") for one in found.pieces]
    return document(
        f"What {found.name} has practised",
        p(_practised(found)),
        p(_holds(found)),
        section(2, "Piece by piece", sentences(listed)) if listed else None,
        p(f"Next: {found.recital}.") if found.recital else None,
        p(NOTE, class_="note"),
        about=f"{in_full(found.first)} to {in_full(found.last)}",
        paper=paper,
    )


def _practised(found: Term) -> str:
    if not found.tries:
        return (
            "No drills were recorded in this period. Practice without the program is not counted."
        )
    new = f" {counted(found.new, 'place was', 'places were')} new." if found.new else ""
    return (
        f"On {counted(found.days, 'day')} {found.name} practised beginning in the middle of a "
        f"piece from memory, {counted(found.tries, 'time')} in all.{new}"
    )


def _holds(found: Term) -> str:
    why = (
        "A player who can begin at many places besides the top need not stop after a slip: "
        "the next place is near."
    )
    if not found.hold:
        return f"{why} The first places are being learned."
    return f"{why} So far {counted(found.hold, 'place holds', 'places hold')}."


def _piece_words(one: PieceTerm) -> str:
    others = counted(one.others, "more is", "more are") if one.hold else counted(
        one.others, "place is", "places are"
    )  # fmt: skip
    learning = f"{others} being learned" if one.others else ""
    if not one.hold:
        return learning
    numbers = joined([str(number) for number in one.hold])
    told = f"{counted(len(one.hold), 'place holds', 'places hold')} (number {numbers})"
    if len(one.hold) > 1:
        told = told.replace("(number ", "(numbers ")
    return "; ".join(part for part in (told, learning) if part)
