"""Databases of earlier versions, brought up to date step by step."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlite_utils import Migrations

from tests.store.build import open_store
from trainer.store import schema


@pytest.mark.parametrize(
    ("step", "before", "after"),
    [
        ("signals", ("signs", "C2 E2"), ("signals", "C2 E2")),
        ("picture ways", ("picture", "kitty"), ("picture", "graphics")),
        ("picture ways", ("picture", "iterm"), ("picture", "inline")),
        ("picture ways", ("picture", "sixel"), ("picture", "sixel")),
        ("picture ways", ("words", "kitty"), ("words", "kitty")),
    ],
)
def test_a_setting_that_was_called_otherwise_is_kept(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    step: str,
    before: tuple[str, str],
    after: tuple[str, str],
) -> None:
    earlier = schema.STEPS[: [name for name, _ in schema.STEPS].index(step)]
    with monkeypatch.context() as patch:
        older = Migrations("trainer")
        for name, made in earlier:
            older(name=name)(made)
        patch.setattr(schema, "STEPS", earlier)
        patch.setattr(schema, "migrations", older)
        with open_store(tmp_path / "a.db") as store:
            store.settings.set(*before)
            store.settings.set("colours", "light")
    with open_store(tmp_path / "a.db") as store:
        assert store.settings.get(after[0]) == after[1]
        assert store.settings.get("colours") == "light"
        assert before[0] == after[0] or not store.settings.get(before[0])
        assert store.faults.find() == ()
