"""Values and stores for the tests of the store."""

from __future__ import annotations

import os
import sys
import types
import typing
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, timedelta, timezone
from enum import Enum
from fractions import Fraction
from itertools import count
from pathlib import Path
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from msgspec.structs import replace

from trainer.deck.model import Deck, Piece, Start, identity
from trainer.record.attempt import Attempt, Outcome, practice_day
from trainer.record.people import Student
from trainer.score.model import Bar, Meter, Note, Score, Staff
from trainer.store.store import Store
from trainer.values import Frozen

ROOT = Path(__file__).parents[2]
NOON = datetime(2024, 3, 8, 12, tzinfo=timezone(timedelta(hours=1)))
STUDENT = Student("student-1", "A")
_ids = count(1)

unhurried = settings(deadline=None)  # for examples that wait for the disk


def open_store(path: Path, patience: float = 5.0) -> Store:
    """A store whose clock goes on by a second at each look."""
    ticks = count()
    return Store.open(
        path,
        now=lambda: NOON + timedelta(seconds=next(ticks)),
        new_id=lambda: f"id-{os.getpid()}-{next(_ids)}",
        patience=patience,
    )


def attempt(number: int, **changes: Any) -> Attempt:
    at = NOON + timedelta(minutes=number)
    value = Attempt(
        id=f"attempt-{number}",
        student=STUDENT.id,
        deck="deck-1",
        revision="abc",
        start="start-7",
        machine="machine-1",
        at=at,
        day=practice_day(at),
        outcome=Outcome.THROUGH,
    )
    return replace(value, **changes)


def piece(deck_id: str = "deck-1", title: str = "Dance [in G]") -> Piece:
    quarter = Fraction(1)
    score = Score(
        title,
        (Staff(0, "melody"),),
        (Bar(0, "1", Fraction(0), Fraction(3), Meter(3, 4)),),
        tuple(Note(n * quarter, quarter, 60 + 2 * n, "CDE"[n], 0, 4, 0) for n in range(3)),
    )
    starts = (Start(f"{deck_id}-a", 1, Fraction(0)), Start(f"{deck_id}-b", 2, Fraction(2)))
    deck = Deck(deck_id, title, identity(score), starts, tuple(s.id for s in starts))
    return Piece(deck, score)


_LEAVES: dict[Any, st.SearchStrategy[Any]] = {
    str: st.text(max_size=12),
    int: st.integers(-(2**53), 2**53),
    float: st.floats(allow_nan=False, allow_infinity=False),
    bool: st.booleans(),
    Fraction: st.fractions(max_denominator=10**6).filter(lambda f: len(str(f)) <= 40),
    date: st.dates(),
    datetime: st.datetimes(
        timezones=st.integers(-14 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m)))
    ),
}


def of_type(kind: Any) -> st.SearchStrategy[Any]:
    """All values of a field's type."""
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if kind in _LEAVES:
        return _LEAVES[kind]
    if origin is typing.Literal:
        return st.sampled_from(inner)
    if origin in (typing.Union, types.UnionType):
        return st.one_of([of_type(part) for part in inner])
    if origin is tuple:
        return st.lists(of_type(inner[0]), max_size=3).map(tuple)
    if kind is type(None):
        return st.none()
    if issubclass(kind, Enum):
        return st.sampled_from(list(kind))
    return values_of(kind)


def values_of(kind: type[Frozen], **fixed: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """All values of a kind, with some fields fixed."""
    hints = {name: of for name, of in typing.get_type_hints(kind).items() if name[0] != "_"}
    fields = {name: of_type(of) for name, of in hints.items() if name in kind.__struct_fields__}
    return st.builds(kind, **(fields | fixed))


def fresh_ids() -> st.SearchStrategy[str]:
    """An id that no other value of this process has, whatever else is in it."""
    return st.text(max_size=8).map(lambda text: f"{text}#{next(_ids)}")


@contextmanager
def without_rights() -> Iterator[None]:
    """As a user who is neither owner nor administrator, where the test runs as one."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)


def child(*arguments: str | Path) -> list[str]:
    """The command that runs a child process of these tests, from the folder ROOT."""
    return [sys.executable, "-m", "tests.store.child", *map(str, arguments)]
