"""Hints: what can be asked for at a call, and in which order."""

import pytest

from tests.pieces import piece_of, tune
from trainer.demo import demo_pieces
from trainer.draw.hints import HINTS, count_in, hint_names, hint_text, hints_of
from trainer.score.model import Meter


@pytest.mark.parametrize(
    ("meter", "parts", "syllables"),
    [
        ((2, 4), 1, "1 2"),
        ((3, 4), 2, "1 & 2 & 3 &"),
        ((4, 4), 4, "1 e & a 2 e & a 3 e & a 4 e & a"),
        ((6, 8), 3, "1 & a 2 & a"),
        ((9, 8), 3, "1 & a 2 & a 3 & a"),
        ((5, 8), 1, "1 2 3 4 5"),
    ],
)
def test_count_in(meter: tuple[int, int], parts: int, syllables: str) -> None:
    """Syllables: common practice, no source."""
    assert " ".join(count_in(Meter(*meter), parts)) == syllables


def test_every_start_of_the_demo_has_its_key_its_harmony_and_its_first_notes() -> None:
    for piece in demo_pieces():
        for start in piece.deck.starts:
            found = dict(hints_of(piece, start))
            assert list(found) == [name for name in HINTS if name in found]
            assert {"key and count", "harmony", "first hand position"} <= set(found)
            assert all(found.values())


def test_the_song_has_words_and_the_players_advice_is_a_hint() -> None:
    ferry = next(piece for piece in demo_pieces() if "Ferry" in piece.deck.title)
    assert "words" in hint_names(ferry, ferry.deck.starts[1])
    plain = piece_of(tune(8), [0])
    assert "advice" not in hint_names(plain, plain.deck.starts[0])
    assert "words" not in hint_names(plain, plain.deck.starts[0])


def test_a_key_in_german_names() -> None:
    mist = next(piece for piece in demo_pieces() if "Mist" in piece.deck.title)
    assert hint_text(mist, mist.deck.starts[0], "key and count", "german").startswith("E minor")
    assert hint_text(mist, mist.deck.starts[0], "no hint") == ""
