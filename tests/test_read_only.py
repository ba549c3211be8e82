"""A database that can only be read says so where the day is shown, and before anybody plays."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.command import Run, runner
from tests.ui.stage import opened, play, small_desk
from trainer.store.store import Store

TOLD = "can only be read: ask for permission to write it"


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    small_desk(tmp_path).store.close()
    (tmp_path / "a.db").rename(tmp_path / "t.db")
    return runner(tmp_path, monkeypatch, capsys)


@pytest.mark.parametrize("size", [(80, 24), (60, 20)])
def test_on_the_first_screen(
    size: tuple[int, int], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        monkeypatch.setattr(Store, "read_only", property(lambda _: True))
        async with opened(desk, size=size) as stage:
            assert stage.room == "TodayScreen"
            assert TOLD in " ".join(stage.text.split())
            before = stage.desk.store.log.attempts(stage.desk.students.find().id)
            await stage.press("enter")
            assert TOLD in " ".join(stage.text.split())
            assert stage.room == "TodayScreen"
            assert stage.desk.store.log.attempts(stage.desk.students.find().id) == before

    play(scene)


def test_on_the_command_line(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    assert TOLD not in " ".join(run("today")[1].split())
    monkeypatch.setattr(Store, "read_only", property(lambda _: True))
    for shown in ([], ["--json"]):
        code, out, _ = run("today", *shown)
        assert code == 0
        assert TOLD in " ".join(out.split())
    for played in ("drill --plain", "run 1"):
        code, out, err = run(*played.split(), typed="t\nq\n")
        assert code != 0
        assert TOLD in " ".join((out + err).split())
        assert "begins" not in out
