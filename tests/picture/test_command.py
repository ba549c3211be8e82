"""`trainer picture` and `trainer page --picture`, in files and in a real terminal."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest

from tests.command import Run, runner
from tests.pieces import piece_of, tune
from tests.terminal import Terminal, needs_tmux
from tests.ui.stage import opened, play, small_desk
from trainer.deck.file import write_deck
from trainer.picture import engrave
from trainer.ui import engraved
from trainer.ui.screens.page import PageScreen

needs_extra = pytest.mark.skipif(bool(engrave.trouble()), reason="the extra picture is missing")


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs `trainer WORDS` over a study of 16 bars with four starts."""
    monkeypatch.chdir(tmp_path)
    run = runner(tmp_path, monkeypatch, capsys)
    file = tmp_path / "study.deck.json"
    file.write_text(write_deck(piece_of(tune(16, title="Study"), [0, 12, 24, 36])))
    assert run("deck", "in", str(file))[0] == 0
    return run


@needs_extra
def test_a_start_is_engraved_into_a_file(run: Run, tmp_path: Path) -> None:
    from PIL import Image

    assert run("picture", "1", "2", "--out", "a.png", "--width", "640") == (
        0, "Written to a.png.\n", "",
    )  # fmt: skip
    assert Image.open(tmp_path / "a.png").size[0] == 640
    code, _, error = run("picture", "1", "2", "--out", "a.png")
    assert code == 1
    assert "exists already" in error
    assert run("picture", "1", "3", "--out", "a.png", "--replace")[0] == 0
    assert run("picture", "1", "2", "--out", "a.svg")[0] == 0
    assert (tmp_path / "a.svg").read_text().startswith("<svg")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("picture",), "Name a piece"),
        (("picture", "1"), "Name a piece"),
        (("picture", "1", "9", "--out", "a.png"), "no start 9"),
        (("picture", "1", "2", "--out", "a.gif"), ".svg or .png"),
        (("picture", "1", "2"), "trainer picture --try"),
        (("page", "1", "2", "--picture"), "trainer picture --try"),
        (("page", "1", "2", "--picture", "--json"), "with --picture"),
        (("picture", "--try"), "only in a terminal"),
    ],
)
def test_what_cannot_be_is_told_in_a_sentence(run: Run, words: tuple[str, ...], said: str) -> None:
    code, _, error = run(*words)
    assert code
    assert said in error
    assert "Traceback" not in error


def test_without_the_extra_it_says_which(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engrave, "LIBRARIES", ("no_such_library",))
    code, out, error = run("picture", "1", "2", "--out", "a.png")
    assert (code, out) == (1, "")
    assert "extra `picture`" in error
    assert not Path("a.png").exists()


@needs_extra
@needs_tmux
def test_the_answer_is_kept_and_used(run: Run, tmp_path: Path) -> None:
    env = {"PYTHONPATH": str(Path(__file__).parents[2]), "LC_ALL": "C.UTF-8",
           "TRAINER_DB": str(tmp_path / "t.db")}  # fmt: skip
    trainer = [sys.executable, "-m", "trainer"]
    with Terminal([*trainer, "picture", "--try"], env=env) as terminal:
        terminal.wait_for("Under which letter")
        terminal.keys("s", "Enter")
        terminal.wait_for("picture: sixel.")
        assert terminal.wait_end() == 0
    assert "sixel" in run("settings", "list")[1]
    with Terminal([*trainer, "page", "1", "2", "--picture"], env=env) as terminal:
        terminal.wait_for("Study, start 2")
        assert terminal.wait_end() == 0
    with Terminal([*trainer, "picture", "--try"], env=env) as terminal:
        terminal.wait_for("Under which letter")
        terminal.keys("n", "Enter")
        terminal.wait_for("picture: off.")


# On the screens


def test_the_key_is_there_only_where_a_way_is_set(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("m", "v")
            assert stage.room == "PageScreen"
            assert "p picture" not in stage.text
            await stage.press("p")
            assert stage.room == "PageScreen"
            desk.settings.change(desk.students.find(), "picture", "graphics")
            await stage.press("escape", "v")
            assert "p picture" in stage.text
            monkeypatch.setattr(engrave, "LIBRARIES", ("no_such_library",))
            await stage.press("escape", "v")
            assert "p picture" not in stage.text

    monkeypatch.setattr(engrave, "LIBRARIES", ())
    play(scene)


@needs_extra
def test_where_the_app_cannot_stand_aside_it_says_so(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        desk.settings.change(desk.students.find(), "picture", "sixel")
        async with opened(desk) as stage:
            await stage.press("m", "v", "p")
            assert isinstance(stage.app.screen, PageScreen)
            assert engraved.CANNOT[:30] in stage.text

    play(scene)


@needs_extra
@needs_tmux
@pytest.mark.skipif(os.name == "nt", reason="no terminal stands aside there")
def test_the_app_stands_aside_and_comes_back(tmp_path: Path) -> None:
    desk = small_desk(tmp_path)
    desk.settings.change(desk.students.find(), "picture", "sixel")
    env = {"PYTHONPATH": str(Path(__file__).parents[2]), "LC_ALL": "C.UTF-8",
           "TRAINER_DB": str(desk.store.path)}  # fmt: skip
    with Terminal([sys.executable, "-m", "trainer"], env=env) as terminal:
        terminal.wait_for("8 starts, about")
        terminal.keys("m")
        terminal.wait_for("starts open")
        terminal.keys("v")
        terminal.wait_for("p picture")
        terminal.keys("p")
        screen = terminal.wait_for("Enter goes back.")
        assert "Start 1" in screen
        assert "p picture" not in screen
        terminal.keys("Enter")
        terminal.wait_for("p picture")
        terminal.keys("C-c")
        assert terminal.wait_end() == 0
