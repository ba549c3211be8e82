"""The way to the recital: its stages, and its last two weeks day by day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from trainer.deck.model import Deck
from trainer.document.model import Cell, Document, Table, columns, listed
from trainer.document.words import day_word
from trainer.memory.planner import ahead, candidates, given_seconds, scene_of
from trainer.reports.numbers import numbers
from trainer.reports.readiness import NO_RECITAL, of_next, stage_note
from trainer.reports.view import View

LAST = 14  # days before the recital that are shown
FARTHEST = 120  # days ahead: of what is farther off nothing is foretold

# What a day is for, by the days left (common practice, no source).
ASKS = {
    14: "from now on run-throughs, and recovery after a slip",
    7: "nothing new from now on, and a dress rehearsal this week",
    1: "a short, light drill, nothing new",
    0: "the recital; a warm-up at most",
}
STAGES = ("stage", "by", "asks", "reached", "waits_for")
DAYS = ("day", "minutes", "starts")
ADVICE = "Advice that teachers usually give; each stage as things stand today."
RUN_ON = "This assumes that every call goes as expected; what you play changes the days to come."


def stages(view: View, _deck: str | None = None) -> Document:
    """The stages of getting ready, as advice, and the starts that each waits for."""
    found = of_next(view)
    if found is None:
        return listed("stages", "Stages", Table(columns(*STAGES), ()), (NO_RECITAL,))
    recital, ready = found
    rows = tuple(
        (
            stage.name,
            recital.day - timedelta(days=stage.days),
            stage.asks,
            stage.met,
            None if stage.met else numbers(view, stage.waits_for) or "more that hold",
        )
        for stage in ready.stages
    )
    return listed(
        "stages",
        f"The way to {recital.name}, {day_word(recital.day)}",
        Table(columns(*STAGES, hidden=("asks", "waits_for")), rows),
        (*(stage_note(view, stage) for stage in ready.stages), ADVICE),
    )


def last_days(view: View, _deck: str | None = None) -> Document:
    """The last two weeks before the next recital: minutes, and the starts that are called."""
    recital = view.recital
    if recital is None:
        return listed("last days", "The last two weeks", Table(columns(*DAYS), ()), (NO_RECITAL,))
    title = f"The last two weeks before {recital.name}, {day_word(recital.day)}"
    if (recital.day - view.day).days > FARTHEST:
        told = f"More than {FARTHEST} days away: too early for a forecast."
        return listed("last days", title, Table(columns(*DAYS), ()), (told,))
    run = [one for one in _run_on(view, recital.day) if (recital.day - one[0]).days <= LAST]
    drilled = [deck for deck in view.decks.values() if _called(deck, run)]
    names = _names(drilled)
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (
            f"{day:%a} {day_word(day)}",
            f"{_minutes(view, day, recital.day):g}",
            len(starts),
            *(_numbers(deck, starts) for deck in drilled),
            "; ".join(
                f"{name}: {called}"
                for name, deck in zip(names, drilled, strict=True)
                if (called := _numbers(deck, starts))
            ),
            day,
        )
        for day, starts in run
    )
    asked = [
        f"{day:%a} {day_word(day)}: {ASKS[left]}."
        for day, _ in run
        if (left := (recital.day - day).days) in ASKS
    ]
    return listed(
        "last days",
        title,
        Table(
            columns(
                *DAYS,
                *(f"piece_{n}" for n, _ in enumerate(names, 1)),
                *("called", "date"),
                figures=DAYS,
                hidden=("called", "date"),
                heads={f"piece_{n}": name for n, name in enumerate(names, 1)},
            ),
            rows,
        ),
        (*asked, RUN_ON),
    )


def _minutes(view: View, day: date, recital: date) -> float:
    """The minutes of a day's drill: fewer the day before, a warm-up on the day itself."""
    from trainer.memory.scene import WARM_UP

    left = (recital - day).days
    given = given_seconds(view.student, day, eve=left == 1)
    return round((min(given, WARM_UP) if left == 0 else given) / 60, 1)


def _called(deck: Deck, run: Sequence[tuple[date, Sequence[str]]]) -> bool:
    ids = {start.id for start in deck.starts}
    return any(start in ids for _, starts in run for start in starts)


def _numbers(deck: Deck, called: Sequence[str]) -> str:
    """The numbers of the starts called, in their order: "1-3 5"."""
    spans: list[list[int]] = []
    for number in (start.number for start in deck.starts if start.id in called):
        if spans and number == spans[-1][-1] + 1:
            spans[-1] = [spans[-1][0], number]
        else:
            spans.append([number])
    return " ".join("-".join(map(str, span)) for span in spans)


def _names(decks: Sequence[Deck]) -> list[str]:
    """A column's name for each deck: its title, with a number where it is another's too."""
    names: list[str] = []
    for deck in decks:
        same = sum(other.title == deck.title for other in decks[: len(names)])
        names.append(f"{deck.title} ({same + 1})" if same else deck.title)
    return names


def _run_on(view: View, until: date) -> list[tuple[date, tuple[str, ...]]]:
    """From today to a day, the ids of the starts that the plan would call."""
    found = candidates(view.openings, view.decks, view.recitals, view.now)
    days = [view.day + timedelta(days=n) for n in range((until - view.day).days + 1)]
    if not found:
        return [(day, ()) for day in days]
    scene = scene_of(view.student, view.beliefs, found, view.now, view.kin, view.homework)
    called = ahead(view.student, scene, view.now)
    return [
        (day, tuple(found[row].start for row in rows))
        for day, (_, rows) in zip(days, called, strict=False)
    ]
