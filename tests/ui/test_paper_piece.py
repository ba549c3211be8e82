"""A printed piece without notes on the screens: a drill, the map, a start, Prepare."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.widgets import Input

from tests.make_decks import SCORES
from tests.pieces import Clock, desk_at
from tests.ui.stage import Stage, opened, play
from tests.ui.test_by_ear import Player
from trainer.desk.hearing import Hearing
from trainer.listen.model import Heard
from trainer.record.attempt import Outcome
from trainer.score.on_paper import on_paper, places
from trainer.ui.hearing import UNKNOWN


@pytest.mark.parametrize("size", [(80, 24), (60, 20)])
def test_it_is_drilled_shown_and_prepared(size: tuple[int, int], tmp_path: Path) -> None:
    async def scene() -> None:
        desk = desk_at(tmp_path / "a.db", Clock())
        score = on_paper("Air on Paper", 24, "3/4", "1", "1-16 1-15 17-24")
        deck = desk.pieces.add_on_paper(score, places(score, "1,9,17:2")).deck
        student = desk.students.find()
        desk.pieces.set_open(student, deck, [1, 2, 3], opened=True)
        desk.store.settings.set("caution seen", "yes")
        async with opened(desk, size=size) as stage:
            assert "3 starts" in stage.text
            await stage.press("enter", "t", "v")
            assert "own copy of the score" in " ".join(stage.text.split())
            await stage.press("escape", "h")
            told = " ".join(stage.text.split())
            assert "key and count: 3/4, begins on beat" in told  # and no key, which nobody told
            assert "major" not in told
            await stage.press("b")
            while stage.room == "DrillScreen":
                await stage.press("q")
            assert stage.room == "TodayScreen"
            await stage.press("m")
            assert "3 of 3 starts open" in stage.text
            await stage.press("enter")
            assert stage.room == "StartScreen"
            await stage.press("escape", "e")
            assert stage.room == "PrepareScreen"
            await stage.press("d")
            assert stage.room == "PrepareScreen"
            assert "No starts can be proposed" in " ".join(stage.text.split())
            await stage.press("k")
            assert "look-alikes cannot be found" in " ".join(stage.text.split())
            await stage.press("escape", "escape")
        outcomes = [one.outcome for one in desk.views.of(student).attempts]
        assert outcomes[:2] == [Outcome.THROUGH, Outcome.BROKE_OFF]

    play(scene)


async def answered(stage: Stage, text: str | None) -> None:
    """Type an answer over what stands there, and take it; None takes what stands there."""
    if text is not None:
        answer = stage.app.screen.query_one("#answer", Input)
        answer.value = text
    await stage.press("enter")


def test_it_is_told_in_words_found_by_typing_and_every_slip_can_be_put_right(
    tmp_path: Path,
) -> None:
    async def scene() -> None:
        desk = desk_at(tmp_path / "a.db", Clock())
        desk.students.find()
        desk.store.settings.set("caution seen", "yes")
        async with opened(desk, size=(60, 20)) as stage:
            await stage.press("o")
            await answered(stage, "printed")
            assert "What is the piece called?" in stage.text
            await answered(stage, "Air on Paper")
            await answered(stage, "many")
            assert "'many' is not a number of bars" in stage.text
            for text in ("240", "3/4", "1"):
                await answered(stage, text)
            assert "(5 of 6)" in stage.text
            await stage.press("escape", "escape", "escape")  # to the bars: it was a nought too many
            assert "240" in stage.text
            for again in ("24", None, None, "1,9,25"):
                await answered(stage, again)
            assert "There is no bar '25'" in " ".join(stage.text.split())
            await answered(stage, "1,9,17:2")
            assert desk.store.pieces.all() == ()
            await answered(stage, "1-16 1-15 17-24")
            assert stage.room == "PrepareScreen"
            await stage.press("escape", "p", "down", "down", "enter", "escape")
            assert stage.room == "TodayScreen"
        (entry,) = desk.store.pieces.all()
        piece = desk.store.pieces.get(entry.id)
        assert [start.onset for start in piece.deck.starts] == [0, 25, 50]
        assert len(piece.deck.route) == 5

    play(scene)


@pytest.mark.parametrize("taken", [True, False])
def test_a_file_that_fits_is_asked_about(tmp_path: Path, taken: bool) -> None:
    async def scene() -> None:
        desk = desk_at(tmp_path / "a.db", Clock())
        score = on_paper("Towpath", 40, "3/4", "1")
        deck = desk.pieces.add_on_paper(score, places(score, "1,9"), desk.students.find()).deck
        other = on_paper("Other", 99, "3/4")
        desk.pieces.add_on_paper(other, places(other, "1"))
        desk.store.settings.set("caution seen", "yes")
        async with opened(desk) as stage:
            await stage.press("p", "down", "down", "enter")
            await answered(stage, str(SCORES / "lanterns-along-the-towpath.musicxml"))
            assert "Yes: Towpath" in stage.text
            assert "the file has 2 bars more" in " ".join(stage.text.split())
            assert "Other" not in stage.text
            await stage.press(*(["enter"] if taken else ["down", "enter"]))
            assert stage.room == "PrepareScreen"
        now = desk.store.pieces.get(deck.id)
        assert bool(now.score.notes) is taken
        assert [start.id for start in now.deck.starts] == [start.id for start in deck.starts]
        assert len(desk.store.pieces.all()) == (2 if taken else 3)
        newest = now if taken else desk.store.pieces.get(desk.store.pieces.all()[-1].id)
        assert desk.store.pieces.original(newest.deck.score)

    play(scene)


def test_an_instrument_is_not_said_to_listen_where_no_notes_are_known(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def scene() -> None:
        desk, player = desk_at(tmp_path / "a.db", Clock()), Player()
        score = on_paper("Air on Paper", 24, "3/4", "1")
        desk.pieces.add_on_paper(score, places(score, "1,9,17"), desk.students.find())
        desk.store.settings.set("caution seen", "yes")
        hearing = Hearing(player.port, clock=lambda: player.now)
        monkeypatch.setattr(desk.instruments, "hearing", lambda *_: hearing)
        async with opened(desk, size=(60, 20)) as stage:
            player.stage = stage
            await stage.press("enter")
            await player.looked()
            assert UNKNOWN in stage.text
            assert "listening" not in stage.text
            await player.play([Heard(60 + n, 0.3 * n) for n in range(12)])
            await player.wait()
            assert UNKNOWN in stage.text
            assert "Nothing can be heard" not in stage.text
            await stage.press("t")
            assert len(desk.views.of(desk.students.find()).attempts) == 1

    play(scene)
