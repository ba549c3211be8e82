"""The command that lets an opening be heard."""

from __future__ import annotations

import json
import wave
from pathlib import Path

import pytest

from tests.command import Run, runner
from tests.pieces import piece_of, tune
from trainer.deck.file import write_deck
from trainer.deck.model import Piece
from trainer.sound import player
from trainer.sound.tones import RATE

PIECE = piece_of(tune(16, title="Study"), [0, 12, 24, 36])


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs `trainer WORDS` over a study of 16 bars of 3/4, a quarter a second."""
    monkeypatch.chdir(tmp_path)
    run = runner(tmp_path, monkeypatch, capsys)
    take_in(run, tmp_path, PIECE)
    return run


def take_in(run: Run, folder: Path, piece: Piece, *, notes: bool = True) -> None:
    (folder / "s.deck.json").write_text(write_deck(piece, notes=notes))
    assert run("deck", "in", "s.deck.json")[0] == 0


def seconds(path: Path) -> float:
    with wave.open(str(path)) as file:
        return int(file.getnframes()) / RATE


@pytest.mark.parametrize(
    ("more", "lasts"),
    [((), 6.0), (("--bars", "1"), 3.0), (("--bars", "1", "--count-in"), 6.0)],
    ids=["two bars", "one bar", "counted"],
)
def test_a_file_needs_no_library(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, more: tuple[str, ...], lasts: float
) -> None:
    monkeypatch.setattr(player, "find_spec", lambda _: None)
    code, out, err = run("play", "1", "2", *more, "--out", "two.wav")
    assert (code, err) == (0, "")
    assert "Study, start 2, b. 5." in out
    assert ("Count 1 2 3, 60 a minute." in out) == ("--count-in" in more)
    assert seconds(tmp_path / "two.wav") == pytest.approx(lasts)


def test_never_beyond_the_page(run: Run, tmp_path: Path) -> None:
    assert run("play", "1", "2", "--bars", "9", "--out", "two.wav")[0] == 0
    assert seconds(tmp_path / "two.wav") == pytest.approx(12.0)  # the page has four bars


def test_a_file_that_is_there_is_written_over_only_on_request(run: Run, tmp_path: Path) -> None:
    (tmp_path / "two.wav").write_text("mine")
    code, out, err = run("play", "1", "2", "--out", "two.wav")
    assert (code, out) == (1, "")
    assert "--replace" in err
    assert (tmp_path / "two.wav").read_text() == "mine"
    assert run("play", "1", "2", "--out", "two.wav", "--replace")[0] == 0
    assert seconds(tmp_path / "two.wav") == pytest.approx(6.0)


def test_without_the_library_it_says_what_to_do(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(player, "find_spec", lambda _: None)
    code, _, err = run("play", "1", "2")
    assert code == 1
    assert err.startswith("trainer: ")
    assert "pip install miniaudio" in err
    assert "--out" in err
    assert err.count("\n") == 1


def test_json_tells_what_would_be_heard(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(player, "find_spec", lambda _: None)
    code, out, _ = run("play", "1", "2", "--json")
    assert code == 0
    told = json.loads(out)
    written = [n.pitch for n in PIECE.score.notes if 12 <= n.onset < 18]
    assert [one["pitch"] for one in told["sounds"]] == written
    assert [one["at"] for one in told["sounds"]] == [0, 1, 2, 3, 4, 5]
    assert [beat["number"] for beat in told["count"]["beats"]] == [1, 2, 3]
    assert told["count"]["seconds"] == 3.0


def test_a_deck_without_its_notes_cannot_be_heard(run: Run, tmp_path: Path) -> None:
    bare = piece_of(tune(8, title="Bare"), [0, 12], name="bare")
    take_in(run, tmp_path, bare, notes=False)
    code, out, err = run("play", "Bare", "1", "--out", "bare.wav")
    assert (code, out) == (1, "")
    assert "This deck has no notes" in err
    assert not (tmp_path / "bare.wav").exists()
