"""The benchmarks that drive the program itself still run: each in small, once. What they time is
not looked at here."""

from __future__ import annotations

import json
import sys
from importlib import import_module

import pytest

from tests.terminal import needs_tmux

SMALL = {
    "app_memory": ["--rounds", "1", "--json"],
    "first_frame": ["--rounds", "1", "--json"],
    "next_call": ["--tries", "20", "--sizes", "30", "--json"],
    "studio": ["--attempts", "60", "--students", "5", "--json"],
}


@pytest.mark.parametrize("name", SMALL)
@needs_tmux  # where it is, there are pseudo-terminals
def test_it_runs_and_tells_what_it_found(
    name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", [name, *SMALL[name]])
    import_module(f"tests.benchmarks.{name}").main()
    assert json.loads(capsys.readouterr().out)
