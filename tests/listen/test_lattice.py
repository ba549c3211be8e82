"""Prices of stories, worked out by hand."""

from __future__ import annotations

from collections.abc import Iterable
from random import Random

import numpy as np
import pytest

from trainer.listen.lattice import FAR, Lattice, Track
from trainer.listen.match import Listener
from trainer.listen.model import Cluster, Costs, Entry, Heard, Waiting

COSTS = Costs()


def piece(*chords: tuple[int, ...], free: int = 0) -> Waiting:
    """One start over chords a quarter apart; `free` is a grace note before the third."""
    made = [
        Cluster(float(i), chord, (), (free,) if free and i == 2 else ())
        for i, chord in enumerate(chords)
    ]
    return Waiting(tuple(made), (Entry("a", 0, len(made)),))


def price(waiting: Waiting, pitches: Iterable[int]) -> float:
    """The price of the cheapest story; the notes half a second apart, late ones at once."""
    track = Track(Lattice(waiting, "a", COSTS, 0.0))
    time = 0.0
    for pitch in pitches:
        time += 0.5 if pitch > 0 else 0.01
        track.hear(abs(pitch), time)
    return float(track.final().min())


LINE = piece((60,), (64,), (67,), (72,), (76,), free=71)
CHORDS = piece((48, 60), (50, 62), (52, 64), (53, 65))


@pytest.mark.parametrize(
    ("pitches", "expected"),
    [
        ((60, 64, 67, 72), 0),
        ((60, 64, 90, 67, 72), COSTS.extra),
        ((60, 67, 72), COSTS.miss + COSTS.skip),
        ((60, 72, 76), 2 * (COSTS.miss + COSTS.skip)),
        ((60, 64, 71, 67, 72), COSTS.free),
        ((60, 60, 64, 67), COSTS.again),
        ((64, 67, 72), COSTS.skip_start + COSTS.miss),
        ((90, 60, 64, 67), COSTS.pre),
        ((60, 64, 67, 64, 67, 72), COSTS.back + COSTS.back_step),
    ],
)
def test_a_line(pitches: tuple[int, ...], expected: float) -> None:
    assert price(LINE, pitches) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("pitches", "expected"),
    [
        ((60, -48, 62, -50, 64, -52), 0),
        ((60, 62, -50, 64, -52), COSTS.miss),
        ((60, 62, -48, -50, 64, -52), COSTS.late),
        ((60, 62, -48, -48, -50, 64, -52), COSTS.late + COSTS.extra),
        ((60, -48, 62, -50, 64), COSTS.end_miss),
    ],
)
def test_chords(pitches: tuple[int, ...], expected: float) -> None:
    assert price(CHORDS, pitches) == pytest.approx(expected)


def test_a_note_that_the_chord_waits_for_is_not_a_late_one() -> None:
    """One missed note among repeated ones is one, where it was."""
    waiting = piece((60, 77), (72, 77), (71, 77))
    listener = Listener(waiting, "a")
    time = 0.0
    for pitch in (60, 72, 77, 71, 77):
        time += 0.01 if pitch == 77 else 0.5
        listener.hear(Heard(pitch, time))
    verdict = listener.end()
    assert (verdict.wrong, verdict.missed, verdict.extra) == (0, 1, 0)


def test_a_sign_leads_on_at_no_price_and_going_on_costs_nothing_either() -> None:
    """From the third chord back to the first: two passes, one, and with a chord left out."""
    for pitches, expected in (
        ((60, 64, 67, 60, 64, 67, 72), 0.0),
        ((60, 64, 67, 72), 0.0),
        ((60, 64, 60, 64, 67, 72), COSTS.miss + COSTS.skip),
        ((60, 64, 67, 64, 67, 72), COSTS.miss + COSTS.skip),
    ):
        track = Track(Lattice(LINE, "a", COSTS, 0.0, leads=[(2, 0)], others=False))
        for number, pitch in enumerate(pitches):
            track.hear(pitch, 0.5 * number)
        assert float(track.final().min()) == pytest.approx(expected)


def test_once_a_part_is_believed_no_story_tells_otherwise() -> None:
    """Every story that is left came through the column that is believed."""
    rng = Random(5)
    for _ in range(20):
        lattice = Lattice(CHORDS, "a", COSTS, 0.0, others=False)
        track = Track(lattice, keep=True)
        for number in range(30):
            track.hear(rng.choice((48, 50, 52, 53, 60, 62, 64, 65, 70)), 0.4 * number)
        assert track.changes is not None
        column = int(track.cost.argmin())
        for change in reversed(track.changes[12:]):
            column = change.at(column)[1] if column >= 0 else column
        later = track.changes[12:]
        track.keep_from(12, column)
        assert track.changes == later
        for end in np.flatnonzero(track.cost < FAR).tolist():
            for change in reversed(later):
                end = change.at(end)[1] if end >= 0 else end
            assert end == column
