"""Phrases of folk songs against the line ends of their source (see `folk_songs.py`)."""

from __future__ import annotations

from tests.phrases.folk_songs import agreement, f1, two_bars


def test_line_ends_of_folk_songs() -> None:
    songs, hits, found, lines = agreement("lux", 24)
    _, *plain = agreement("lux", 24, two_bars)
    assert songs >= 12
    assert lines >= 40
    assert f1(hits, found, lines) >= f1(*plain) + 0.05
    assert f1(hits, found, lines) >= 0.7
