"""The path of a score's file, completed as it is typed."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from textual.suggester import Suggester

ENDINGS = (".mxl", ".musicxml", ".xml", ".mid", ".midi", ".abc", ".krn", ".mei")


class ScorePaths(Suggester):
    """Goes on with the first folder or score that fits, in the order of the alphabet."""

    def __init__(self) -> None:
        super().__init__(use_cache=False, case_sensitive=True)

    async def get_suggestion(self, value: str) -> str | None:
        folder, begun = os.path.split(value)
        fits = [name for name in _names(folder) if name.startswith(begun)]
        return value + min(fits)[len(begun) :] if value and fits else None


def typed(text: str) -> Path:
    """The path that a person typed; ~ is their home."""
    try:
        return Path(text).expanduser()
    except RuntimeError:  # nobody has that home: the reading will say that there is no such file
        return Path(text)


def _names(folder: str) -> Iterator[str]:
    try:
        with os.scandir(typed(folder)) as found:
            for entry in found:
                if entry.is_dir():
                    yield entry.name + os.sep
                elif entry.name.lower().endswith(ENDINGS):
                    yield entry.name
    except (OSError, ValueError):  # no such folder, or not the name of one
        return
