"""The same score a second time: said, and added only where that is wanted."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tests.cli.test_commands import run
from tests.command import Run
from tests.make_decks import SCORES
from trainer.deck.file import read_deck

__all__ = ["run"]  # the fixture

FILE = SCORES / "the-heron-stands-and-looks.musicxml"


def told(run: Run, *words: str) -> Any:
    code, out, err = run(*words, "--json")
    assert code == 0, err
    return json.loads(out)["rows"]


def test_the_same_score_again(run: Run, tmp_path: Path) -> None:
    assert run("add", FILE, "--learned")[0] == 0
    assert run("start", "label", "1", "2", "mine")[0] == 0
    assert run("record", "1", "2", "through")[0] == 0
    pieces, starts = told(run, "pieces"), told(run, "starts", "1")
    # Under another name, and with another title: it is the same music.
    copy = tmp_path / "copy.musicxml"
    copy.write_text(FILE.read_text("utf-8").replace("The Heron Stands and Looks", "Heron"), "utf-8")
    for file in (FILE, copy):
        code, out, err = run("add", file)
        assert (code, out) == (1, "")
        assert err == (
            "trainer: This music is here already, as piece 1, The Heron Stands and Looks: nothing "
            "was added. Give --again to add it as a second piece.\n"
        )
        assert told(run, "pieces") == pieces
    code, out, _ = run("add", copy, "--again", "--learned")
    assert (code, "It is piece 2." in out) == (0, True)
    assert [row["piece"] for row in told(run, "pieces")] == ["The Heron Stands and Looks", "Heron"]
    assert told(run, "starts", "1") == starts
    assert [row["start"] for row in told(run, "attempts")] == [2]


def test_other_notes_are_another_score(run: Run, tmp_path: Path) -> None:
    assert run("add", FILE)[0] == 0
    other = tmp_path / "other.musicxml"
    text = FILE.read_text("utf-8")
    other.write_text(text.replace("<step>D</step>", "<step>C</step>", 1), "utf-8")
    assert run("add", other)[0] == 0
    assert len(told(run, "pieces")) == 2


def test_a_deck_of_music_that_is_here_says_so(run: Run) -> None:
    """A pupil has added the score alone; then the teacher's deck arrives."""
    (deck,) = SCORES.parent.glob("decks/the-heron*.deck.json")
    assert read_deck(deck).score.notes
    assert run("add", FILE)[0] == 0
    for words, kept in ((("--show",), 1), ((), 2)):
        code, out, _ = run("deck", "in", deck, *words)
        assert code == 0
        said = " ".join(out.split())
        assert (
            "This music is here already, as piece 1, The Heron Stands and Looks: that one" in said
        )
        assert len(told(run, "pieces")) == kept


def test_notes_that_come_after_their_deck(run: Run, tmp_path: Path) -> None:
    """A deck without its notes does not stand in the way of the score."""
    (deck,) = SCORES.parent.glob("decks/the-heron*.deck.json")
    assert run("deck", "in", deck)[0] == 0
    bare = tmp_path / "bare.json"
    assert run("deck", "out", "1", bare, "--without-notes")[0] == 0
    other = ("--db", str(tmp_path / "other.db"))
    assert run("deck", "in", bare, *other)[0] == 0
    assert run("add", FILE, *other)[0] == 0
    assert "notes are not in this deck" not in run("page", "1", "2", *other)[1]
