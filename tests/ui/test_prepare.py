"""The Prepare screen: every edit, undo, and that nothing is kept until it is said so."""

from pathlib import Path

from tests.make_decks import SCORES
from tests.ui.stage import Stage, opened, play, small_desk
from trainer.deck.model import Deck
from trainer.desk import Desk
from trainer.ui.screens.prepare import PrepareScreen


def kept(desk: Desk) -> Deck:
    return desk.store.deck("deck")


def screen(stage: Stage) -> PrepareScreen:
    found = stage.app.screen
    assert isinstance(found, PrepareScreen)
    return found


def bars(stage: Stage) -> list[str]:
    piece = screen(stage).piece
    return [piece.score.bar_at(start.onset).label for start in piece.deck.starts]


async def type_in(stage: Stage, text: str) -> None:
    names = {":": "colon", " ": "space"}
    await stage.press(*(names.get(letter, letter) for letter in text), "enter")


def test_edits_are_kept_only_when_saved(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        before = kept(desk)
        async with opened(desk) as stage:
            await stage.press("p", "1", "enter")
            assert "8 starts, saved" in stage.text
            await stage.press("right", "x")  # start 2 is gone
            assert "7 starts, 1 not saved" in stage.text
            await stage.press("n")
            await type_in(stage, "14:2")
            assert "Start 4, b. 14, beat 2" in stage.text
            await stage.press("w")
            await type_in(stage, "light")
            assert "Advice: light" in stage.text
            assert kept(desk) == before
            await stage.press("enter")
            assert "saved" in stage.text
            after = kept(desk)
            assert after.starts[3].advice == ("light",)
            assert after.starts[3].parent == before.starts[3].id
            assert [f.id for f in after.former] == [before.starts[1].id]
            assert desk.store.deck_history("deck")[-1].why == "remove 2; add 14:2; advise 4"

    play(scene)


def test_moving_by_beat_and_bar_merging_and_undo(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("m", "e")  # the map, then its edit
            await stage.press("right", "full_stop")
            assert "Start 2, b. 5, beat 2" in stage.text
            await stage.press("comma", "comma")
            assert "Start 2, upbeat to b. 5" in stage.text
            await stage.press("u", "u", "u", "colon")
            assert bars(stage)[1] == "6"
            await stage.press("semicolon", "m")
            assert len(bars(stage)) == 7
            await stage.press("u")
            assert len(bars(stage)) == 8
            await stage.press("y")
            assert len(bars(stage)) == 7

    play(scene)


def test_names_fingers_links_and_density(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("p", "1", "enter")
            await stage.press("l")
            await type_in(stage, "theme")
            assert "(theme)" in stage.text
            await stage.press("f")
            await type_in(stage, "R 1")
            assert "Fingering: R 1" in stage.text
            await stage.press("k", "3", "enter")
            assert "Like 3" in stage.text
            await stage.press("k", "3", "enter")
            assert "Like 3" not in stage.text
            count = len(bars(stage))
            await stage.press("d")
            assert "More starts" in stage.text
            assert len(bars(stage)) != count
            await stage.press("u")
            assert len(bars(stage)) == count

    play(scene)


def test_leaving_with_changes_asks(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("p", "1", "enter", "x", "escape")
            assert "not saved" in stage.text
            await stage.press("escape")  # stays
            assert stage.room == "PrepareScreen"
            await stage.press("escape", "2", "enter")
            assert stage.room == "TodayScreen"
            assert len(kept(desk).starts) == 8
            await stage.press("p", "1", "enter", "x", "escape", "1", "enter")
            assert stage.room == "TodayScreen"
            assert len(kept(desk).starts) == 7

    play(scene)


def test_what_will_not_do_is_said_and_changes_nothing(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk, size=(60, 20)) as stage:
            await stage.press("p", "1", "enter", "m")
            assert "is the first of Study" in stage.text
            await stage.press("n")
            await type_in(stage, "99")
            assert "no bar '99'" in stage.text
            await stage.press("escape")
            assert "8 starts, saved" in stage.text

    play(scene)


def test_a_score_is_added_from_the_first_screen(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        file = str(SCORES / "the-heron-stands-and-looks.musicxml")
        async with opened(desk) as stage:
            await stage.press("p", "down", "enter")
            screen_ = stage.app.screen
            screen_.query_one("#answer").value = file  # type: ignore[attr-defined]
            await stage.press("enter")
            await stage.settle()
            assert stage.room == "PrepareScreen"
            assert "The Heron Stands and Looks" in stage.text
            assert len(desk.store.pieces()) == 2

    play(scene)


def test_a_file_that_is_no_score_is_said(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        (tmp_path / "x.musicxml").write_text("no score")
        async with opened(desk) as stage:
            await stage.press("p", "down", "enter")
            answer = stage.app.screen.query_one("#answer")
            answer.value = str(tmp_path / "x.musicxml")  # type: ignore[attr-defined]
            await stage.press("enter")
            await stage.settle()
            assert stage.room == "AddingScreen"
            assert "!" in stage.text
            assert len(desk.store.pieces()) == 1

    play(scene)
