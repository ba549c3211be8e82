"""Pieces are renamed, put in order, removed and brought back; lists show their numbers."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.command import Run, runner
from tests.pieces import piece_of, tune
from trainer.deck.file import write_deck

TITLES = ("Air", "Bells", "Canon")


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs `trainer WORDS` on a database with three pieces and a student."""
    monkeypatch.chdir(tmp_path)
    run = runner(tmp_path, monkeypatch, capsys)
    for bars, title in enumerate(TITLES, 12):
        piece = piece_of(tune(bars, title=title), [0, 12], title.lower())
        Path(f"{title}.json").write_text(write_deck(piece))
        assert run("deck", "in", f"{title}.json")[0] == 0
    assert run("student", "add", "M.")[0] == 0
    assert run("open", "2", "all")[0] == 0
    return run


def pieces(run: Run) -> list[tuple[int, str]]:
    rows = json.loads(run("pieces", "--json")[1])["rows"]
    return [(row["number"], row["piece"]) for row in rows]


def said(run: Run, *words: str) -> str:
    code, out, err = run(*words)
    assert (code, err) == (0, "")
    return out


def test_the_list_shows_the_number_that_commands_take(run: Run) -> None:
    assert pieces(run) == [(1, "Air"), (2, "Bells"), (3, "Canon")]
    assert said(run, "piece", "move", "3", "1").splitlines() == ["1  Canon", "2  Air", "3  Bells"]
    assert pieces(run) == [(1, "Canon"), (2, "Air"), (3, "Bells")]
    for number, title in pieces(run):
        assert f"Starts of {title}" in said(run, "starts", str(number))
    students = json.loads(said(run, "student", "list", "--json"))["rows"]
    assert [row["number"] for row in students] == [1]


def test_a_piece_that_is_added_later_is_the_last_one(run: Run) -> None:
    said(run, "piece", "move", "3", "1")
    late = piece_of(tune(20, title="Dance"), [0, 12], "dance")
    Path("late.json").write_text(write_deck(late))
    said(run, "deck", "in", "late.json")
    assert [title for _, title in pieces(run)] == ["Canon", "Air", "Bells", "Dance"]


def test_a_new_title_is_an_edit_that_can_be_taken_back_and_travels(run: Run) -> None:
    assert (
        said(run, "piece", "rename", "2", "Bells of [May]")
        == "Bells is now called Bells of [May].\n"
    )
    assert pieces(run)[1] == (2, "Bells of [May]")
    assert "renamed to Bells of [May]" in said(run, "deck", "history", "2")
    said(run, "deck", "out", "2", "out.json")
    assert json.loads(Path("out.json").read_text())["deck"]["title"] == "Bells of [May]"
    said(run, "start", "undo", "2")
    assert pieces(run)[1] == (2, "Bells")


def test_a_removed_piece_is_out_of_sight_and_comes_back_with_all_its_attempts(run: Run) -> None:
    said(run, "record", "2", "1", "through")
    said(run, "recital", "set", "Fair", "in 3 weeks", "1", "2")
    before = json.loads(said(run, "attempts", "--json"))["rows"]
    assert "out of sight; all its attempts are kept" in said(run, "piece", "remove", "Bells")
    assert pieces(run) == [(1, "Air"), (2, "Canon")]
    for words in (("today",), ("retention",), ("readiness",), ("attempts",), ("studio",),
                  ("lesson",), ("recital", "list"), ("stages",), ("last-days",)):  # fmt: skip
        assert "Bells" not in said(run, *words)
    assert run("starts", "Bells")[0] == 1
    assert run("check")[0] == 0
    assert said(run, "piece", "restore") == "Bells\n"
    assert said(run, "piece", "restore", "bel") == "Bells is back, as piece 2.\n"
    assert json.loads(said(run, "attempts", "--json"))["rows"] == before
    assert said(run, "piece", "restore") == "No piece was removed.\n"


def test_a_deck_that_is_taken_in_again_brings_the_piece_back(run: Run) -> None:
    said(run, "piece", "remove", "Air")
    said(run, "deck", "in", "Air.json")
    assert pieces(run) == [(1, "Air"), (2, "Bells"), (3, "Canon")]


def test_the_music_of_a_removed_piece_is_known(run: Run) -> None:
    score = Path(__file__).parent.parent.parent / "demo_scores" / "the-late-ferry.musicxml"
    said(run, "add", str(score))
    said(run, "piece", "remove", "4")
    code, _, err = run("add", str(score))
    assert code == 1
    assert "The Late Ferry, which was removed (`trainer piece restore 'The Late Ferry'`" in err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("rename", "9", "X"), "There is no piece"),
        (("rename", "1", "  "), "A piece needs a title"),
        (("move", "1", "0"), "0 is not a place in the list: choose one from 1 to 3"),
        (("move", "1", "4"), "choose one from 1 to 3"),
        (("remove", "Z"), "There is no piece"),
        (("restore", "Air"), "There is no removed piece"),
    ],
)
def test_what_cannot_be_is_one_sentence_and_changes_nothing(
    run: Run, words: tuple[str, ...], says: str
) -> None:
    code, out, err = run("piece", *words)
    assert (code, out, err.count("\n")) == (1, "", 1)
    assert says in err
    assert pieces(run) == [(1, "Air"), (2, "Bells"), (3, "Canon")]
