"""What is a student's own, on the map and on the opened start."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from tests.ui.stage import Size, opened, play, small_desk
from trainer.deck import edit
from trainer.desk import Desk
from trainer.ui.screens.prepare import PrepareScreen

SIZES: tuple[Size, ...] = ((80, 24), (60, 20))


def layered(folder: Path) -> Desk:
    """A desk whose start 2 has advice, fingering and words of the student's own, and whose
    start 3 is left out; start 9 is the student's own."""
    desk = small_desk(folder)
    student = desk.students.find()
    desk.pieces.edit("deck", lambda piece: edit.advise(piece, 2, ["thumb under"]), "advise 2")
    deck = desk.views.of(student).decks["deck"]
    words = {"fingering": "R 1-2-4", "words": "let go early"}
    desk.own.set(student, deck, deck.starts[1], words)  # type: ignore[arg-type]
    desk.own.set(student, deck, deck.starts[2], {"left out": "yes"})
    desk.own.add(desk.views.of(student), "deck", Fraction(18))
    return desk


@pytest.mark.parametrize("size", SIZES)
def test_what_is_own_is_marked_in_words(tmp_path: Path, size: Size) -> None:
    async def scene() -> None:
        async with opened(layered(tmp_path), size=size) as stage:
            await stage.press("m", "right")
            told = " ".join(stage.text.split())
            assert "Advice: thumb under" in told
            assert "Your words: let go early" in told
            assert "Your fingering: R 1-2-4" in told
            await stage.press("right")
            assert "Start 9, b. 7" in stage.text
            await stage.press("right")
            assert "not drilled for you" in stage.text
            await stage.press("o")
            assert "--leave-in" in stage.text
            await stage.press("a")
            assert "deck-s3" not in stage.app.view.open
            await stage.press("left", "left", "enter")
            seen = stage.text
            for _ in range(8):
                await stage.press("pagedown")
                seen += stage.text
            assert "Your fingering: R 1-2-4" in seen

    play(scene)


def test_a_key_writes_own_words(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            await stage.press("m", "right", "enter", "w")
            assert stage.room == "AskScreen"
            assert "after the teacher's advice" in stage.text
            await stage.press(*"sing", "enter")
            assert stage.room == "StartScreen"
            assert "Your words: sing" in stage.text
            await stage.press("escape")
            assert "Your words: sing" in stage.text  # on the map too
            await stage.press("enter", "w", "escape")
            assert "Your words: sing" in stage.text
            await stage.press("w", *["backspace"] * 4, "enter")
            assert "Your words" not in stage.text
        assert stage.desk.store.pieces.deck("deck").starts[1].advice == ()

    play(scene)


def test_the_prepare_screen_has_the_teachers_deck(tmp_path: Path) -> None:
    """Nothing of a student's own gets into what others have."""

    async def scene() -> None:
        async with opened(layered(tmp_path)) as stage:
            before = stage.desk.store.pieces.deck("deck")
            for keys in (("m", "right", "right", "e"), ("escape", "escape", "p", "enter")):
                await stage.press(*keys)
                screen = stage.app.screen
                assert isinstance(screen, PrepareScreen)
                assert screen.piece.deck == before

    play(scene)


def test_the_hint_of_a_call_is_the_students_own(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = layered(tmp_path)
        student = desk.students.find()
        desk.pieces.set_open(student, desk.store.pieces.deck("deck"), range(1, 9), opened=False)
        desk.pieces.set_open(student, desk.store.pieces.deck("deck"), [2], opened=True)
        view = desk.views.of(student)
        desk.pieces.set_open(student, view.decks["deck"], [9], opened=False)
        async with opened(desk) as stage:
            await stage.press("enter")
            seen = ""
            for _ in range(6):
                await stage.press("h")
                seen += stage.text
            assert "R 1-2-4" in seen
            assert "let go early" in seen

    play(scene)
