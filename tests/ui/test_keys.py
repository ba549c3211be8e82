"""One registry of keys: each does something, and is told of."""

from collections import Counter
from pathlib import Path

import pytest
from textual.actions import parse
from textual.binding import Binding
from textual.screen import Screen

from tests.ui.stage import opened, play, small_desk
from trainer.practice.exercise import Act
from trainer.practice.session import LETTERS
from trainer.ui.app import TrainerApp
from trainer.ui.card import TWO_FROM, as_rows, card
from trainer.ui.keys import EVERYWHERE, KEYS, Key, keys_of
from trainer.ui.room import Room, strip
from trainer.ui.screens.adding import AddingScreen
from trainer.ui.screens.ask import AskScreen
from trainer.ui.screens.caution import CautionScreen
from trainer.ui.screens.choose import ChooseScreen
from trainer.ui.screens.drill import DrillScreen
from trainer.ui.screens.heard import HeardRunScreen, HeardScreen
from trainer.ui.screens.help import NAMES, HelpScreen
from trainer.ui.screens.lesson import LessonScreen
from trainer.ui.screens.log import LogScreen
from trainer.ui.screens.map import MapScreen
from trainer.ui.screens.more import MoreScreen
from trainer.ui.screens.page import PageScreen
from trainer.ui.screens.prepare import PrepareScreen
from trainer.ui.screens.prepare_alike import AlikeScreen
from trainer.ui.screens.recital import RecitalScreen
from trainer.ui.screens.retention import RetentionScreen
from trainer.ui.screens.run import RunScreen
from trainer.ui.screens.settings import SettingsScreen
from trainer.ui.screens.slip import SlipScreen
from trainer.ui.screens.start import StartScreen
from trainer.ui.screens.students import StudentsScreen
from trainer.ui.screens.studio import StudioScreen
from trainer.ui.screens.table import ReportReader
from trainer.ui.screens.today import TodayScreen

ROOMS: list[type[Room]] = [
    TodayScreen, DrillScreen, RetentionScreen, MapScreen, PageScreen, HelpScreen, ChooseScreen,
    AskScreen, CautionScreen, PrepareScreen, AddingScreen, AlikeScreen,
    RecitalScreen, StudentsScreen, SettingsScreen,
    HeardRunScreen, HeardScreen, ReportReader, RunScreen, SlipScreen, LogScreen, StartScreen,
    LessonScreen, StudioScreen, MoreScreen,
]  # fmt: skip


def _holder(owner: type[object], action: str) -> tuple[type[object], str]:
    space, name, _ = parse(action)
    return (TrainerApp if space == "app" else owner), name


@pytest.mark.parametrize("owner", [TrainerApp, *ROOMS], ids=lambda owner: owner.__name__)
def test_every_binding_has_its_action(owner: type[TrainerApp] | type[Room]) -> None:
    for binding in owner.BINDINGS:
        assert isinstance(binding, Binding)
        holder, name = _holder(owner, binding.action)
        assert callable(getattr(holder, f"action_{name}", None)), binding


def test_a_screen_has_no_binding_that_is_not_in_the_registry() -> None:
    known = {(key.screen, name) for key in KEYS for name in key.keys.split(",")}
    for room in ROOMS:
        found = set(room._merge_bindings().key_to_bindings)
        assert found == {name for screen, name in known if screen == room.ROOM}, room
    everywhere = set(TrainerApp._merge_bindings().key_to_bindings)
    assert everywhere == {name for screen, name in known if screen == EVERYWHERE}


def test_every_screen_of_the_registry_is_a_screen() -> None:
    assert {key.screen for key in KEYS} == {EVERYWHERE, *(room.ROOM for room in ROOMS)}
    assert all(issubclass(room, Screen) for room in ROOMS)


def test_no_key_means_two_things_on_one_screen() -> None:
    for room in ROOMS:
        own = [key for key in KEYS if key.screen == room.ROOM]
        names = Counter(name for key in own for name in key.keys.split(","))
        assert max(names.values()) == 1, room
    assert max(Counter(key.id for key in KEYS).values()) == 1


def test_the_drill_has_the_letters_of_the_plain_mode() -> None:
    keys = {key.keys: key.action for key in KEYS if key.screen == "drill"}
    for letter, act in LETTERS.items():
        if act in (Act.PAUSE, Act.STOP):
            assert keys[letter] == act.value
        else:
            assert keys[letter] == f"act('{act.value}')"


@pytest.mark.parametrize("room", ROOMS, ids=lambda room: room.__name__)
def test_the_help_tells_of_every_key(room: type[Room], tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            screen = HelpScreen(room.ROOM)
            stage.app.push_screen(screen)
            await stage.settle()
            words = " ".join(" ".join(map(str, screen.lines(400))).split())
            for key in keys_of(room.ROOM):
                told = f"{key.face} {key.words} {key.meaning}"
                assert told in words

    play(scene)


def test_a_strip_never_is_wider_than_its_room() -> None:
    for room in ROOMS:
        for width in (56, 76, 116):
            lines = strip(tuple(keys_of(room.ROOM)), width)
            assert max(len(str(line)) for line in lines) <= width


def test_a_key_stands_for_each_of_its_names() -> None:
    key = Key("x.digit", "1,2", "1-2", "digit", "digit('{key}')", "A digit.")
    actions = [b.action for b in key.bindings() if isinstance(b, Binding)]
    assert actions == ["digit('1')", "digit('2')"]


@pytest.mark.parametrize("width", [60, 80, 99, 100, 120])
@pytest.mark.parametrize("ascii", [False, True])
def test_the_card_has_every_key_of_every_screen(width: int, ascii: bool) -> None:
    """A printed page has some sixty lines and eighty columns or more; on it each screen's name
    stands once, with all of its keys under it."""
    lines = card(width, ascii=ascii)
    assert len(lines) <= 60 or width < 80
    assert max(map(len, lines)) <= width
    assert not ascii or all(line.isascii() for line in lines)
    half = (width - 4) // 2 + 4
    columns = [[line[:half] for line in lines], [line[half:] for line in lines]]
    read = columns[0] + columns[1] if width >= TWO_FROM else lines
    found: dict[str, str] = {}
    screen = ""
    for line in read:
        if line.startswith("  "):
            found[screen] += f"   {line.strip()}"
        elif line.strip():
            screen = line.strip()
            assert screen not in found
            found[screen] = ""
    for key in KEYS:
        name = NAMES[key.screen]
        told = found[name[0].upper() + name[1:]].split("   ")
        assert f"{key.stands(ascii)} {key.words}" in told, key
    assert len(found) == len({key.screen for key in KEYS})


def test_the_card_for_programs_has_every_key() -> None:
    rows = as_rows()
    assert sorted((row["screen"], name) for row in rows for name in row["keys"]) == sorted(
        (key.screen, name) for key in KEYS for name in key.keys.split(",")
    )
    meanings = {key.meaning for key in KEYS}
    assert all(row["meaning"] in meanings for row in rows)
