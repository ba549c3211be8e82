"""The command line in tests: `trainer WORDS` in this process, on a database of its own."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from trainer.cli.main import main

Run = Callable[..., tuple[int, str, str]]


def runner(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Run:
    """Runs `trainer WORDS`, with lines `typed` to it if wanted: exit code, output, errors. The
    database is in the folder; a terminal is 80 columns wide."""
    monkeypatch.setenv("TRAINER_DB", str(folder / "t.db"))
    monkeypatch.setenv("COLUMNS", "80")

    def run(*words: object, typed: str = "") -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["trainer", *map(str, words)])
        monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        code = 0
        try:
            main()
        except SystemExit as end:
            code = int(end.code or 0)
        said = capsys.readouterr()
        return code, said.out, said.err

    return run
