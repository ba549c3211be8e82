"""Machines that only exchange files, and records for them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from itertools import count
from pathlib import Path
from random import Random

from tests.pieces import NOON, piece_of, tune
from trainer.deck.model import Piece
from trainer.desk import Desk
from trainer.store.store import Store

PIECE = piece_of(tune(16, title="Study [1]"), [0, 12, 24, 36])


class Skewed:
    """A clock that goes on by a second at each look, and is wrong by so many hours."""

    def __init__(self, hours: float) -> None:
        self.now = NOON + timedelta(hours=hours)

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now


@contextmanager
def machine(path: Path, name: str, *, hours: float = 0.0) -> Iterator[Desk]:
    """A desk with ids and a clock of its own."""
    numbers = count(1)
    clock = Skewed(hours)

    def new_id() -> str:
        return f"{name}-{next(numbers):05}"

    with Store.open(path, now=clock, new_id=new_id) as store:
        yield Desk(store, clock, new_id, Random(1))


def with_piece(desk: Desk, piece: Piece = PIECE) -> Desk:
    desk.pieces.keep(piece, "for the test")
    return desk
