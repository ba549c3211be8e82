"""`trainer mark`: the start numbers in a copy of the score, and the score file that is kept."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.command import Run, runner
from trainer.score.read import read_score

SCORES = Path(__file__).parent.parent.parent / "demo_scores"
LANTERNS = SCORES / "lanterns-along-the-towpath.musicxml"
FERRY = SCORES / "the-late-ferry.musicxml"


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs `trainer WORDS` on a database with one piece, in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    run = runner(tmp_path, monkeypatch, capsys)
    assert run("add", str(LANTERNS))[0] == 0
    return run


def starts(run: Run, piece: str) -> list[tuple[int, str]]:
    rows = json.loads(run("starts", piece, "--json")[1])["rows"]
    return [(row["start"], row["place"]) for row in rows]


def test_a_marked_copy_comes_back_as_the_same_starts(run: Run) -> None:
    """Edited starts, packed: what `add` makes of the copy is the teacher's deck again."""
    for words in (("remove", "1", "3"), ("add", "1", "15:2"), ("renumber", "1", "7")):
        assert run("start", *words)[0] == 0
    code, out, _ = run("mark", "1", "--out", "c.mxl")
    count = len(starts(run, "1"))
    assert (code, out) == (0, f"Lanterns along the Towpath, {count} starts: written to c.mxl.\n")
    assert run("add", "c.mxl")[0] == 0
    assert starts(run, "2") == starts(run, "1")


def test_the_score_travels_in_the_deck_file_where_the_teacher_says_so(run: Run) -> None:
    assert run("deck", "out", "1", "plain.json")[0] == 0
    assert "original" not in json.loads(Path("plain.json").read_text())
    assert run("deck", "out", "1", "whole.json", "--with-score")[0] == 0
    there = ("--db", "there.db")
    assert run("deck", "in", "plain.json", *there)[0] == 0
    code, _, err = run("mark", "1", "--out", "c.musicxml", *there)
    assert code == 1
    assert "The score file of Lanterns along the Towpath is not kept here: name it once" in err
    assert not Path("c.musicxml").exists()
    assert run("deck", "out", "1", "again.json", "--with-score", *there)[0] == 1
    assert run("deck", "in", "whole.json", "--yes", *there)[0] == 0
    assert run("mark", "1", "--out", "c.musicxml", *there)[0] == 0
    assert run("mark", "1", "--out", "d.musicxml")[0] == 0
    assert Path("c.musicxml").read_bytes() == Path("d.musicxml").read_bytes()


def test_a_score_that_is_named_once_is_kept(run: Run) -> None:
    assert run("deck", "out", "1", "plain.json")[0] == 0
    there = ("--db", "there.db")
    assert run("deck", "in", "plain.json", *there)[0] == 0
    assert run("mark", "1", str(LANTERNS), "--out", "c.musicxml", *there)[0] == 0
    assert run("mark", "1", "--out", "c.musicxml", "--replace", *there)[0] == 0


def test_fingering_and_advice_where_they_are_wanted(run: Run) -> None:
    assert run("start", "advise", "1", "2", "sing & breathe")[0] == 0
    assert run("mark", "1", "--out", "c.musicxml")[0] == 0
    assert "sing" not in Path("c.musicxml").read_text()
    assert run("mark", "1", "--out", "c.musicxml", "--advice", "--replace")[0] == 0
    assert "sing &amp; breathe" in Path("c.musicxml").read_text()
    copy, score = read_score(Path("c.musicxml")), read_score(LANTERNS)
    assert (copy.notes, copy.bars) == (score.notes, score.bars)
    assert run("start", "advise", "1", "2", "think of the da capo")[0] == 0
    code, _, err = run("mark", "1", "--out", "d.musicxml", "--advice")
    assert code == 1
    assert "advice of start 2 would be read as da capo" in err


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("1", "--out", "c.txt"), "end the name in .musicxml, .mxl, .svg or .pdf"),
        (("1", "--out", "there.mxl"), "there.mxl exists already"),
        (("7", "--out", "c.mxl"), "There is no piece"),
        (("1", "none.xml", "--out", "c.mxl"), "none.xml was not found"),
        (("1", str(FERRY), "--out", "c.mxl"), "measures, but the piece"),
        (("1", "tune.abc", "--out", "c.mxl"), "tune.abc is a ABC file"),
        (("1", "other.musicxml", "--out", "c.mxl"), "is not the score that Lanterns along the"),
        (("1", "half.musicxml", "--out", "c.mxl"), "is not complete XML"),
        (("1", "--out", "none/c.mxl"), "cannot be written"),
    ],
)
def test_what_cannot_be_is_one_sentence_and_changes_nothing(
    run: Run, words: tuple[str, ...], says: str
) -> None:
    text = LANTERNS.read_text()
    Path("there.mxl").write_text("old")
    Path("tune.abc").write_text("X:1\nK:C\nC D E F|\n")
    Path("other.musicxml").write_text(text.replace("<step>G</step>", "<step>F</step>"))
    Path("half.musicxml").write_text(text[: len(text) // 2])
    before = {path: path.read_bytes() for path in Path().iterdir() if ".db" not in path.name}
    code, out, err = run("mark", *words)
    assert (code, out, err.count("\n")) == (1, "", 1)
    assert says in err
    after = {path: path.read_bytes() for path in Path().iterdir() if ".db" not in path.name}
    assert after == before
    assert run("mark", "1", "--out", "still.mxl")[0] == 0  # the kept file is the old one


def test_a_deck_file_with_a_broken_score_is_refused_whole(run: Run) -> None:
    assert run("deck", "out", "1", "whole.json", "--with-score")[0] == 0
    told = json.loads(Path("whole.json").read_text())
    for content in ("bm90aGluZw==", "***", told["original"]["content"][: 4 * 100]):
        told["original"]["content"] = content
        Path("bad.json").write_text(json.dumps(told))
        code, _, err = run("deck", "in", "bad.json", "--db", "there.db")
        assert code == 1
        assert err.count("\n") == 1
    assert json.loads(run("pieces", "--json", "--db", "there.db")[1])["rows"] == []
