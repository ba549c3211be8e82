"""The screens that the README shows are those that a fresh demo shows.

After a wanted change: `TRAINER_LOOKS=write python -m pytest tests/ui/test_tour.py`, then look at
the difference before it is committed.
"""

import os
import re
from pathlib import Path
from random import Random

from tests.pieces import Clock, desk_at
from tests.readme_commands import README
from tests.ui.stage import opened, play
from trainer.demo import furnish

TOUR = {
    "the day": [],
    "a call": ["enter"],
    "after a try": ["t"],
    "the map": ["q", "enter", "m"],
    "a start": ["enter"],
}
SHOWN = re.compile(r"<!-- screen: (.+?) -->\n\n```text\n(.*?)```", re.S)


def test_the_screens_of_the_readme(tmp_path: Path) -> None:
    seen: dict[str, str] = {}

    async def scene() -> None:
        desk = desk_at(tmp_path / "a.db", Clock())
        furnish(desk, Random(7))
        async with opened(desk) as stage:
            for name, keys in TOUR.items():
                await stage.press(*keys)
                seen[name] = stage.text.rstrip() + "\n"

    play(scene)
    text = README.read_text(encoding="utf-8")
    if os.environ.get("TRAINER_LOOKS") == "write":
        text = SHOWN.sub(
            lambda found: f"<!-- screen: {found[1]} -->\n\n```text\n{seen[found[1]]}```", text
        )
        README.write_text(text, encoding="utf-8")
    shown = dict(SHOWN.findall(text))
    assert {"the day"} <= shown.keys() <= TOUR.keys()
    assert shown == {name: seen[name] for name in shown}
