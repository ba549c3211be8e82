"""A loudspeaker for the screens that are tested."""

from __future__ import annotations

from array import array
from collections.abc import Callable
from typing import Any, ClassVar

import pytest

from trainer.ui import sounding


class FakePlayer:
    """Plays nothing, and remembers it. `answer` is what it tells; None where it waits."""

    answer: ClassVar[str | None] = ""
    all: ClassVar[list[FakePlayer]] = []

    def __init__(self) -> None:
        self.plays = False
        self.heard: list[Any] = []
        self.told: Callable[[str], None] = lambda _: None
        self.all.append(self)

    def play(self, made: Callable[[], array[int]], told: Callable[[str], None]) -> None:
        self.heard.append(made())
        self.plays = self.answer == ""
        self.told = told
        if self.answer is not None:
            told(self.answer)

    def stop(self) -> None:
        self.plays = False


@pytest.fixture
def players(monkeypatch: pytest.MonkeyPatch) -> list[FakePlayer]:
    """The players that the screens make, in the order in which they were made."""
    monkeypatch.setattr(sounding, "Player", FakePlayer)
    monkeypatch.setattr(sounding, "trouble", lambda: "")
    monkeypatch.setattr(FakePlayer, "answer", "")
    monkeypatch.setattr(FakePlayer, "all", [])
    return FakePlayer.all
