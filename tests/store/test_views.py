"""The view of the attempts: what another program reads is what was recorded."""

import sqlite3
from contextlib import closing
from pathlib import Path

from tests.pieces import Clock, desk_at, piece_of, tune
from trainer.record.attempt import Outcome


def test_the_attempts_have_columns_that_people_can_read(tmp_path: Path) -> None:
    desk = desk_at(tmp_path / "a.db")
    clock = desk.clock
    assert isinstance(clock, Clock)
    piece = piece_of(tune(), [0, 4, 8])
    desk.store.pieces.add(piece, "added")
    view = desk.views.of(desk.students.add("R. K."))
    taken = desk.attempts.add(view, piece.deck, 1, Outcome.NOTHING)
    for number, outcome in ((1, Outcome.THROUGH), (1, Outcome.STOPPED), (3, Outcome.LOOKED)):
        desk.attempts.add(view, piece.deck, number, outcome)
    desk.attempts.take_back(taken)
    with closing(sqlite3.connect(desk.store.path)) as db:
        names = [row[1] for row in db.execute("PRAGMA table_info(attempts)")]
        rows = db.execute("SELECT student, number, outcome, cold, place FROM attempts").fetchall()
        at = db.execute("SELECT max(at) FROM attempts").fetchone()[0]
    assert names[:7] == ["student", "piece", "number", "place", "outcome", "cold", "at"]
    assert [row[:4] for row in rows] == [
        ("R. K.", 1, "through", 1),
        ("R. K.", 1, "stopped", 0),
        ("R. K.", 3, "looked", 1),
    ]
    bars = [piece.score.bar_at(piece.deck.starts[n - 1].onset).label for n in (1, 1, 3)]
    assert [row[4] for row in rows] == [f"b. {bar}" for bar in bars]
    assert at == f"{clock():%Y-%m-%d %H:%M:%S}"
