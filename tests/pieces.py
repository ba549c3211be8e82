"""A small piece made in code, and a desk over it, for the tests of what lies above the score."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from itertools import count
from pathlib import Path
from random import Random

from trainer.deck.edit import new_deck
from trainer.deck.model import Piece
from trainer.desk import Desk
from trainer.document.lines import as_lines
from trainer.document.model import Cell, Document
from trainer.phrases.model import Reason
from trainer.record.attempt import practice_day
from trainer.score.model import Bar, Meter, Note, Score, Staff
from trainer.store.store import Store

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
STEPS = "CDEFGAB"
PITCHES = (60, 62, 64, 65, 67, 69, 71)


def today() -> date:
    """The practice day that it is now: until three in the morning the day before."""
    return practice_day(datetime.now().astimezone())


def tune(
    bars: int = 16,
    *,
    upbeat: bool = False,
    title: str = "Study",
    meter: Meter = Meter(3, 4),  # noqa: B008
    repeat: int = 0,
    endings: dict[int, tuple[int, ...]] | None = None,
) -> Score:
    """A single line of quarters. `upbeat` puts a pickup of one quarter before bar 1; `repeat`
    is the count of bars that a first repeat sign closes; `endings` gives the passes of bars by
    their printed number."""
    made: list[Bar] = []
    at = Fraction(0)
    if upbeat:
        lead = meter.length - 1
        made.append(Bar(0, "0", at, Fraction(1), meter, lead=lead, upbeat=True))
        at += 1
    for number in range(1, bars + 1):
        passes = (endings or {}).get(number, ())
        times = 2 if number == repeat else 0
        made.append(
            Bar(len(made), str(number), at, meter.length, meter, repeat_times=times, endings=passes)
        )
        at += meter.length
    rng = Random(5)  # a line without returning passages
    degrees = [rng.randrange(7) for _ in range(int(at))]
    notes = tuple(
        Note(Fraction(q), Fraction(1), PITCHES[degree], STEPS[degree], 0, 4, 0)
        for q, degree in enumerate(degrees)
    )
    return Score(title, (Staff(0, "melody"),), tuple(made), notes)


def piece_of(score: Score, onsets: Sequence[int], name: str = "deck") -> Piece:
    """A piece with starts s1, s2, ... at these quarters."""
    places = [(Fraction(onset), (Reason("test", "for the test"),)) for onset in onsets]
    ids = [name, *(f"{name}-s{n}" for n in range(1, len(onsets) + 1))]
    return Piece(new_deck(score, places, ids), score)


class Clock:
    """A clock that stands still until it is moved."""

    def __init__(self, now: datetime = NOON) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now

    def later(self, **span: float) -> None:
        self.now += timedelta(**span)


def desk_at(path: Path, clock: Clock | None = None, seed: int = 1) -> Desk:
    """A desk with its own ids, chance and clock over a database at `path`."""
    clock = clock or Clock()
    ids = count(1)

    def new_id() -> str:
        return f"{seed}-{next(ids):04}"

    return Desk(Store.open(path, now=clock, new_id=new_id), clock, new_id, Random(seed))


def lines_of(report: Document, width: int = 80) -> list[str]:
    """A report as the lines of a terminal."""
    return as_lines(report, width=width)


def named(report: Document) -> list[dict[str, Cell]]:
    """The rows of a report, their cells by key."""
    return list(report.table.named()) if report.table else []
