"""No size of the window ends the app: every screen is made smaller and larger, and is there again.

An ordinary run tries the corners and some sizes drawn by a seed for each screen; with
`SIZES=all` in the environment every size of 1 to 80 columns and 1 to 24 lines is tried.
"""

import asyncio
import os
import pkgutil
import zlib
from collections.abc import Awaitable, Callable, Iterator
from importlib import import_module
from pathlib import Path
from random import Random

import pytest
from textual.events import Resize
from textual.geometry import Size as Dimensions

from tests.listen.build import PIECE
from tests.pieces import desk_at
from tests.ui.stage import Size, Stage, opened, play
from tests.ui.test_by_ear import Player, ear_desk, phrase
from tests.ui.test_looks import SCENES, desk_of, week
from tests.ui.test_run_by_ear import Runner, stretch
from trainer.desk import Desk
from trainer.desk.following import Following
from trainer.desk.hearing import Hearing
from trainer.ui import screens
from trainer.ui.keys import EVERYWHERE, KEYS
from trainer.ui.room import LEAST, Room

WIDE, HIGH = 80, 24
CORNERS: tuple[Size, ...] = ((1, 1), (WIDE, 1), (1, HIGH), (LEAST[0] - 1, HIGH), LEAST)
PATIENCE = 5_000  # looks, a thousandth of a second apart, until a window counts as not drawn
SOME = 6  # sizes drawn for each screen in an ordinary run
# A way to each screen, by its name among the keys, from the first one.
WAYS = {
    "today": [],
    "drill": ["enter", "b", "h"],
    "retention": ["r"],
    "log": ["r", "l"],
    "map": ["m"],
    "start": ["m", "enter"],
    "page": ["m", "v"],
    "recital": ["e"],
    "report": ["f"],
    "students": ["s"],
    "studio": ["s", "o"],
    "lesson": ["l"],
    "settings": ["t"],
    "run": ["d", "7", "enter", "enter", "s"],
    "slip": ["d", "8", "enter", "enter"],
    "adding": ["p", *["down"] * 2, "enter", "x", "enter"],
    "prepare": ["m", "e", "right", "full_stop"],
    "alike": ["m", "e", "k"],
    "choose": ["d"],
    "more": ["o"],
    "ask": ["m", "e", "w"],
    "help": ["question_mark"],
    "caution": [],
    "heard": ["v"],
    "heard run": ["v"],
}
ROOMS = {key.screen for key in KEYS} - {EVERYWHERE}
BY_EAR = {"heard", "heard run"}  # what an instrument played leads to them


def kinds(kind: type[Room]) -> Iterator[type[Room]]:
    for below in kind.__subclasses__():
        yield below
        yield from kinds(below)


def sizes(name: str) -> list[Size]:
    """The sizes that a screen is tried in, ending with the one it began with."""
    every = [(wide, high) for wide in range(1, WIDE + 1) for high in range(1, HIGH + 1)]
    rng = Random(zlib.crc32(name.encode()))
    some = every if os.environ.get("SIZES") == "all" else rng.sample(every, SOME)
    return [*CORNERS, *some, (WIDE, HIGH)]


def stands(stage: Stage, wide: int, high: int) -> bool:
    """Whether the window is drawn in a size, and says so where it is too small."""
    lines = stage.lines
    small = wide < LEAST[0] or high < LEAST[1]
    told = not small or wide < 30 or high < 4 or "enlarge" in stage.text
    return len(lines) == high and max(map(len, lines)) <= wide and told


async def resized(stage: Stage, wide: int, high: int) -> None:
    """Change the size, and wait until the window stands in it."""
    size = Dimensions(wide, high)
    stage.app.post_message(Resize(size, size))
    for _ in range(PATIENCE):
        await asyncio.sleep(0.001)
        if stage.app.size == size and stands(stage, wide, high):
            break
    assert stage.app.error is None, (wide, high, stage.app.error)
    assert stands(stage, wide, high), (wide, high, stage.text)


async def swept(stage: Stage, name: str) -> None:
    """Try the sizes; at each the whole window is drawn, and at the end all is as it was."""
    before, room = stage.text, stage.room
    for wide, high in sizes(name):
        await resized(stage, wide, high)
    await stage.settle()
    assert (stage.text, stage.room) == (before, room)


def two_students(folder: Path) -> Desk:
    """A desk with two pieces and two students, which shows all there is to be shown."""
    desk = week(folder)
    student = desk.students.find("M.")
    desk.students.add("K.")
    desk.students.choose(student)
    for name, value in (("drills", "yes"), ("level", "advanced"), ("instrument", "any")):
        desk.settings.change(student, name, value)
    return desk


async def led(name: str, folder: Path, act: Callable[[Stage], Awaitable[None]]) -> None:
    """Go to a screen, and act on it."""
    desk = desk_at(folder / "a.db") if name == "caution" else two_students(folder)
    async with opened(desk) as stage:
        await stage.press(*WAYS[name])
        screen = stage.app.screen
        assert isinstance(screen, Room)
        assert name == screen.ROOM
        await act(stage)


def test_there_is_a_way_to_every_screen() -> None:
    for module in pkgutil.iter_modules(screens.__path__):
        import_module(f"{screens.__name__}.{module.name}")
    assert WAYS.keys() == ROOMS
    assert {kind.ROOM for kind in kinds(Room) if kind.ROOM} == ROOMS


@pytest.mark.parametrize("name", sorted(ROOMS - BY_EAR))
def test_no_size_ends_a_screen(name: str, tmp_path: Path) -> None:
    play(lambda: led(name, tmp_path, lambda stage: swept(stage, name)))


@pytest.mark.parametrize("name", SCENES)
def test_no_size_ends_a_scene(name: str, tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(desk_of(name, tmp_path)) as stage:
            await stage.press(*SCENES[name])
            await swept(stage, name)

    play(scene)


def test_no_size_ends_what_was_heard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    async def scene() -> None:
        desk, player = ear_desk(tmp_path), Player()
        hearing = Hearing(player.port, clock=lambda: player.now)
        monkeypatch.setattr(desk.instruments, "hearing", lambda *_: hearing)
        async with opened(desk) as stage:
            player.stage = stage
            await stage.press("enter")
            await player.play(phrase(stage, 6))
            await swept(stage, "while it is heard")
            await player.wait()
            await swept(stage, "told")
            await stage.press(*WAYS["heard"])
            assert isinstance(stage.app.screen, Room)
            assert stage.app.screen.ROOM == "heard"
            await swept(stage, "heard")

    play(scene)


def test_no_size_ends_what_was_heard_of_a_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def scene() -> None:
        desk, player = ear_desk(tmp_path), Runner()
        ear = Following(player.port, PIECE, clock=lambda: player.now)
        monkeypatch.setattr(desk.instruments, "following", lambda *_: ear)
        async with opened(desk) as stage:
            player.stage = stage
            await stage.press("d", "7", "enter")
            await player.looked()
            await player.play(stretch(0, 10))
            await player.play(stretch(16, 64, at=4.0))
            await swept(stage, "a run while it is heard")
            await player.wait(10)
            await stage.press(*WAYS["heard run"])
            assert isinstance(stage.app.screen, Room)
            assert stage.app.screen.ROOM == "heard run"
            await swept(stage, "heard run")

    play(scene)


@pytest.mark.parametrize("size", [(1, 1), (59, 24), (80, 19)])
def test_a_window_that_is_small_from_the_start(size: Size, tmp_path: Path) -> None:
    """Every key that does not leave may be pressed in it; enlarged, the day is there."""
    leave = {
        name
        for key in KEYS
        if key.action in ("app.leave", "app.copy")
        for name in key.keys.split(",")
    }
    keys = [*sorted({key.keys.split(",")[0] for key in KEYS} - leave), "escape"]

    async def scene() -> None:
        async with opened(two_students(tmp_path), size=size) as stage:
            await stage.press(*keys)
            assert stage.room == "TodayScreen"
            await stage.pilot.resize_terminal(80, 24)
            await stage.settle()
            assert "Today for M." in stage.text

    play(scene)
