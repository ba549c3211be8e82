"""The decks that come with the program are what their scores and composers say."""

import json
from pathlib import Path

import pytest

from tests.make_decks import DECKS, SCORES, make_deck
from trainer.deck.file import read_deck, write_deck
from trainer.deck.page import page_span

STEMS = sorted(path.name.removesuffix(".musicxml") for path in SCORES.glob("*.musicxml"))


def deck_path(stem: str) -> Path:
    return DECKS / f"{stem}.deck.json"


def test_there_is_a_deck_for_each_score() -> None:
    assert len(STEMS) >= 4
    found = sorted(path.name for path in DECKS.glob("*.deck.json"))
    assert found == [f"{stem}.deck.json" for stem in STEMS]


@pytest.mark.parametrize("stem", STEMS)
def test_the_deck_is_what_the_score_makes(stem: str) -> None:
    made = write_deck(make_deck(SCORES / f"{stem}.musicxml"))
    assert deck_path(stem).read_text("utf-8") == made, "run python -m tests.make_decks"


@pytest.mark.parametrize("stem", STEMS)
def test_the_starts_are_the_composers_and_each_page_shows_music(stem: str) -> None:
    piece = read_deck(deck_path(stem))
    told = json.loads((SCORES / f"{stem}.starts.json").read_text())["starts"]
    assert [float(s.onset) for s in piece.deck.starts] == [s["offset_ql"] for s in told]
    for start in piece.deck.starts:
        assert start.onset in piece.score.onsets
        begin, end = page_span(piece, start)
        assert piece.score.notes_between(begin, end)
