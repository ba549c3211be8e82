"""A database that nobody is in yet: to look makes nobody, to write makes the one student."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.command import Run, runner
from tests.pieces import piece_of, tune
from trainer.deck.file import write_deck

DECK = [0, 12, 24, 36]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    (tmp_path / "study.deck.json").write_text(write_deck(piece_of(tune(16, title="Study"), DECK)))
    made = runner(tmp_path, monkeypatch, capsys)
    assert made("deck", "in", tmp_path / "study.deck.json")[0] == 0
    return made


def entered(folder: Path) -> list[str]:
    with closing(sqlite3.connect(folder / "t.db")) as raw:
        rows = raw.execute("SELECT content FROM student ORDER BY seq").fetchall()
    return [json.loads(content)["name"] for (content,) in rows]


@pytest.mark.parametrize(
    "words",
    [
        ("today",),
        ("pieces",),
        ("starts", 1),
        ("start", "show", 1, 2),
        ("map", 1),
        ("retention",),
        ("readiness",),
        ("page", 1, 2),
        ("lesson",),
        ("note",),
        ("studio",),
        ("own", 1, 1),
        ("attempts",),
        ("settings", "list"),
        ("student", "list"),
        ("recital", "list"),
        ("records", "out", "nobody.json"),
        ("print", "sheet", 1, "--out", "{}/sheet.html"),
        ("calendar", "--out", "{}/calendar.ics"),
    ],
    ids=lambda words: " ".join(map(str, words[:2])),
)
def test_to_look_makes_nobody(run: Run, tmp_path: Path, words: tuple[object, ...]) -> None:
    code, out, err = run(*(str(word).replace("{}", str(tmp_path)) for word in words))
    assert "Traceback" not in out + err
    assert code in (0, 1), err
    assert entered(tmp_path) == []


@pytest.mark.parametrize(
    "words",
    [
        ("open", 1, 1),
        ("record", 1, 1, "through"),
        ("own", 1, 1, "--words", "sing"),
        ("note", "softer"),
        ("recital", "set", "Concert", "2999-06-21", 1),
        ("settings", "set", "minutes", 10),
        ("settings", "set", "names", "german"),
        ("student", "set", "me", "--minutes", 10),
    ],
    ids=lambda words: " ".join(map(str, words[:2])),
)
def test_what_is_written_is_the_one_students(
    run: Run, tmp_path: Path, words: tuple[object, ...]
) -> None:
    """And of the same one, whatever is written next."""
    assert run(*words)[0] == 0
    assert run("open", 1, 2)[0] == 0
    assert run("attempts")[0] == 0
    assert entered(tmp_path) == ["me"]


@pytest.mark.usefixtures("run")
def test_a_pupils_own_name_is_free(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A teacher who has only looked takes in the record of a pupil who was never named."""
    home = tmp_path / "home"
    home.mkdir()
    for words in (
        ("deck", "in", tmp_path / "study.deck.json"),
        ("record", 1, 1, "through"),
        ("records", "out", tmp_path / "record.json"),
    ):
        assert runner(home, monkeypatch, capsys)(*words)[0] == 0
    teacher = runner(tmp_path, monkeypatch, capsys)
    assert teacher("today")[0] == 0
    assert teacher("records", "in", tmp_path / "record.json")[0] == 0
    code, out, err = teacher("lesson", "--student", "me")
    assert (code, err) == (0, "")
    assert "Study 1" in out
    assert entered(tmp_path) == ["me"]


def test_who_comes_after_an_erasing_is_another(run: Run, tmp_path: Path) -> None:
    ids: list[str] = []
    for turn in range(2):
        assert run("open", 1, 1)[0] == 0
        ids += [row["id"] for row in json.loads(run("student", "list", "--json")[1])["rows"]]
        assert run("erase", "me", "--yes")[0] == 0
        assert entered(tmp_path) == [], turn
    assert len(set(ids)) == 2
