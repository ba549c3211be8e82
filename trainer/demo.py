"""The demo: a small music school's concert, its decks, and an invented practice history.

Everything here is made up for the demo and lives in a throw-away database. The histories are
drawn from a simple forgetting curve of the demo's own, not from the memory model, so that the
program is not shown its own opinion.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

from trainer.deck.file import read_deck
from trainer.deck.model import Deck, Piece, revision
from trainer.errors import TrainerError
from trainer.record.attempt import Attempt, Outcome, practice_day
from trainer.record.people import FromMemory, Level, Opening, ProgrammeItem, Recital

if TYPE_CHECKING:
    from trainer.desk import Desk

WEEKS = 5  # of invented practice before today
CONCERT_IN = 23  # days from today
STUDENTS: tuple[tuple[str, Level, float, tuple[int, ...]], ...] = (
    # name (initials), level, minutes a day, and which pieces of the concert they play
    ("M.", "adult", 8.0, (0, 1, 2)),
    ("K.", "child", 6.0, (1,)),
)


def bundled(folder: str) -> Path:
    """A folder that comes with the program: beside the code when installed, above it in a
    checkout."""
    here = Path(__file__).parent
    for path in (here / folder, here.parent / folder):
        if path.is_dir():
            return path
    raise TrainerError(f"The program's own {folder} are missing; install it again.")


def demo_pieces() -> list[Piece]:
    """The pieces of the concert, in the order of their files' names."""
    return [read_deck(path) for path in sorted(bundled("decks").glob("*.deck.json"))]


def furnish(desk: Desk, rng: Random) -> None:
    """Fill an empty database with the concert's pieces, two students and their practice."""
    pieces = demo_pieces()
    for piece in pieces:
        desk.store.pieces.add(piece, "the demo")
    for name, level, minutes, chosen in STUDENTS:
        student = desk.students.add(name, level=level, minutes=minutes)
        own = [pieces[i].deck for i in chosen if i < len(pieces)]
        desk.store.log.append(*_history(desk, student.id, own, rng))
        memory: FromMemory = "yes"
        programme = tuple(ProgrammeItem(deck.id, memory) for deck in own)
        day = practice_day(desk.clock()) + timedelta(days=CONCERT_IN)
        desk.store.recitals.save(
            Recital(desk.new_id(), student.id, "School concert", day, programme)
        )
    desk.students.choose(desk.students.find(STUDENTS[0][0]))
    desk.store.settings.set("caution seen", "yes")


def _history(
    desk: Desk, student: str, decks: Sequence[Deck], rng: Random
) -> list[Attempt | Opening]:
    """Openings and attempts of the weeks before today: a piece a week is begun, its starts
    are opened two at a time, and about six starts a day are tried, five days a week. The
    last piece is only half open, and today nothing was tried yet."""
    begin = desk.clock() - timedelta(weeks=WEEKS)
    log: list[Attempt | Opening] = []
    mind = _Mind(rng)
    opened: list[tuple[Deck, str]] = []
    waiting = [
        (7 * week, deck, start.id)
        for week, deck in enumerate(decks)
        for start in deck.starts[: len(deck.starts) // (2 if deck is decks[-1] else 1)]
    ]
    for day in range(7 * WEEKS):
        at = (begin + timedelta(days=day)).replace(hour=17, minute=5, second=0, microsecond=0)
        if day % 7 in (3, 6):
            continue
        due = [item for item in waiting if item[0] <= day][:2]
        waiting = [item for item in waiting if item not in due]
        for _, deck, start in due:
            machine = desk.store.machine
            log.append(Opening(desk.new_id(), student, deck.id, start, True, machine, at))
            opened.append((deck, start))
        for position, (deck, start) in enumerate(rng.sample(opened, min(6, len(opened)))):
            tried = at + timedelta(seconds=40 * (position + 1))
            outcome, other = mind.tries(start, day, deck)
            log.append(_attempt(desk.new_id, desk.store.machine, student, deck, start, tried,
                                outcome, other, rng))  # fmt: skip
    return log


def _attempt(
    new_id: Callable[[], str],
    machine: str,
    student: str,
    deck: Deck,
    start: str,
    at: datetime,
    outcome: Outcome,
    other: str,
    rng: Random,
) -> Attempt:
    return Attempt(
        new_id(), student, deck.id, revision(deck), start, machine, at, practice_day(at), outcome,
        hints=("key and count",) if outcome is Outcome.LOOKED and rng.random() < 0.4 else (),
        elsewhere=other, seconds=round(rng.uniform(18, 38), 1),
    )  # fmt: skip


class _Mind:
    """An invented memory: strength in days, exponential forgetting, some starts harder."""

    def __init__(self, rng: Random) -> None:
        self._rng = rng
        self._strength: dict[str, float] = {}
        self._last: dict[str, int] = {}

    def tries(self, start: str, day: int, deck: Deck) -> tuple[Outcome, str]:
        """The outcome of a try on a day, and the start that was begun instead."""
        strength = self._strength.setdefault(start, self._rng.choice([1.0, 2.5, 6.0]))
        gone = day - self._last.get(start, day - 2)
        held = self._rng.random() < math.exp(-gone / (4 * strength))
        self._strength[start] = strength * (1.5 if held else 0.7)
        self._last[start] = day
        if held:
            outcomes = (Outcome.THROUGH, Outcome.STOPPED, Outcome.BROKE_OFF)
            return self._rng.choices(outcomes, (8, 2, 1))[0], ""
        outcomes = (Outcome.LOOKED, Outcome.NOTHING, Outcome.ELSEWHERE)
        outcome = self._rng.choices(outcomes, (5, 2, 1))[0]
        others = [one.id for one in deck.starts if one.id != start]
        return outcome, self._rng.choice(others) if outcome is Outcome.ELSEWHERE else ""
