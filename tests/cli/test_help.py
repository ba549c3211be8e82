"""The first page of help: one screen, every command named once."""

from __future__ import annotations

import re

from click.testing import CliRunner

from trainer.cli.main import COMMANDS, cli


def test_the_first_page_fits_one_screen_and_names_every_command() -> None:
    page = CliRunner().invoke(cli, ["--help"]).output
    lines = page.splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) < 80
    listed = re.sub(r"\.$", "", page, flags=re.M)
    for name in COMMANDS:
        found = re.findall(rf"(?:^\w* +|also .*|^ +.*, )(?<![\w-]){name}(?![\w-])", listed, re.M)
        assert found, name


def test_every_command_has_help_of_its_own() -> None:
    for name in COMMANDS:
        told = CliRunner().invoke(cli, [name, "--help"])
        assert told.exit_code == 0, name
        assert len(told.output.splitlines()) > 4, name
