"""A database as it is after many tries, for the benchmarks of the app."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from random import Random
from uuid import UUID

from tests.pieces import piece_of, tune
from trainer.deck.model import Deck, revision
from trainer.desk import Desk
from trainer.record.attempt import Attempt, Outcome, practice_day
from trainer.store.store import Store

STARTS = 12
TRIED = 8  # of them; the others were opened today
A_DAY = 15  # tries
A_STUDENT = 5_000  # tries, about a year's; what is beyond belongs to other students


def season(path: Path, *, tries: int, seed: int = 0, others: int = 0) -> Desk:
    """A desk over a new database with one piece of 48 bars, twelve open starts, and as many
    tries, the last of them yesterday: the first 5,000 those of the student meant, the others of
    more students of the studio. `others` is how many more pieces of sixty starts there are."""
    rng = Random(seed)

    def new_id() -> str:
        return UUID(int=rng.getrandbits(128), version=4).hex

    def now() -> datetime:
        return datetime.now().astimezone()

    desk = Desk(Store.open(path, now=now, new_id=new_id), now, new_id, rng)
    desk.store.pieces.add(piece_of(tune(48, title="Study"), range(0, 144, 12)), "benchmark")
    for number in range(others):
        score = tune(240, title=f"Study {number + 2}")
        desk.store.pieces.add(piece_of(score, range(0, 720, 12), f"more{number}"), "benchmark")
    deck = desk.store.pieces.deck("deck")
    desk.pieces.set_open(desk.students.find(), deck, range(1, STARTS + 1), opened=True)
    desk.store.settings.set("caution seen", "yes")
    desk.students.choose(desk.students.find())
    desk.store.log.append(*_tries(desk, deck, desk.students.find().id, min(tries, A_STUDENT), rng))
    for number, done in enumerate(range(A_STUDENT, tries, A_STUDENT), 1):
        other = desk.students.add(f"student {number}")
        count = min(A_STUDENT, tries - done)
        desk.store.log.append(*_tries(desk, deck, other.id, count, rng))
    return desk


def _tries(desk: Desk, deck: Deck, student: str, count: int, rng: Random) -> Iterator[Attempt]:
    """The tries in the order in which they were made, fifteen a day."""
    machine, now = desk.store.machine, desk.clock()
    days = -(-count // A_DAY)
    for number in range(count):
        day, place = divmod(number, A_DAY)
        at = now - timedelta(days=days - day) + timedelta(minutes=place)
        yield Attempt(
            id=desk.new_id(),
            student=student,
            deck=deck.id,
            revision=revision(deck),
            start=rng.choice(deck.starts[:TRIED]).id,
            machine=machine,
            at=at,
            day=practice_day(at),
            outcome=rng.choice(list(Outcome)[:5]),
            seconds=rng.uniform(10, 40),
        )
