"""The order of look-alikes: the worst trap first."""

from __future__ import annotations

from tests.phrases.build import melody
from tests.pieces import piece_of
from trainer.reports import lookalikes
from trainer.score.model import Score

ONE, TWO, THREE = [(60, 1), (64, 1), (62, 1), (65, 1)], [(67, 2), (65, 2)], [(59, 3), (57, 1)]


def worst_first(score: Score, *starts: int) -> list[tuple[int, int]]:
    piece = piece_of(score, starts)
    numbers = {start.id: start.number for start in piece.deck.starts}
    ordered = sorted(piece.deck.alike, key=lambda like: lookalikes.lateness(piece, like))
    return [(numbers[like.one], numbers[like.other]) for like in ordered]


def test_the_longest_stretch_that_goes_on_differently_comes_first() -> None:
    """Starts 1 and 2 part after a bar; in 3 and 4 three bars from the second on are equal."""
    first = [*ONE, *TWO, *TWO, *ONE, *THREE, *TWO]
    second = [*TWO, *ONE, *ONE, *THREE, *THREE, *TWO, *ONE, *ONE, *THREE, *TWO]
    assert worst_first(melody([*first, *second]), 0, 12, 24, 44)[0] == (3, 4)
