"""The app on a stage: opened over a small desk, its keys pressed, its screen read as text."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from pathlib import Path

from textual.pilot import Pilot

from tests.pieces import Clock, desk_at, piece_of, tune
from trainer.desk import Desk
from trainer.draw.text import cells
from trainer.ui.app import TrainerApp

Size = tuple[int, int]


class Stage:
    """An open app. `clock` stands still until it is moved."""

    def __init__(self, app: TrainerApp, pilot: Pilot[None], desk: Desk, clock: Clock) -> None:
        self.app = app
        self.pilot = pilot
        self.desk = desk
        self.clock = clock

    async def press(self, *keys: str) -> None:
        """Press keys, each once all that the one before it has set going is done."""
        for key in keys:
            await self.pilot.press(key)
            await self.settle()

    async def click(self, words: str) -> None:
        """Click where these words stand on the screen: the last place, which is the strip's."""
        for y in reversed(range(len(self.lines))):
            at = self.lines[y].rfind(words)
            if at >= 0:
                x = cells(self.lines[y][:at])
                await self.pilot.click(offset=(x + len(words) // 2, y))
                await self.settle()
                return
        raise AssertionError(f"{words!r} does not stand on the screen")

    async def settle(self) -> None:
        await self.pilot.pause()
        await self.app.workers.wait_for_complete()
        await self.pilot.pause()

    @property
    def lines(self) -> list[str]:
        """The screen as it is drawn. Textual has no public way to it; this is the only place
        that reaches in."""
        strips = self.app.screen._compositor.render_strips()
        return ["".join(segment.text for segment in strip).rstrip() for strip in strips]

    @property
    def text(self) -> str:
        return "\n".join(self.lines)

    @property
    def room(self) -> str:
        return type(self.app.screen).__name__


@asynccontextmanager
async def opened(
    desk: Desk,
    *,
    size: Size = (80, 24),
    student: str = "",
    drill: bool = False,
    ascii: bool = False,
) -> AsyncIterator[Stage]:
    """The app over a desk, once all that it works out at its start is there."""
    clock = desk.clock
    assert isinstance(clock, Clock)
    app = TrainerApp(lambda: desk, student=student, drill=drill, ascii=ascii)
    async with app.run_test(size=size) as pilot:
        stage = Stage(app, pilot, desk, clock)
        await stage.settle()
        yield stage


def play(scene: Callable[[], Coroutine[None, None, None]]) -> None:
    asyncio.run(scene())


def small_desk(folder: Path, *, title: str = "Study", opened: bool = True) -> Desk:
    """A desk with one piece of 32 bars and eight starts, and a student who has seen the
    caution."""
    desk = desk_at(folder / "a.db", Clock())
    desk.store.pieces.add(piece_of(tune(32, title=title), range(0, 96, 12)), "test")
    student = desk.students.find()
    desk.store.settings.set("caution seen", "yes")
    if opened:
        desk.pieces.set_open(student, desk.store.pieces.deck("deck"), range(1, 9), opened=True)
    return desk
