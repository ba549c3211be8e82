"""A printed piece without notes on the screens: a drill, the map, a start, Prepare."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.pieces import Clock, desk_at
from tests.ui.stage import opened, play
from trainer.record.attempt import Outcome
from trainer.score.on_paper import on_paper, places


@pytest.mark.parametrize("size", [(80, 24), (60, 20)])
def test_it_is_drilled_shown_and_prepared(size: tuple[int, int], tmp_path: Path) -> None:
    async def scene() -> None:
        desk = desk_at(tmp_path / "a.db", Clock())
        score = on_paper("Air on Paper", 24, "3/4", "1", "1-16 1-15 17-24")
        deck = desk.add_on_paper(score, places(score, "1,9,17:2")).deck
        student = desk.student()
        desk.set_open(student, deck, [1, 2, 3], opened=True)
        desk.store.set_setting("caution seen", "yes")
        async with opened(desk, size=size) as stage:
            assert "3 starts" in stage.text
            await stage.press("enter", "t", "v")
            assert "own copy of the score" in " ".join(stage.text.split())
            await stage.press("escape", "h", "b")
            while stage.room == "DrillScreen":
                await stage.press("q")
            assert stage.room == "TodayScreen"
            await stage.press("m")
            assert "3 of 3 starts open" in stage.text
            await stage.press("enter")
            assert stage.room == "StartScreen"
            await stage.press("escape", "e")
            assert stage.room == "PrepareScreen"
            await stage.press("escape")
        outcomes = [one.outcome for one in desk.view(student).attempts]
        assert outcomes[:2] == [Outcome.THROUGH, Outcome.BROKE_OFF]

    play(scene)
