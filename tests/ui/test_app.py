"""The app around the drill: the first start, the empty states, whose day it is, what is seen."""

import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.pieces import desk_at, piece_of, tune
from tests.ui.stage import Stage, opened, play, small_desk
from trainer.desk import Desk
from trainer.errors import TrainerError
from trainer.record.attempt import Outcome
from trainer.record.people import Recital
from trainer.ui.app import TrainerApp
from trainer.ui.screens.map import MapScreen
from trainer.ui.widgets.sheet import Sheet, ink


def test_the_very_first_start(tmp_path: Path) -> None:
    """The caution, once; then the way to a first piece."""

    async def scene() -> None:
        desk = desk_at(tmp_path / "new.db")
        async with opened(desk) as stage:
            assert "Stop when anything hurts" in stage.text
            await stage.press("enter")
            assert "There are no pieces yet" in stage.text
            assert "Add a score with p" in stage.text
            await stage.press("enter", "m")
            assert stage.room == "TodayScreen"
        async with opened(desk) as stage:
            assert stage.room == "TodayScreen"

    play(scene)


def test_opening_the_first_starts(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path, opened=False)
        async with opened(desk) as stage:
            assert "No start is open yet" in stage.text
            await stage.press("m", "right", "o")
            assert "1 of 8 starts open" in stage.text
            assert desk.views.of(desk.students.find()).open == {"deck-s2"}
            await stage.press("o")
            assert desk.views.of(desk.students.find()).open == set()
            await stage.press("a")
            assert "8 of 8 starts open" in stage.text
            await stage.press("escape")
            assert "8 starts, about" in stage.text

    play(scene)


def test_today_says_who_when_what_and_why(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        student = desk.students.find()
        day = desk.views.of(student).day + timedelta(days=9)
        desk.store.recitals.save(Recital("r", student.id, "Concert", day))
        async with opened(desk) as stage:
            for words in ("Today for me", "Concert in 9 days", "8 starts, about", "tried cold"):
                assert words in stage.text
            told = " ".join(stage.text.split())
            assert "Study 1, 2, 3, 4, 5, It has not been tried cold yet. 6, 7, 8" in told

    play(scene)


def test_a_day_that_has_passed_is_planned_anew(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            stage.clock.later(hours=20)
            await stage.press("enter")
            assert stage.room == "DrillScreen"
            assert stage.app.view.day == desk.views.of(desk.students.find()).day

    play(scene)


def test_several_students(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        mine = desk.views.of(desk.students.find())
        desk.attempts.add(mine, mine.decks["deck"], 1, Outcome.THROUGH)
        desk.students.add("K. [b]", level="child")
        async with opened(desk) as stage:
            assert "Who is practising?" in stage.text
            assert "K. [b]" in stage.text
            await stage.press("escape")
            assert "Press s to choose" in stage.text
            await stage.press("s", "2", "enter")
            assert "Today for K. [b]" in stage.text
        async with opened(desk) as stage:
            assert "Today for K. [b]" in stage.text
        async with opened(desk, student="me") as stage:
            assert "Today for me" in stage.text

    play(scene)


def test_a_child_sees_places_not_chances(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        child = desk.students.add("K.", level="child")
        desk.pieces.set_open(child, desk.store.pieces.deck("deck"), [1, 2], opened=True)
        view = desk.views.of(child)
        for day in range(4):
            desk.clock.later(days=day)  # type: ignore[attr-defined]
            desk.attempts.add(view, desk.store.pieces.deck("deck"), 1, Outcome.THROUGH)
        async with opened(desk, student="K.") as stage:
            for key in ("r", "enter"):
                await stage.press(key)
                assert "%" not in stage.text
                assert "holds" in stage.text
        async with opened(desk, student="me") as stage:
            await stage.press("m")
            assert "untried" in stage.text

    play(scene)


def test_retention_leads_to_the_map(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            await stage.press("r", "down", "down", "enter")
            screen = stage.app.screen
            assert isinstance(screen, MapScreen)
            assert screen.start.number == 3
            assert "Start 3, b. 9" in stage.text
            await stage.press("v")
            assert "Start 3, b. 9" in stage.lines[0]
            await stage.press("escape", "escape", "escape")
            assert stage.room == "TodayScreen"

    play(scene)


def test_another_piece(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        desk.store.pieces.add(piece_of(tune(8, title="Air"), range(0, 24, 12), "other"), "test")
        async with opened(desk) as stage:
            await stage.press("m", "p", "2", "enter")
            assert "Air" in stage.lines[0]
            assert "0 of 2 starts open" in stage.lines[0]
            await stage.press("escape", "r", "p", "2", "enter")
            assert "No start is open or tried yet" in stage.text
            await stage.press("p", "0", "enter")
            assert "Air" not in stage.lines[0]
            assert "No start is open or tried yet" not in stage.text
            assert "b. 5" in stage.text

    play(scene)


@pytest.mark.parametrize(
    ("title", "seen"),
    [
        ("Sonata [Allegro]", "Sonata [Allegro]"),
        ("[/b] [@click=app.quit] x", "[/b] [@click=app.quit] x"),
        ("\x1b[31mred\x07", "[31mred"),
        ("\u202eevil\u2066", "evil"),
        ("שיר ערש", "שיר ערש"),
        ("$accent {x} \\", "$accent {x} \\"),
    ],
)
def test_titles_are_shown_literally(title: str, seen: str, tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path, title=title)) as stage:
            for keys in ([], ["m"], ["p"], ["escape", "escape", "enter"], ["t"], ["v"]):
                await stage.press(*keys)
                assert seen in stage.text, keys
                assert "\x1b" not in stage.text
                assert "\u202e" not in stage.text

    play(scene)


def test_a_database_that_does_not_open() -> None:
    async def scene() -> None:
        def shut() -> Desk:
            raise TrainerError("a.db is in use by another copy of the program: close that one.")

        app = TrainerApp(shut)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.pause()
            strips = app.screen._compositor.render_strips()
            text = "\n".join("".join(s.text for s in strip) for strip in strips)
            assert "in use by another copy" in text
            await pilot.press("enter", "r", "m", "s", "c", "q")
        assert app.return_code == 1

    play(scene)


def test_a_screen_too_small_says_so_and_does_nothing(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, size=(59, 24), drill=True) as stage:
            assert "enlarge the window to 60 columns and 20 lines" in stage.text
            await stage.press("t")
            assert desk.store.log.attempts(desk.students.find().id) == ()
            await stage.pilot.resize_terminal(60, 20)
            await stage.settle()
            assert "enlarge" not in stage.text
            await stage.press("t")
            assert len(desk.store.log.attempts(desk.students.find().id)) == 1

    play(scene)


def test_colours_are_remembered(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            assert stage.app.theme == "lamp"
            await stage.press("c")
            assert stage.app.theme == "paper"
        async with opened(desk) as stage:
            assert stage.app.theme == "paper"

    play(scene)


def test_nothing_heavy_is_imported_before_the_first_frame() -> None:
    code = (
        "import sys, trainer.ui.app\n"
        "heavy = {'numpy', 'sqlite_utils', 'sqlite3', 'music21', 'mido', 'msgspec'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_the_app_never_imports_music21(tmp_path: Path) -> None:
    code = (
        "import asyncio, sys\n"
        "from pathlib import Path\n"
        "from tests.ui.stage import opened, small_desk\n"
        "async def scene():\n"
        f"    async with opened(small_desk(Path({str(tmp_path)!r})), drill=True) as stage:\n"
        "        await stage.press('t', 'q', 'enter', 'r', 'enter', 'v')\n"
        "asyncio.run(scene())\n"
        "print('music21' in sys.modules, 'textual' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "True"]


def test_no_control_character_passes_a_sheet() -> None:
    sheet = Sheet("x")
    sheet.show(["a\x1b[2Jb", ink("c\u202ed", "bold")])
    assert str(sheet.content) == "a [2Jb\nc d"


def test_a_long_day_can_be_read_to_its_end(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        desk.store.students.save(replace(desk.students.find(), minutes=30.0))
        for number in range(12):
            piece = piece_of(tune(8, title=f"Piece {number}"), range(0, 24, 12), f"d{number}")
            desk.store.pieces.add(piece, "test")
            desk.pieces.set_open(desk.students.find(), piece.deck, [1], opened=True)
        async with opened(desk, size=(60, 20)) as stage:
            assert "more below" in stage.text
            assert "Piece 11" not in stage.text
            await stage.press(*["down"] * 20)
            assert "Piece 11" in stage.text
            assert "more below" not in stage.text

    play(scene)


def test_plain_signs_only(tmp_path: Path) -> None:
    """Where the terminal cannot show the signs, all that is drawn is ASCII."""

    async def scene() -> None:
        desk = small_desk(tmp_path)
        app = TrainerApp(lambda: desk, ascii=True)
        async with app.run_test(size=(80, 24)) as pilot:
            stage = Stage(app, pilot, desk, desk.clock)  # type: ignore[arg-type]
            await stage.settle()
            for keys in (
                ["r"],
                ["enter"],
                ["v"],
                ["question_mark"],
                ["escape"] * 4 + ["enter"],
                ["t"],
                ["n", "h"],
                ["q"],
            ):
                await stage.press(*keys)
                assert stage.text.isascii(), keys

    play(scene)


def test_a_drill_asked_for_where_there_is_none(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path, opened=False), drill=True) as stage:
            assert stage.room == "TodayScreen"
            assert "No start is open yet" in stage.text

    play(scene)
