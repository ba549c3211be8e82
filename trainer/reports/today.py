"""What is left to drill today, and why; then what comes tomorrow."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from trainer.document.model import Document, Table, columns, listed
from trainer.draw.words import counted
from trainer.memory.planner import candidates
from trainer.record.plan import Slot
from trainer.reports import clock
from trainer.reports.homework import sentences as homework
from trainer.reports.numbers import numbers
from trainer.reports.view import View, where


def report(view: View, deck: str | None = None) -> Document:
    """What is left of today's plan in the order of its need, not in the order in which it is
    called."""
    rows = []
    for slot in view.left.slots:
        found = view.find(slot.deck, slot.start)
        if found and deck in (None, slot.deck):
            piece, start = found
            at = where(piece, start, view.words)
            rows.append((piece.deck.title, start.number, at, slot.why, slot.start))
    return listed(
        "today",
        f"Today for {view.student.name}: {_title(view, deck)}",
        Table(
            columns(
                "piece",
                "start",
                "place",
                "why",
                "id",
                figures=("start",),
                hidden=("id",),
                sentence="why",
            ),
            tuple(rows),
            opens="id",
        ),
        notes(view, deck),
    )


def _title(view: View, deck: str | None) -> str:
    slots = [slot for slot in view.left.slots if deck in (None, slot.deck)]
    if slots:
        return left_words(slots, begun=bool(view.today))
    head, _ = nothing_left(view)
    return f"{head[0].lower()}{head[1:].rstrip('.')}"


def left_words(slots: Sequence[Slot], *, begun: bool = False) -> str:
    """ "17 starts, about 8 minutes"; where some were called today, "11 starts left, ..."."""
    left = " left" if begun else ""
    return f"{counted(len(slots), 'start')}{left}, {about(slots)}"


def about(slots: Sequence[Slot]) -> str:
    """ "about 8 minutes"."""
    minutes = max(1, round(sum(slot.seconds for slot in slots) / 60))
    return f"about {counted(minutes, 'minute')}"


def notes(view: View, deck: str | None = None) -> tuple[str, ...]:
    """The countdown, what was done already, and what to do where nothing is left."""
    found = warnings(view)
    if view.recital:
        found.append(f"{view.recital.name}: {countdown(view.day, view.recital.day)}.")
    if view.outlook and view.level != "child":
        found.append(view.outlook.sentence)
    found += before_today(view)
    slots = [slot for slot in view.left.slots if deck in (None, slot.deck)]
    if not slots:
        found += nothing_left(view)[1]
    return (*found, *held_back(view, deck))


def warnings(view: View) -> list[str]:
    """What must be put right before anything is recorded."""
    return [one for one in (view.not_written, clock.warning(view.log, view.now)) if one]


def held_back(view: View, deck: str | None = None) -> list[str]:
    """The starts that wait today for a reason of their own: "Held back: Study 4. It looks like
    start 2, which is begun today."; those of one reason together."""
    reasons: dict[str, list[str]] = {}
    for held in view.held_back:
        if deck in (None, held.deck):
            reasons.setdefault(held.why, []).append(held.start)
    return [f"Held back: {numbers(view, tuple(some))}. {why}" for why, some in reasons.items()]


def before_today(view: View) -> list[str]:
    """The homework, a kind sentence after a time away, and what was done today."""
    found = [*homework(view)]
    if view.away and view.plan.slots:
        found.append(
            f"You were away for {counted(view.away, 'day')}. Today is short; the rest come round "
            "again over the next few days."
        )
    if view.today and view.left.slots:
        found.append(f"{counted(view.made_today, 'attempt')} so far today.")
    if view.left.slots and all(slot.safe for slot in view.left.slots):
        found.append(SAFE)
    return found


SAFE = "The rest are secure for today; you may end here."


def nothing_left(view: View) -> tuple[str, tuple[str, ...]]:
    """Why nothing is left to be called today: a heading, and what to do."""
    if not view.decks:
        return "No piece yet.", ("Add a score: `trainer add FILE`.",)
    if not view.open:
        return "No start is open yet.", (
            "Once a phrase has been learned, open its start: `trainer open PIECE 1` or "
            "`trainer open PIECE all`.",
        )
    head, told = nothing_today(view)
    return head, (*told, *([MORE] if head == DONE else ()))


DONE = "Done for today."
MORE = "For more today: `trainer drill --more`."


def nothing_today(view: View) -> tuple[str, tuple[str, ...]]:
    """Why nothing is left to be called today although starts are open: a heading, and what comes
    tomorrow."""
    if view.today and view.plan.slots:
        made = f"{counted(view.made_today, 'attempt')} today."
        return DONE, (made, tomorrow_words(view))
    if view.student.minutes_on(view.day) <= 0:
        return "A day off.", (tomorrow_words(view),)
    if not candidates(view.openings, view.decks, view.recitals, view.now):
        return "Nothing to drill today.", (
            "No open start is in a piece that is played from memory.",
        )
    return "Nothing to drill today.", (tomorrow_words(view),)


def tomorrow_words(view: View) -> str:
    """What comes tomorrow: "Tomorrow: 12 starts, about 6 minutes."."""
    if view.tomorrow.slots:
        return f"Tomorrow: {left_words(view.tomorrow.slots)}."
    if view.student.minutes_on(view.day + timedelta(days=1)) <= 0:
        return "Tomorrow is a day off."
    return "Nothing is planned for tomorrow."


def countdown(today: date, day: date) -> str:
    left = (day - today).days
    return "today" if left == 0 else "tomorrow" if left == 1 else f"in {left} days"
