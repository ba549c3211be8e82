"""What to drill today, and why."""

from __future__ import annotations

from datetime import date

from trainer.draw.words import counted
from trainer.memory.planner import candidates
from trainer.reports import clock
from trainer.reports.table import Table
from trainer.reports.view import View, where


def report(view: View, deck: str | None = None) -> Table:
    """Today's calls in the order of their need, not in the order in which they are called."""
    rows = []
    for slot in view.plan.slots:
        found = view.find(slot.deck, slot.start)
        if found and deck in (None, slot.deck):
            piece, start = found
            at = where(piece, start, view.words)
            rows.append((piece.deck.title, start.number, at, slot.why, slot.start))
    return Table(
        "today",
        _title(view),
        ("piece", "start", "place", "why", "id"),
        tuple(rows),
        notes(view),
        figures=("start",),
        told="why",
        hidden=("id",),
    )


def _title(view: View) -> str:
    minutes = view.plan.seconds / 60
    calls = counted(len(view.plan.slots), "start")
    about = counted(max(1, round(minutes)), "minute")
    return f"Today for {view.student.name}: {calls}, about {about}"


def notes(view: View) -> tuple[str, ...]:
    """The countdown, what was done already, and what to do where there is nothing to drill."""
    ahead = clock.warning(view.log, view.now)
    found = [ahead] if ahead else []
    if view.recital:
        found.append(f"{view.recital.name}: {countdown(view.day, view.recital.day)}.")
    if view.outlook and view.student.level != "child":
        found.append(view.outlook.sentence)
    if view.today:
        found.append(f"Tried today so far: {counted(len(view.today), 'try', 'tries')}.")
    if not view.pieces:
        found.append("No piece yet: add a score with `trainer add FILE`.")
    elif not view.open:
        found.append(
            "No start is open yet. When a phrase has been learned, open its start: "
            "`trainer open PIECE 1` or `trainer open PIECE all`."
        )
    elif not view.plan.slots:
        found += nothing_today(view)
    return tuple(found)


def nothing_today(view: View) -> tuple[str, str]:
    """Why there is no call today although starts are open: a heading, and a sentence."""
    if view.today:
        tried = counted(len(view.today), "try", "tries")
        return "Done for today.", f"Tried today: {tried}. The next calls come tomorrow or later."
    if view.student.minutes_on(view.day) <= 0:
        return "A day off.", "No drill is set for today; minutes and days off are in the settings."
    if not candidates(view.openings, view.decks, view.recitals, view.now):
        return (
            "Nothing to drill today.",
            "None of the open starts belongs to a piece that is played from memory.",
        )
    return "Nothing to drill today.", "What is open holds; the next calls come later."


def countdown(today: date, day: date) -> str:
    left = (day - today).days
    return "today" if left == 0 else "tomorrow" if left == 1 else f"in {left} days"
