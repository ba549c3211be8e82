"""Edits that were not saved are kept as they are made, and offered again."""

from __future__ import annotations

import os
import signal
import sys
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.make_decks import SCORES
from tests.pieces import Clock, desk_at, piece_of, tune
from tests.terminal import Terminal, needs_tmux
from tests.ui.stage import Stage, opened, play, small_desk
from trainer.cli.common import make_desk
from trainer.deck import draft as drafts
from trainer.deck import edit
from trainer.deck.draft import Change, Draft
from trainer.desk import Desk
from trainer.errors import TrainerError
from trainer.store.store import Store

ROOT = Path(__file__).parents[2]
EDITS = ["full_stop", "right", "o", "right", "x", "comma", "right", "m", "right", "o"]  # 6 changes
CHANGES = 6
ACTS = st.lists(st.integers(0, 6), max_size=25)


def drawn(acts: list[int], *, keep: tuple[Store, str] | None = None) -> Draft:
    """The draft after some edits, undone and done again; kept after each if wanted."""
    made = drafts.begin(piece_of(tune(32), range(0, 96, 12)), frozenset({"deck-s1"}))
    for place, act in enumerate(acts):
        starts = made.now.deck.starts
        start = starts[place % len(starts)]
        try:
            match act:
                case 0:
                    made = drafts.undo(made)
                case 1:
                    made = drafts.redo(made)
                case 2:
                    made = drafts.turn(made, start.id)
                case 3:
                    made = drafts.edit(made, removing(start.number), "remove")
                case _:
                    made = drafts.edit(made, advising(start.number, f"word {place}"), "advise")
        except TrainerError:
            continue
        if keep:
            keep[0].drafts.keep(keep[1], "s", made)
    return made


def removing(number: int) -> Change:
    return lambda piece: edit.remove(piece, number)


def advising(number: int, words: str) -> Change:
    return lambda piece: edit.advise(piece, number, (words,))


@given(ACTS)
def test_a_draft_is_the_same_again(acts: list[int]) -> None:
    made = drawn(acts)
    assert drafts.again(drafts.stands(made), len(made.past), made.score) == made


@pytest.mark.parametrize("seed", range(12))
def test_what_is_kept_step_by_step_is_the_draft(seed: int, tmp_path: Path) -> None:
    """Whatever was edited, undone, done again and edited anew; a second draft takes its place."""
    desk = small_desk(tmp_path)
    rng = Random(seed)
    for name in ("one", "two"):
        acts = [rng.randrange(7) for _ in range(30)]
        made = drawn(acts, keep=(desk.store, name))
        kept = desk.store.drafts.get("deck")
        if not made.past:
            assert kept is None
        else:
            assert kept
            assert drafts.again(kept.stands, kept.here, made.score) == made
    desk.store.drafts.drop("deck")
    assert desk.store.drafts.get("deck") is None


async def edited(stage: Stage) -> None:
    """From the day to Prepare, and the edits."""
    await stage.press("m", "e", *EDITS)
    assert f"{CHANGES} not saved" in stage.text


def test_they_are_offered_again_and_can_be_undone(tmp_path: Path) -> None:
    seen: list[Draft] = []

    async def first() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            await edited(stage)
            seen.append(stage.app.screen.draft)  # type: ignore[attr-defined]

    async def second() -> None:
        async with opened(desk_at(tmp_path / "a.db", Clock(), seed=2)) as stage:
            before = stage.desk.store.pieces.deck("deck")
            await stage.press("m", "e")
            assert f"{CHANGES} changes, last 2 March, 12:00: not saved yet." in stage.text
            await stage.press("escape")
            assert stage.room == "MapScreen"  # to choose nothing drops nothing
            await stage.press("e", "enter")
            assert f"{CHANGES} not saved" in stage.text
            assert stage.app.screen.draft == seen[0]  # type: ignore[attr-defined]
            await stage.press("u", "u")
            assert f"{CHANGES - 2} not saved" in stage.text
            await stage.press("y", "y", "enter")
            assert "saved" in stage.text
            after = stage.desk.store.pieces.deck("deck")
            assert after == seen[0].now.deck != before
            there = {one.id for one in after.starts}
            assert stage.app.view.open & there == seen[0].now.open & there
            await stage.press("escape", "e")
            assert stage.room == "PrepareScreen"

    play(first)
    play(second)


def test_they_are_gone_once_declined(tmp_path: Path) -> None:
    async def first() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            await edited(stage)
            await stage.press("escape", "down", "enter")  # leave without saving
            await stage.press("e")
            assert stage.room == "PrepareScreen"
            assert ", saved" in stage.text
            await stage.press("full_stop")

    async def second() -> None:
        async with opened(desk_at(tmp_path / "a.db", Clock(), seed=2)) as stage:
            await stage.press("m", "e")
            assert "1 change, last" in stage.text
            await stage.press("down", "enter")
            assert ", saved" in stage.text
            await stage.press("escape", "e")
            assert ", saved" in stage.text
            assert stage.desk.store.drafts.get("deck") is None

    play(first)
    play(second)


def test_those_of_the_look_alikes_too(tmp_path: Path) -> None:
    async def first() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            await stage.press("m", "e", "full_stop", "k", "n", "4", "enter")
            assert stage.room == "AlikeScreen"

    async def second() -> None:
        async with opened(desk_at(tmp_path / "a.db", Clock(), seed=2)) as stage:
            await stage.press("m", "e", "enter")
            assert "2 not saved" in stage.text

    play(first)
    play(second)


def left_by(desk: Desk, folder: Path) -> Desk:
    """The desk as it is when somebody has made the edits and closed the window."""

    async def scene() -> None:
        async with opened(desk) as stage:
            await edited(stage)

    play(scene)
    return desk_at(folder / "a.db", Clock(), seed=2)


def test_for_another_student_what_concerns_the_deck(tmp_path: Path) -> None:
    """What was to be opened was meant for the first one."""
    desk = left_by(small_desk(tmp_path), tmp_path)
    other = desk.students.add("K.")
    desk.students.choose(other)

    async def scene() -> None:
        async with opened(desk) as stage:
            await stage.press("m", "e", "enter")
            draft = stage.app.screen.draft  # type: ignore[attr-defined]
            assert draft.now.deck != draft.saved.deck
            assert not draft.opened | draft.closed
            await stage.press("enter")
            assert not stage.app.view.open

    play(scene)


def test_a_piece_that_was_edited_since_is_not_overwritten(tmp_path: Path) -> None:
    desk = left_by(small_desk(tmp_path), tmp_path)
    desk.pieces.edit("deck", lambda piece: edit.advise(piece, 1, ["breathe"]), "advise 1")

    async def scene() -> None:
        async with opened(desk) as stage:
            await stage.press("m", "e")
            assert stage.room == "PrepareScreen"
            told = " ".join(stage.text.split())
            assert "were not saved, and the piece has been edited since (move 1" in told
            assert ", saved" in stage.text
            await stage.press("full_stop")
            kept = desk.store.drafts.get("deck")
            assert kept
            assert kept.stands[0].form.deck.starts[0].advice == ("breathe",)

    play(scene)


def test_they_go_with_the_student_who_is_erased(tmp_path: Path) -> None:
    desk = left_by(small_desk(tmp_path), tmp_path)
    assert desk.store.drafts.get("deck")
    desk.store.erasing.erase(desk.students.find())
    assert desk.store.drafts.get("deck") is None


def test_they_go_with_the_piece(tmp_path: Path) -> None:
    """As the schema says, whatever will remove a piece one day."""
    import sqlite3
    from contextlib import closing

    desk = left_by(small_desk(tmp_path), tmp_path)
    desk.store.close()
    with closing(sqlite3.connect(tmp_path / "a.db")) as raw:
        goes = "SELECT on_delete FROM pragma_foreign_key_list(?) WHERE \"table\" = 'deck'"
        for table in ("draft", "draft_at"):
            assert raw.execute(goes, (table,)).fetchall() == [("CASCADE",)]


@needs_tmux
@pytest.mark.parametrize("count", [1, 2, 17])
def test_a_kill_loses_none(count: int, tmp_path: Path) -> None:
    """kill -9 right after the last edit is seen; then all are offered, and saved."""
    db = tmp_path / "t.db"
    desk = make_desk(db)
    desk.students.find()
    desk.store.settings.set("caution seen", "yes")
    desk.pieces.add(SCORES / "round-the-mill-wheel.musicxml")
    desk.store.close()
    command = [sys.executable, "-m", "trainer", "prepare", "1", "--db", str(db)]
    env = {"PYTHONPATH": str(ROOT), "LC_ALL": "C.UTF-8"}
    with Terminal(command, env=env) as terminal:
        terminal.wait_for("12 starts, saved")
        terminal.keys("Right")
        terminal.wait_for("Start 2,")
        for done in range(1, count + 1):
            terminal.keys("o.o,"[(done - 1) % 4])
            terminal.wait_for(f"{done} not saved")
        before = terminal.screen()
        os.kill(terminal.pid, signal.SIGKILL)
        assert terminal.wait_end() == 128 + signal.SIGKILL
    changes = "1 change, last" if count == 1 else f"{count} changes, last"
    with Terminal(command, env=env) as terminal:
        terminal.wait_for(changes)
        terminal.keys("Enter")
        if "Start 2," not in terminal.wait_for(f"{count} not saved"):
            terminal.keys("Right")
            terminal.wait_for("Start 2,")
        assert [line for line in before.splitlines() if "Start 2," in line] == [
            line for line in terminal.screen().splitlines() if "Start 2," in line
        ]
        terminal.keys("Enter")
        terminal.wait_for("12 starts, saved")
        terminal.keys("Escape")
        terminal.wait_for("o more")
        terminal.keys("q")
        assert terminal.wait_end() == 0
