"""By mouse or by finger: what stands on the strip can be clicked."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.binding import Binding
from textual.content import Content

from tests.ui.stage import opened, play, small_desk
from trainer.record.attempt import Outcome
from trainer.ui.keys import KEYS
from trainer.ui.room import strip


def test_a_drill_by_clicks_alone(tmp_path: Path) -> None:
    """Begin, an outcome, end: each by a click on its words at the foot of the screen."""

    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.click("Enter begin")
            assert stage.room == "DrillScreen"
            await stage.click("t through")
            await stage.click("b broke off")
            made = desk.view(desk.student()).attempts
            assert [one.outcome for one in made] == [Outcome.THROUGH, Outcome.BROKE_OFF]
            await stage.click("q ")
            await stage.click("Enter go on")
            assert stage.room == "TodayScreen"
            await stage.click("? help")
            assert stage.room == "HelpScreen"

    play(scene)


@pytest.mark.parametrize("screen", sorted({key.screen for key in KEYS}))
def test_every_key_of_every_strip_does_by_click_what_it_does_by_key(screen: str) -> None:
    keys = tuple(key for key in KEYS if key.screen == screen and key.row)
    clicks = [
        (line.plain[span.start : span.end], span.style.meta["@click"])
        for line in strip(keys, 60)
        if isinstance(line, Content)
        for span in line.spans
        if not isinstance(span.style, str) and span.style.meta
    ]
    assert len(clicks) == len(keys)
    for key in keys:
        binding = key.bindings()[0]
        assert isinstance(binding, Binding)
        action = binding.action if binding.action.startswith("app.") else f"screen.{binding.action}"
        assert (f"{key.face} {key.words}", action) in clicks
