"""Whether the minutes will do: the plan run forward to the recital, and what would help.

The plan is run as if every call went as expected, so an outlook is a middle course: half of
all students will do worse. It is meant to speak early, not to promise.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from msgspec.structs import replace

from trainer.deck.model import Deck
from trainer.memory.model import Beliefs
from trainer.memory.planner import Candidate, candidates, given_seconds, scene_of
from trainer.record.attempt import practice_day
from trainer.record.people import Opening, Recital, Student
from trainer.score.cite import counted
from trainer.values import Frozen

if TYPE_CHECKING:
    from trainer.memory.scene import Scene

ENOUGH = 0.9  # of the starts expected to hold: the bar that teachers set a week before
LONGEST = 60.0  # minutes a day that are thought of at all; a child or a hand has its limits
NEW_AT_ONCE = 3  # starts advised to be opened on one day
FARTHEST = 120  # days ahead: of what is farther off nothing is foretold
NOTHING_NEW = 7  # days before a recital in which nothing is opened


class Outlook(Frozen, frozen=True):
    """What the recital would find if the plan is kept to.

    `starts` is how many are open for it, `holding` how many of them are expected to hold on the
    day. `minutes_wanted` a day would make nine in ten hold, None where they do already or where
    no sensible time would; `fewer` is how many starts less the present minutes could carry.
    `can_open` is how many more starts the minutes could carry, 0 in the last week; `open_next`
    are the ids advised to be opened next, in the order of the piece. `by_deck` gives `holding`
    piece by piece. `without_off` is `holding` if the days off were practised too, None where
    that is not in question.
    """

    recital: str
    day: date
    days: int  # of practice before it
    starts: int
    holding: float
    minutes: float
    minutes_wanted: float | None = None
    fewer: int = 0
    can_open: int = 0
    open_next: tuple[str, ...] = ()
    by_deck: tuple[tuple[str, float], ...] = ()
    without_off: float | None = None

    @property
    def feasible(self) -> bool:
        return self.holding >= ENOUGH * self.starts

    @property
    def sentence(self) -> str:
        """For people, without a promise."""
        if not self.starts:
            return "No start of the programme is open yet."
        held = f"about {self.holding:.0f} of {counted(self.starts, 'start')} would hold on the day"
        if self.feasible:
            return f"With {counted(self.minutes, 'minute')} a day {held}."
        ways = []
        if self.minutes_wanted is not None:
            ways.append(f"{counted(self.minutes_wanted, 'minute')} a day")
        if self.fewer:
            ways.append(f"{self.fewer} starts fewer" if self.fewer > 1 else "one start fewer")
        if ways:
            would = f"; {' or '.join(ways)} would do"
        elif self.without_off is not None:
            would = f"; if the days off were practised too, about {self.without_off:.0f}"
        else:
            would = "; no more minutes and no fewer starts would do now"
        return f"With {counted(self.minutes, 'minute')} a day only {held}{would}."


def outlook(
    student: Student,
    beliefs: Beliefs,
    openings: Sequence[Opening],
    decks: Mapping[str, Deck],
    recitals: Sequence[Recital],
    now: datetime,
) -> Outlook | None:
    """The outlook for the next recital with a piece from memory; None where there is none, or
    where it is more than four months off."""
    found = candidates(openings, decks, recitals, now)
    recital = _next(recitals, practice_day(now))
    if recital is None or (recital.day - practice_day(now)).days > FARTHEST:
        return None
    rows = [row for row, one in enumerate(found) if one.target.recital == recital.name]
    left = (recital.day - practice_day(now)).days
    practised = sum(student.minutes_on(practice_day(now) + timedelta(days=d)) > 0
                    for d in range(left))  # fmt: skip
    usual = _usual_minutes(student, practice_day(now), left)
    asked = _Question(student, beliefs, found, rows, now, left)
    by_deck = asked.by_deck() if rows else {}
    holding = sum(by_deck.values())
    made = Outlook(
        recital.name,
        recital.day,
        practised,
        len(rows),
        holding,
        usual,
        by_deck=tuple(sorted(by_deck.items())),
    )
    if rows and not made.feasible:
        wanted = _least(asked.holding, ENOUGH * len(rows), usual)
        made = replace(made, minutes_wanted=wanted, fewer=asked.fewer())
        if any(practice_day(now) <= free.last and free.first < recital.day for free in student.off):
            made = replace(made, without_off=asked.without_off())
    elif rows and left > NOTHING_NEW:
        closed = _closed(recital, decks, found)
        able = min(asked.more(), len(closed))
        made = replace(made, can_open=able, open_next=closed[: min(able, NEW_AT_ONCE)])
    elif not rows and left > NOTHING_NEW:
        made = replace(made, open_next=_closed(recital, decks, found)[:NEW_AT_ONCE])
    return made


def _next(recitals: Sequence[Recital], today: date) -> Recital | None:
    coming = [
        recital
        for recital in recitals
        if recital.day > today and any(item.from_memory != "no" for item in recital.programme)
    ]
    return min(coming, key=lambda recital: (recital.day, recital.id), default=None)


def _usual_minutes(student: Student, today: date, left: int) -> float:
    """The minutes of a day with practice, on average up to the recital."""
    given = [student.minutes_on(today + timedelta(days=day)) for day in range(max(left, 1))]
    kept = [minutes for minutes in given if minutes > 0]
    return round(sum(kept) / len(kept), 1) if kept else 0.0


class _Question:
    """The plan run forward under one change at a time."""

    def __init__(
        self,
        student: Student,
        beliefs: Beliefs,
        found: Sequence[Candidate],
        rows: Sequence[int],
        now: datetime,
        left: int,
    ) -> None:
        self._student, self._beliefs, self._found = student, beliefs, list(found)
        self._rows, self._now, self._left = list(rows), now, left

    def by_deck(self) -> dict[str, float]:
        """How many of the recital's starts would hold, by the deck they are in."""
        scene = scene_of(self._student, self._beliefs, self._found, self._now, {})
        day = self._on_the_day(scene, 1.0)
        held: dict[str, float] = {}
        for row in self._rows:
            deck = self._found[row].deck
            held[deck] = held.get(deck, 0.0) + float(day[row])
        return held

    def holding(self, factor: float) -> float:
        """How many of the recital's starts would hold with so many times the minutes."""
        scene = scene_of(self._student, self._beliefs, self._found, self._now, {})
        day = self._on_the_day(scene, factor)
        return float(sum(day[row] for row in self._rows))

    def without_off(self) -> float:
        """How many would hold without the days off."""
        always = _Question(
            replace(self._student, off=()),
            self._beliefs,
            self._found,
            self._rows,
            self._now,
            self._left,
        )
        return always.holding(1.0)

    def fewer(self) -> int:
        """How many of the weakest starts would have to be let go: the least for which nine in
        ten of the rest hold; 0 where even half of them are too many."""
        order = self._weakest_first()
        for count in range(1, len(order) // 2 + 1):
            kept = [row for row in self._rows if row not in order[:count]]
            if self._with_rows(kept) >= ENOUGH * len(kept):
                return count
        return 0

    def more(self) -> int:
        """How many starts like the newest the minutes could carry besides, up to a dozen."""
        newest = [max(self._rows, key=lambda row: self._found[row].opened)]
        able = 0
        for extra in (1, 2, 4, 8, 12):
            held = self._with_rows(self._rows + newest * extra)
            if held < ENOUGH * (len(self._rows) + extra):
                break
            able = extra
        return able

    def _weakest_first(self) -> list[int]:
        scene = scene_of(self._student, self._beliefs, self._found, self._now, {})
        day = self._on_the_day(scene, 1.0)
        return sorted(self._rows, key=lambda row: float(day[row]))

    def _with_rows(self, rows: Sequence[int]) -> float:
        others = [row for row in range(len(self._found)) if row not in self._rows]
        scene = scene_of(
            self._student, self._beliefs, [self._found[row] for row in (*rows, *others)],
            self._now, {},
        )  # fmt: skip
        return float(sum(self._on_the_day(scene, 1.0)[: len(rows)]))

    def _on_the_day(self, scene: Scene, factor: float) -> Sequence[float]:
        """The chances on the recital's day, before its warm-up."""
        from trainer.memory.scene import chosen, tomorrow

        student = _with_minutes(self._student, factor)
        day = practice_day(self._now)
        begun = bool(scene.done.any())
        for _ in range(self._left):
            given = 0.0 if begun else given_seconds(student, day, eve=scene.eve)
            begun = False
            scene = tomorrow(scene, chosen(scene, given) if given > 0 else [])
            day += timedelta(days=1)
        return list(scene.start.chance)


def _with_minutes(student: Student, factor: float) -> Student:
    week = tuple(minutes * factor for minutes in student.week)
    return replace(student, minutes=student.minutes * factor, week=week)


def _least(holding: Callable[[float], float], wanted: float, usual: float) -> float | None:
    """The least whole minutes a day that do, None where LONGEST does not."""
    if usual <= 0 or holding(LONGEST / usual) < wanted:
        return None
    low, high = math.floor(usual), math.ceil(LONGEST)
    while high - low > 1:
        middle = (low + high) // 2
        if holding(middle / usual) >= wanted:
            high = middle
        else:
            low = middle
    return float(high)


def _closed(
    recital: Recital, decks: Mapping[str, Deck], found: Sequence[Candidate]
) -> tuple[str, ...]:
    """The closed starts of the recital's pieces that come after an open one, then the rest."""
    opened = {one.start for one in found}
    wanted = [item.deck for item in recital.programme if item.from_memory != "no"]
    starts = [
        (position, start.id, deck.starts[position - 1].id in opened if position else True)
        for deck_id in wanted
        if (deck := decks.get(deck_id))
        for position, start in enumerate(deck.starts)
        if start.id not in opened
    ]
    return tuple(start for _, start, _ in sorted(starts, key=lambda one: not one[2]))
