"""Keyboards with other letters: a key does the same whatever it types, and none is guessed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.ui.stage import opened, play, small_desk
from trainer.layouts import CYRILLIC, LAYOUTS, key_at
from trainer.record.attempt import Outcome

# What the keys t s b l n e type: xkeyboard-config, symbols/gr (simple), ru and ua (winkeys), by
# (basic), bg (bds, phonetic), rs (basic).
TYPED = {
    "greek": "τσβλνε",
    "russian": "еыидту",
    "ukrainian": "еіидту",
    "belarusian": "еыідту",
    "bulgarian": "шяфвхе",
    "bulgarian phonetic": "тсблне",
    "serbian": "тсблне",
}


def test_every_layout_is_tried() -> None:
    assert TYPED.keys() == LAYOUTS.keys()


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_letter_of_a_layout_is_one_key(layout: str) -> None:
    table = {letter: key for letter, key in LAYOUTS[layout].items() if letter != " "}
    assert len(set(table.values())) == len(table)
    assert set("abdfhlmnoprst") <= set(table.values())
    for letter, key in table.items():
        assert key_at(letter, layout) == key
        if letter != "ς":  # its capital is that of σ
            assert key_at(letter.upper(), layout) == key


@pytest.mark.parametrize("layout", TYPED)
def test_the_outcomes_are_recorded_by_the_place_of_the_key(layout: str, tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        if layout in CYRILLIC:
            desk.settings.change(desk.students.find(), "keyboard", layout)
        async with opened(desk) as stage:
            await stage.press("enter", *TYPED[layout][:5])
            made = desk.views.of(desk.students.find()).attempts
            assert [one.outcome for one in made] == list(Outcome)[:5]
            await stage.press(TYPED[layout][5])
            assert stage.room == "ChooseScreen"

    play(scene)


def test_no_cyrillic_keyboard_is_guessed(tmp_path: Path) -> None:
    """The first letter asks which it is, and records nothing; from then on it is known."""

    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("enter", "т")
            assert "Which keyboard" in stage.text
            assert desk.views.of(desk.students.find()).attempts == ()
            await stage.press("т", "1", "enter")
            assert stage.room == "DrillScreen"
            await stage.press("т")
            (made,) = desk.views.of(desk.students.find()).attempts
            assert made.outcome is Outcome.NOTHING

    play(scene)


def test_what_is_typed_into_a_text_stays_as_it_is(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("s", "a", *"Åsaт", "enter")
            assert [one.name for one in desk.store.students.all()][-1] == "Åsaт"

    play(scene)


def test_caps_lock_changes_nothing(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("enter", "B")
            (made,) = desk.views.of(desk.students.find()).attempts
            assert made.outcome is Outcome.BROKE_OFF

    play(scene)


def test_arrows_and_enter_alone_say_an_outcome(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("enter", "right", "enter", "right", "down", "down", "enter")
            made = desk.views.of(desk.students.find()).attempts
            assert [one.outcome for one in made] == [Outcome.THROUGH, Outcome.BROKE_OFF]

    play(scene)
