"""One registry of keys: each does something, and is told of."""

from collections import Counter
from pathlib import Path

import pytest
from textual.actions import parse
from textual.binding import Binding
from textual.screen import Screen

from tests.ui.stage import opened, play, small_desk
from trainer.practice.session import LETTERS, Act
from trainer.ui.app import TrainerApp
from trainer.ui.keys import EVERYWHERE, KEYS, Key, keys_of
from trainer.ui.room import Room, strip
from trainer.ui.screens.adding import AddingScreen
from trainer.ui.screens.ask import AskScreen
from trainer.ui.screens.caution import CautionScreen
from trainer.ui.screens.choose import ChooseScreen
from trainer.ui.screens.drill import DrillScreen
from trainer.ui.screens.forecasts import ForecastsScreen
from trainer.ui.screens.help import HelpScreen
from trainer.ui.screens.map import MapScreen
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
from trainer.ui.screens.today import TodayScreen

ROOMS: list[type[Room]] = [
    TodayScreen, DrillScreen, RetentionScreen, MapScreen, PageScreen, HelpScreen, ChooseScreen,
    AskScreen, CautionScreen, PrepareScreen, AddingScreen, AlikeScreen,
    RecitalScreen, ForecastsScreen, StudentsScreen, SettingsScreen,
    RunScreen, SlipScreen, StartScreen,
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
