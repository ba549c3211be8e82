"""The deck file: canonical, readable, and refused whole where it is not sound."""

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.pieces import piece_of, tune
from trainer.deck import edit
from trainer.deck.file import parse_deck, read_deck, write_deck
from trainer.deck.model import Piece
from trainer.errors import TrainerError

PIECE = piece_of(tune(8, upbeat=True), [0, 12])


def test_it_comes_back_equal_and_writes_the_same_text_again() -> None:
    text = write_deck(PIECE)
    back = parse_deck(text.encode(), "x")
    assert back == PIECE
    assert write_deck(back) == text


def test_one_start_one_line() -> None:
    before = write_deck(PIECE).splitlines()
    after = write_deck(Piece(edit.relabel(PIECE, 2, "theme"), PIECE.score)).splitlines()
    assert sum(a != b for a, b in zip(before, after, strict=True)) == 1


@given(st.text(max_size=40))
def test_any_title_comes_back(title: str) -> None:
    piece = piece_of(tune(2, title=title), [0])
    assert parse_deck(write_deck(piece).encode(), "x").deck.title == title


def changed(**fields: Any) -> bytes:
    data = json.loads(write_deck(PIECE))
    for path, value in fields.items():
        *folders, name = path.split("__")
        inner = data
        for folder in folders:
            inner = inner[int(folder)] if folder.isdigit() else inner[folder]
        inner[name] = value
    return json.dumps(data).encode()


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "not a complete deck file"),
        (write_deck(PIECE).encode()[:-20], "not a complete deck file"),
        (b"\xff\xfe\x00", "not a complete deck file"),
        (b"[1, 2]", "not a complete deck file"),
        (b"[" * 100_000, "not a complete deck file"),
        (b"{}", "not a deck file"),
        (changed(version=2), "newer version"),
        (changed(version="1"), "field version is wrong"),
        (changed(deck__starts__0__onset="1/0"), r"deck\.starts"),
        (changed(deck__starts__0__onset=3), r"deck\.starts"),
        (changed(deck__starts__0__onset="9" * 5000), r"deck\.starts"),
        (changed(deck__starts__0__colour="red"), "colour"),
        (changed(deck__starts=[]), "no starts"),
        (changed(deck__route=["other"]), "route"),
        (changed(deck__score="0" * 16), "does not name the score"),
        (changed(score__notes=[]), "no notes"),
    ],
)
def test_what_is_not_sound_is_refused_in_one_sentence(data: bytes, says: str) -> None:
    with pytest.raises(TrainerError, match=says) as caught:
        parse_deck(data, "x.json")
    assert "\n" not in str(caught.value)


def test_a_missing_file(tmp_path: Path) -> None:
    with pytest.raises(TrainerError, match="cannot be read"):
        read_deck(tmp_path / "none.json")
