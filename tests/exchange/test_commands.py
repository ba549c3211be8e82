"""The commands on decks, records and the care of the data, between two machines."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.test_commands import run
from tests.command import Run
from tests.exchange.build import PIECE
from tests.pieces import piece_of, tune
from trainer.deck.file import write_deck

__all__ = ["run"]  # the fixture

At = Callable[..., tuple[int, str, str]]


@pytest.fixture
def at(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> At:
    """Runs words on the teacher's or on the pupil's machine; both have one piece."""

    def at(who: str, *words: str, typed: str = "") -> tuple[int, str, str]:
        monkeypatch.setenv("TRAINER_DB", str(tmp_path / f"{who}.db"))
        return run(*words, typed=typed)

    file = tmp_path / "study.json"
    file.write_text(write_deck(PIECE))
    for who in ("teacher", "pupil"):
        assert at(who, "deck", "in", str(file))[0] == 0
        assert at(who, "student", "add", {"teacher": "A. T.", "pupil": "me"}[who])[0] == 0
        assert at(who, "open", "1", "all")[0] == 0
    return at


def test_a_deck_goes_out_and_its_next_edit_after_it(at: At, tmp_path: Path) -> None:
    one, two = str(tmp_path / "one.json"), str(tmp_path / "two.json")
    assert "written to one.json" in at("teacher", "deck", "out", "1", one)[1]
    assert at("teacher", "deck", "out", "1", one)[2].count("exists already") == 1
    assert "the same deck as the one here" in at("pupil", "deck", "in", one)[1]
    at("teacher", "start", "split", "1", "2", "6")
    at("teacher", "start", "advise", "1", "1", "[red]sing\x1b[2J")
    at("teacher", "deck", "out", "1", two)
    shown = at("pupil", "deck", "in", two, "--show")[1]
    assert "start 3: new at b. 6, split from start 2; begins untried" in shown
    assert "start 1: new advice: [red]sing[2J; keeps its attempts" in shown
    assert "Nothing was kept" in shown
    assert "\x1b" not in shown
    assert "Nothing was kept" in at("pupil", "deck", "in", two, typed="n\n")[1]
    assert "Deck imported" in at("pupil", "deck", "in", two, typed="y\n")[1]
    code, out, err = at("pupil", "deck", "in", one)
    assert code == 1
    assert "older version" in out + err
    found = json.loads(at("pupil", "deck", "in", two, "--json")[1])
    assert (found["relation"], found["changes"], found["taken"]) == ("same", [], False)
    history = json.loads(at("pupil", "deck", "history", "1", "--json")[1])
    assert [row["edit"] for row in history["rows"]][-2:] == ["split 2 at 6", "advise 1"]


def test_two_edits_apart_are_a_logged_choice(at: At, tmp_path: Path) -> None:
    one, two = str(tmp_path / "one.json"), str(tmp_path / "two.json")
    at("teacher", "deck", "out", "1", one)
    at("pupil", "deck", "in", one)
    at("teacher", "start", "label", "1", "1", "theirs")
    at("pupil", "start", "label", "1", "1", "mine")
    at("teacher", "deck", "out", "1", two)
    code, out, err = at("pupil", "deck", "in", two)
    assert code == 1
    assert 'is called "theirs"' in out
    assert "--keep file or --keep here" in err
    assert (
        "both versions and the choice are kept"
        in at("pupil", "deck", "in", two, "--keep", "here")[1]
    )
    assert "mine" in at("pupil", "starts", "1")[1]
    # The teacher takes the choice over as a newer form; then all agree.
    at("pupil", "deck", "out", "1", str(tmp_path / "three.json"))
    assert "newer version" in at("teacher", "deck", "in", str(tmp_path / "three.json"), "--yes")[1]
    assert (
        "the same deck as the one here"
        in at("teacher", "deck", "in", str(tmp_path / "three.json"))[1]
    )


def test_a_deck_without_its_notes_can_be_drilled_and_edited(at: At, tmp_path: Path) -> None:
    bare = str(tmp_path / "bare.json")
    other = tmp_path / "other.json"
    other.write_text(write_deck(piece_of(tune(8, title="Other"), [0, 12], "other")))
    at("teacher", "deck", "in", str(other))
    at("teacher", "deck", "out", "Other", bare, "--without-notes")
    assert '"pitch"' not in Path(bare).read_text()
    at("pupil", "deck", "in", bare)
    for words in (["page", "Other", "1"], ["page", "Other", "2", "--spoken"]):
        code, out, _ = at("pupil", *words)
        assert code == 0
        assert "notes are not in this deck" in out
    for words in (
        ["open", "Other", "all"],
        ["starts", "Other"],
        ["map", "Other"],
        ["start", "split", "Other", "1", "3"],
        ["start", "move", "Other", "2", "4"],
        ["today"],
        ["retention"],
        ["readiness"],
        ["record", "Other", "1", "through"],
    ):
        code, out, err = at("pupil", *words)
        assert code == 0, (words, out, err)
    assert at("pupil", "drill", typed="n\nn\nq\n")[0] in (0, 130)
    at("pupil", "deck", "out", "Other", str(tmp_path / "again.json"))
    assert "left out" in (tmp_path / "again.json").read_text()


def test_records_go_both_ways(at: At, tmp_path: Path) -> None:
    file = str(tmp_path / "pupil.json")
    at("pupil", "record", "1", "1", "through")
    at("pupil", "record", "1", "2", "looked")
    assert "2 attempts written" in at("pupil", "records", "out", file)[1]
    assert "2 attempts, 4 starts opened" in at("teacher", "records", "in", file)[1]
    assert "nothing that is not here" in at("teacher", "records", "in", file)[1]
    assert "me is A. T. now" in at("teacher", "records", "join", "me", "A. T.")[1]
    back = str(tmp_path / "teacher.json")
    at("teacher", "records", "out", back, "-s", "A. T.")
    code, out, _ = at("pupil", "records", "in", back)
    assert code == 1
    assert "--join" in out
    told = json.loads(at("pupil", "records", "in", back, "--join", "--json")[1])
    assert told["files"][0]["joinings"] == 1
    assert "A. T." in at("pupil", "student", "list")[1]
    rows = json.loads(at("teacher", "records", "entries", "--json")[1])["rows"]
    assert [(row["entry"], row["counts_as"]) for row in rows] == [("A. T.", ""), ("me", "A. T.")]
    assert "of their own again" in at("teacher", "records", "part", "me")[1]


def test_a_watched_folder(at: At, tmp_path: Path) -> None:
    folder = tmp_path / "shared"
    folder.mkdir()
    at("pupil", "record", "1", "1", "through")
    at("pupil", "records", "out", str(folder / "pupil.json"))
    text = (folder / "pupil.json").read_bytes()
    at("pupil", "record", "1", "2", "through")
    at("pupil", "records", "out", str(folder / "pupil (conflicted copy 2).txt"))
    (folder / "half.json").write_bytes(text[: len(text) // 2])
    (folder / "holiday.jpg").write_bytes(b"\xff\xd8" * 400)
    (folder / "study.deck.json").write_text(write_deck(PIECE))
    (folder / ".pupil.json.1234.part").write_bytes(text)
    (folder / "below").mkdir()
    if sys.platform != "win32":
        (folder / "link.json").symlink_to(tmp_path / "elsewhere.json")
        os.mkfifo(folder / "pipe.json")
    code, out, err = at("teacher", "records", "watch", str(folder), "--once")
    assert code == 0, err
    lines = out.splitlines()
    assert len(lines) == 2
    assert "half.json is incomplete" in lines[0]
    assert (
        "pupil (conflicted copy 2).txt, me: 2 attempts" in lines[1]
    )  # the other brings nothing more
    assert "backup" not in err
    assert at("teacher", "records", "watch", str(folder), "--once")[1].count("\n") == 1


def test_watching_goes_on_until_it_is_stopped(
    at: At, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second look finds the half file whole, the third one is stopped by a person."""
    folder = tmp_path / "shared"
    folder.mkdir()
    at("pupil", "record", "1", "1", "through")
    at("pupil", "records", "out", str(tmp_path / "pupil.json"))
    data = (tmp_path / "pupil.json").read_bytes()
    (folder / "pupil.json").write_bytes(data[:300])
    looks = []

    def sleep(_: float) -> None:
        looks.append(1)
        (folder / "pupil.json").write_bytes(data)
        if len(looks) == 2:
            raise KeyboardInterrupt

    monkeypatch.setattr("trainer.cli.records.time.sleep", sleep)
    monkeypatch.setattr("trainer.cli.watch.QUIET", 0.0)
    code, out, _ = at("teacher", "records", "watch", str(folder))
    assert code == 0
    first, second, last = out.splitlines()
    assert "is incomplete" in first
    assert "pupil.json, me: 1 attempt" in second
    assert "No longer watching" in last


def test_erasing_going_back_and_checking(at: At, tmp_path: Path) -> None:
    at("pupil", "record", "1", "1", "through")
    assert "Nothing is wrong" in at("pupil", "check")[1]
    assert json.loads(at("pupil", "check", "--json")[1]) == {"sound": True, "findings": []}
    assert "Backed up" in at("pupil", "backup", "make")[1]
    rows = json.loads(at("pupil", "backup", "list", "--json")[1])["rows"]
    assert [row["why"] for row in rows] == ["by hand"]
    assert at("pupil", "erase", "me", typed="n\n")[0] == 130
    assert "me" in at("pupil", "student", "list")[1]
    out = str(tmp_path / "last.json")
    said = at("pupil", "erase", "me", "--yes", "--out", out)[1]
    assert "Erased for good: 1 attempt, 1 backup cleaned" in said
    code, told, _ = at("pupil", "records", "in", out)
    assert code == 1
    assert "erased for good" in told
    assert at("pupil", "backup", "restore", "9", "--yes")[0] == 1
    assert "Restored" in at("pupil", "backup", "restore", "1", "--yes")[1]
    assert "me" not in at("pupil", "student", "list")[1].split("No student")[0].split()
    (tmp_path / "pupil.db").write_bytes(b"\xa5" * 5000)
    code, told, err = at("pupil", "check")
    assert code == 1
    assert "backups: `trainer backup list`" in told
    assert err == ""
