"""The README's two commands: present, each a single line, and true to what there is."""

import re
import shlex
import tomllib
from contextlib import suppress
from pathlib import Path
from shutil import copyfile

import pytest

from tests.make_decks import SCORES
from tests.readme_commands import README, commands
from trainer.cli.main import COMMANDS, main


def test_two_commands_each_a_single_line() -> None:
    found = commands()
    assert all("\n" not in line for line in found.values())
    assert found["demo"].endswith(".venv/bin/trainer demo")
    assert found["test"].endswith("-m tests")


def test_the_extra_that_it_installs_exists() -> None:
    project = tomllib.loads((README.parent / "pyproject.toml").read_text())["project"]
    assert "[test]" in commands()["test"]
    assert "test" in project["optional-dependencies"]


def test_every_command_that_it_shows_exists() -> None:
    for name in ("README.md", "DEVELOPERS.md"):
        text = (README.parent / name).read_text()
        shown = set(re.findall(r"(?:`|\$ )trainer ([a-z][a-z-]*)", text))
        assert shown <= set(COMMANDS), name


def test_the_walk_through_of_the_readme_works(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Its `$ trainer` lines run as they stand, on a demo score under the name they use."""
    block = next(b for b in README.read_text().split("```console")[1:]).split("```")[0]
    lines = [
        shlex.split(line[2:], comments=True) for line in block.splitlines() if line[:2] == "$ "
    ]
    assert len(lines) >= 7
    copyfile(SCORES / "round-the-mill-wheel.musicxml", tmp_path / "sonatina.musicxml")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TRAINER_DB", str(tmp_path / "readme.db"))
    for words in lines:
        monkeypatch.setattr("sys.argv", words)
        with suppress(SystemExit):
            main()
        assert capsys.readouterr().err == "", words


def test_the_top_level_shows_nothing_else() -> None:
    """What the project's card lists; hidden files aside."""
    card = {"README.md", "DEVELOPERS.md", "pyproject.toml", "trainer", "tests", "decks",
            "demo_scores"}  # fmt: skip
    built = {"build", "dist"}
    shown = {path.name for path in Path(README.parent).iterdir() if path.name[0] != "."}
    assert shown - built == card
