"""A printed piece without a file: what goes by places works, what needs notes says so."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest

from tests.cli.test_commands import run
from tests.command import Run
from trainer.score.on_paper import on_paper, places

__all__ = ["run"]  # a fixture
TOLD = ("add", "--paper", "Air on Paper", "--bars", "24", "--meter", "3/4", "--pickup", "1")
STARTS = ("--starts", "1,9,17:2", "--route", "1-16 1-15 17-24")
NOTES = ["picture 1 2 --out {}/a.svg", "play 1 2 --out {}/a.wav", "mark 1 --out {}/m.musicxml",
         "blocks 1 2", "run 1 --from {}/a.mid", "hear {}/a.mid 1 --start 2",
         "start density 1 more"]  # fmt: skip
PLACES = ["today", "page 1 2", "page 1 2 --spoken", "starts 1", "start show 1 2", "map 1",
          "look-alikes 1", "retention", "readiness", "recovery 1", "lesson", "prepare 1",
          "print sheet 1 --out {}/s.html", "print recital --out {}/r.html", "deck out 1 {}/d.json",
          "records out {}/o.json", "start add 1 5", "start move 1 2 6", "own 1 2 --words softly",
          "check", "studio", "attempts"]  # fmt: skip


def test_what_goes_by_places_works_and_what_needs_notes_says_so(run: Run, tmp_path: Path) -> None:
    from tests.cli.test_runs import recorded
    from trainer.listen.model import Heard

    recorded(tmp_path / "a.mid", [Heard(60, 0.5)])
    code, out, _ = run(*TOLD, *STARTS)
    assert (code, out.splitlines()[0]) == (0, "Air on Paper: 24 bars, 3 starts. It is piece 1.")
    run("open", "1", "all")
    run("recital", "set", "Concert", "2027-06-01", "1")
    assert "Through" in run("drill", "--plain", typed="t\nv\nh\nb\nq\n")[1]
    assert run("run", "1", typed="5 2\n\n")[0] == 0
    for line in PLACES:
        code, out, err = run(*line.format(tmp_path).split())
        assert (code, err) == (0, ""), line
        assert out, line
        if line.startswith("look-alikes"):
            assert "The notes of Air on Paper are not known" in out
        if line.startswith("page"):
            assert "own copy of the score" in out, line
    for line in NOTES:
        code, out, err = run(*line.format(tmp_path).split())
        assert code == 1, line
        assert "note" in err, line
        assert err.count("\n") <= 2
    rows = json.loads(run("attempts", "--json")[1])["rows"]
    assert {row["outcome"] for row in rows} >= {"through", "broke off"}


def test_a_hand_out_of_it_is_taken_in_elsewhere(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run(*TOLD, *STARTS)
    run("deck", "out", "1", str(tmp_path / "d.json"))
    before = run("starts", "1")[1]
    monkeypatch.setenv("TRAINER_DB", str(tmp_path / "other.db"))
    assert run("deck", "in", str(tmp_path / "d.json"))[0] == 0
    assert run("starts", "1")[1] == before


def test_its_bars_its_starts_and_its_route() -> None:
    score = on_paper("Air", 24, "3/4", "1")
    assert [bar.label for bar in score.bars[:3]] == ["0", "1", "2"]
    assert [float(bar.start) for bar in score.bars[:3]] == [0, 1, 4]
    assert [bar.upbeat for bar in score.bars[:3]] == [True, False, False]
    assert score.end == 1 + 24 * 3
    at = places(score, "1,17:2, 9")
    assert at == [0, Fraction(25), Fraction(50)]
    assert on_paper("Air", 8, "6/8", "1.5").bars[0].length == Fraction(3, 4)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        (("--bars", "0"), "has 1 to 2000 bars"),
        (("--bars", "10000"), "has 1 to 2000 bars"),
        (("--meter", "0/4"), "is not a metre"),
        (("--meter", "waltz"), "is not a metre"),
        (("--pickup", "3"), "is not a pickup"),
        (("--pickup", "-1"), "is not a pickup"),
        (("--starts", "1,99"), "There is no bar '99'"),
        (("--starts", "1,9:9"), "Bar 9 has no beat 9"),
        (("--starts", "1,9,9"), "The start 9 is there twice"),
        (("--starts", "9,17"), "begin the list with 1"),
        (("--starts", "one"), "There is no bar 'one'"),
        (("--route", "1-16 18-24"), "leaves out bar 17"),
        (("--route", "1-99"), "is not a range of bars from 1 to 24"),
        (("--route", "16-1"), "is not a range"),
        (("--route", "1-16 16-24"), "plays bar 16 twice in a row"),
        (("--route", "17-24 1-16"), "begins with bar 1"),
        (("--route", "1-16 12-24"), "goes back to bar 12, where no start is"),
        (("--route", "1-24 " * 21), "each bar over 20 times"),
        (("--paper", "  "), "needs a title"),
    ],
    ids=lambda one: " ".join(one) if isinstance(one, tuple) else "",
)
def test_what_cannot_be_is_one_sentence_and_nothing_is_kept(
    run: Run, changed: tuple[str, str], says: str
) -> None:
    code, out, err = run(*TOLD, *STARTS, *changed)
    assert (code, out) == (1, "")
    assert says in " ".join(err.split())
    assert json.loads(run("pieces", "--json")[1])["rows"] == []


def test_a_file_or_a_title(run: Run) -> None:
    for words in (("add",), ("add", "a.musicxml", "--paper", "Air", "--bars", "8")):
        code, _, err = run(*words)
        assert code == 2
        assert "Name a score, or a printed piece" in " ".join(err.split())


def test_a_run_through_with_an_instrument_is_told_line_by_line(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    from trainer.desk.instruments import Instruments
    from trainer.listen.port import MemoryPort

    run(*TOLD, *STARTS, "--learned")
    monkeypatch.setattr(Instruments, "_port", lambda *_, **__: MemoryPort(lambda: 0.0))
    code, out, err = run("run", "1", typed="5 2\n\n")
    assert (code, err) == (0, "")
    assert "it cannot be followed" in " ".join(out.split())
    assert "listened to" not in out
    assert "slip" in run("slips")[1]
