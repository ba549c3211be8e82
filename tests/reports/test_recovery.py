"""Where to go on after a slip, as a list."""

from __future__ import annotations

from pathlib import Path

from tests.pieces import Clock, desk_at, named
from trainer.demo import demo_pieces
from trainer.reports.readiness import recovery_report


def test_no_bar_is_called_by_the_number_of_an_upbeat(tmp_path: Path) -> None:
    """A piece with a pickup: its first phrase breaks from "the upbeat", the others from a bar."""
    desk = desk_at(tmp_path / "a.db", Clock())
    upbeats = []
    for piece in demo_pieces():
        desk.store.pieces.add(piece, "test")
        if piece.score.bars[0].upbeat:
            upbeats.append(piece.deck.title)
    rows = [
        row
        for entry in desk.store.pieces.all()
        for row in named(recovery_report(desk.views.of(desk.students.find()), entry.id))
    ]
    told: dict[str, list[str]] = {str(row["piece"]): [] for row in rows}
    for row in rows:
        told[str(row["piece"])].append(str(row["in_bar"]))
    assert upbeats
    for title, places in told.items():
        assert places[0].startswith("the upbeat") == (title in upbeats)
        assert not any(place.startswith("0 ") for place in places)
