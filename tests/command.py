"""The command line in tests: `trainer WORDS` in this process, on a database of its own."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from trainer.cli.main import main


def called(patch: pytest.MonkeyPatch, *words: object, typed: str = "") -> int:
    """The exit code of `trainer WORDS`, with lines `typed` to it if wanted."""
    patch.setattr(sys, "argv", ["trainer", *map(str, words)])
    patch.setattr(sys, "stdin", io.StringIO(typed))
    try:
        main()
    except SystemExit as end:
        return int(end.code or 0)
    return 0


Run = Callable[..., tuple[int, str, str]]


def runner(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Run:
    """Runs `trainer WORDS`, with lines `typed` to it if wanted: exit code, output, errors. The
    database is in the folder; a terminal is 80 columns wide."""
    monkeypatch.setenv("TRAINER_DB", str(folder / "t.db"))
    monkeypatch.setenv("COLUMNS", "80")

    def run(*words: object, typed: str = "") -> tuple[int, str, str]:
        code = called(monkeypatch, *words, typed=typed)
        said = capsys.readouterr()
        return code, said.out, said.err

    return run
