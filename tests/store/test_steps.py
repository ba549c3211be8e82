"""Databases of earlier versions, brought up to date step by step."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlite_utils import Migrations

from tests.store.build import open_store
from trainer.store import schema


def test_a_setting_that_was_called_signs_is_kept_as_signals(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    earlier = schema.STEPS[: [name for name, _ in schema.STEPS].index("signals")]
    with monkeypatch.context() as patch:
        older = Migrations("trainer")
        for name, step in earlier:
            older(name=name)(step)
        patch.setattr(schema, "STEPS", earlier)
        patch.setattr(schema, "migrations", older)
        with open_store(tmp_path / "a.db") as store:
            store.set_setting("signs", "C2 E2")
            store.set_setting("words", "american")
    with open_store(tmp_path / "a.db") as store:
        assert store.setting("signals") == "C2 E2"
        assert store.setting("words") == "american"
        assert not store.setting("signs")
        assert store.check() == ()
