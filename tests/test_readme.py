"""The README's two commands: present, each a single line, and true to what there is."""

import tomllib
from pathlib import Path

from tests.readme_commands import README, commands
from trainer.cli.main import COMMANDS


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
        shown = {part.split()[0] for part in text.split("`trainer ")[1:]}
        assert shown <= set(COMMANDS), name


def test_the_top_level_shows_nothing_else() -> None:
    """What the project's card lists; hidden files aside."""
    card = {"README.md", "DEVELOPERS.md", "pyproject.toml", "trainer", "tests", "decks",
            "demo_scores"}  # fmt: skip
    built = {"build", "dist"}
    shown = {path.name for path in Path(README.parent).iterdir() if path.name[0] != "."}
    assert shown - built == card
