"""The file of a printed piece comes later: `add FILE --for PIECE`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.test_commands import run
from tests.command import Run
from tests.make_decks import SCORES

__all__ = ["run"]  # a fixture
LANTERNS = str(SCORES / "lanterns-along-the-towpath.musicxml")
ORDER = "1-8 1-6 9-26 11-42 1-6 9-26"
PAPER = ("add", "--paper", "Towpath", "--meter", "3/4", "--pickup", "1", "--learned", "--starts",
         "1,4:3,9,11,18:3,27,35")  # fmt: skip


def starts(run: Run) -> list[tuple[object, ...]]:
    """The starts as a student has them: number, id, and place in words."""
    ids = {row["number"]: row["id"] for row in json.loads(run("map", "1", "--json")[1])["starts"]}
    rows = json.loads(run("starts", "1", "--json")[1])["rows"]
    return [(row["start"], ids[row["start"]], row["place"]) for row in rows]


def test_it_takes_the_piece_over_with_all_that_was_tried(run: Run, tmp_path: Path) -> None:
    assert run(*PAPER, "--bars", "42", "--route", ORDER)[0] == 0
    run("record", "1", "2", "through")
    run("own", "1", "--add", "13")  # becomes start 8; the file has a shorter bar before it
    run("start", "advise", "1", "3", "let it float")
    before, tried = starts(run), run("attempts")[1]
    code, out, err = run("add", LANTERNS, "--for", "Towpath")
    assert (code, err) == (0, "")
    assert "Towpath has its notes now, from lanterns-along-the-towpath.musicxml" in out
    assert (starts(run), run("attempts")[1]) == (before, tried)
    assert (8, "b. 13") in [(number, place) for number, _, place in before]
    assert "let it float" in run("start", "show", "1", "3")[1]
    assert "not in this deck" not in run("page", "1", "2")[1]
    for words in (("blocks", "1", "2"), ("mark", "1", "--out", str(tmp_path / "m.musicxml")),
                  ("start", "density", "1", "more"), ("check",)):  # fmt: skip
        assert run(*words)[0] == 0, words
    assert run("start", "undo", "1")[0] == 0
    assert run("start", "undo", "1")[0] == 0
    assert "not in this deck" in run("page", "1", "2")[1]
    assert [one for one in starts(run) if one[0] != 8] == [one for one in before if one[0] != 8]


def test_a_pupil_gets_the_notes_with_the_next_form_of_the_deck(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run(*PAPER, "--bars", "42", "--route", ORDER)
    run("deck", "out", "1", str(tmp_path / "paper.json"))
    run("add", LANTERNS, "--for", "1")
    run("deck", "out", "1", str(tmp_path / "notes.json"))
    monkeypatch.setenv("TRAINER_DB", str(tmp_path / "pupil.db"))
    run("deck", "in", str(tmp_path / "paper.json"))
    run("open", "1", "all")
    run("record", "1", "2", "through")
    tried = run("attempts")[1]
    code, out, _ = run("deck", "in", str(tmp_path / "notes.json"), "--yes")
    assert (code, "the notes come with it" in out) == (0, True)
    assert run("attempts")[1] == tried
    assert "not in this deck" not in run("page", "1", "2")[1]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--bars", "44"), "it has no bar 43 and ends with bar 42, of 44 bars"),
        (("--bars", "42", "--meter", "4/4"), "it is in 3/4 in bar 1, the piece in 4/4"),
        (
            ("--bars", "42", "--route", "1-8 1-42"),
            "it goes on with bar 9 after bar 6 the 2nd time, the piece goes on with bar 7",
        ),
        (
            ("--bars", "42", "--route", "1-8 1-6 9-26 11-42"),
            "it goes on with bar 1 after bar 42, the piece ends",
        ),
    ],
    ids=lambda one: " ".join(one) if isinstance(one, tuple) else "",
)
def test_one_that_does_not_fit_changes_nothing(run: Run, words: tuple[str, ...], says: str) -> None:
    run(*PAPER, *words)
    before = run("deck", "history", "1", "--json")[1]
    code, out, err = run("add", LANTERNS, "--for", "1", "--yes")
    assert (code, out) == (1, "")
    assert says in " ".join(err.split())
    assert run("deck", "history", "1", "--json")[1] == before


@pytest.mark.parametrize(("answer", "taken"), [("n", False), ("y", True)])
def test_where_only_the_end_differs_it_is_asked(run: Run, answer: str, taken: bool) -> None:
    run(*PAPER, "--bars", "40")
    code, out, _ = run("add", LANTERNS, "--for", "1", typed=f"{answer}\n")
    assert code == 0
    assert "goes on to bar 42, 2 bars more than Towpath has." in out
    assert ("Nothing was changed." in out) is not taken
    assert ("not in this deck" in run("page", "1", "2")[1]) is not taken


def test_only_a_piece_without_notes_can_be_taken_over(run: Run) -> None:
    run("add", LANTERNS)
    run(*PAPER, "--bars", "42")
    for into, code, says in (
        ("1", 1, "Lanterns along the Towpath has its notes already"),
        ("2", 1, "This music is here already, as piece 1"),
        ("9", 1, "There is no piece"),
    ):
        told = run("add", LANTERNS, "--for", into)
        assert told[0] == code
        assert says in " ".join(told[2].split())
    assert run("add", LANTERNS, "--for", "2", "--again")[0] == 0
    assert run("add", "--paper", "Air", "--bars", "4", "--for", "2")[0] == 2
