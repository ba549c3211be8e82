"""The Prepare screen: every edit, undo, and that nothing is kept until it is said so."""

import asyncio
import threading
from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.make_decks import SCORES
from tests.pieces import desk_at, piece_of, tune
from tests.ui.stage import Stage, opened, play, small_desk
from trainer.deck import edit
from trainer.deck.file import read_deck, write_deck
from trainer.deck.model import Deck, Piece
from trainer.desk import Desk
from trainer.desk.pieces import Pieces
from trainer.errors import TrainerError
from trainer.phrases.segment import propose
from trainer.score.model import Score
from trainer.score.read import Stop, read_score
from trainer.ui.screens.adding import AddingScreen
from trainer.ui.screens.prepare import PrepareScreen
from trainer.ui.screens.prepare_alike import AlikeScreen, pairs_of
from trainer.ui.widgets.paths import ScorePaths


def kept(desk: Desk) -> Deck:
    return desk.store.pieces.deck("deck")


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
            assert desk.store.pieces.history("deck")[-1].why == "remove 2; add 14:2; advise 4"

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
            assert "Start 2, b. 5" in stage.text  # what has come back is looked at
            await stage.press("y")
            assert len(bars(stage)) == 7
            await stage.press("enter")
            assert desk.store.pieces.history("deck")[-1].why == "move 2 to b. 5; merge 2"

    play(scene)


def test_names_fingers_and_what_was_written_before(tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            await stage.press("p", "1", "enter")
            await stage.press("l")
            await type_in(stage, "theme")
            assert "(theme)" in stage.text
            await stage.press("f")
            await type_in(stage, "R 1")
            await stage.press("f")
            await type_in(stage, "-3")
            assert "Fingering: R 1-3." in stage.text
            await stage.press("w")
            await type_in(stage, "soft")
            assert "Advice: soft Fingering: R 1-3." in stage.text
            await stage.press("w", "backspace", "backspace", "backspace", "backspace", "enter")
            assert "Advice" not in stage.text

    play(scene)


def test_the_density_is_chosen_and_what_was_removed_stays_away(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("p", "1", "enter")
            before = screen(stage).piece.deck
            await stage.press("d")
            assert "more:" in stage.text
            await stage.press("3", "enter")
            onsets = [start.onset for start in screen(stage).piece.deck.starts]
            assert onsets == [p.onset for p in propose(screen(stage).piece.score, "more")]
            await stage.press("right", "x", "d", "3", "enter")
            assert [s.onset for s in screen(stage).piece.deck.starts] == onsets[:1] + onsets[2:]
            await stage.press("u", "u", "u")
            assert screen(stage).piece.deck == before
            assert kept(desk) == before

    play(scene)


def alike_desk(folder: Path) -> Desk:
    """A piece of three times the same four bars and four others; starts 1, 2 and 3 are alike."""
    score = tune(16)
    theme = [note for note in score.notes if note.onset < 12]
    notes = [replace(n, onset=n.onset + 12 * time) for time in range(3) for n in theme]
    rest = [note for note in score.notes if note.onset >= 36]
    desk = desk_at(folder / "a.db")
    piece = piece_of(replace(score, notes=(*notes, *rest)), range(0, 48, 12))
    desk.store.pieces.add(piece, "test")
    desk.students.find()
    desk.store.settings.set("caution seen", "yes")
    return desk


def pairs(stage: Stage) -> list[tuple[str, str]]:
    found = stage.app.screen
    assert isinstance(found, AlikeScreen)
    return [(pair.name, pair.state) for pair in pairs_of(found.draft.now.deck)]


def test_look_alikes_are_accepted_unlinked_and_linked(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = alike_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("p", "1", "enter")
            assert "Begins like 2" in stage.text
            await stage.press("k")
            assert pairs(stage) == [(n, "found") for n in ("1 and 2", "1 and 3", "2 and 3")]
            assert "the same notes" in stage.text
            assert "They part at" in stage.text
            await stage.press("a", "x")
            told = [("1 and 2", "accepted"), ("1 and 3", "not alike"), ("2 and 3", "found")]
            assert pairs(stage) == told
            await stage.press("u", "u")
            assert {state for _, state in pairs(stage)} == {"found"}
            await stage.press("x", "e", "n", "4", "enter")
            told = [("1 and 2", "not alike"), ("1 and 3", "accepted"), ("1 and 4", "accepted")]
            assert pairs(stage) == [*told, ("2 and 3", "accepted")]
            await stage.press("escape")
            assert "3 not saved" in stage.text
            await stage.press("enter")
            deck = kept(desk)
            assert deck.kin("deck-s1") == ("deck-s3", "deck-s4")
            why = "unlink 1 and 2; accept 2 look-alikes; link 1 and 4"
            assert desk.store.pieces.history("deck")[-1].why == why

    play(scene)


def test_a_piece_without_look_alikes_says_so(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = desk_at(tmp_path / "a.db")
        desk.store.pieces.add(piece_of(tune(2), [0]), "test")
        desk.students.find()
        desk.store.settings.set("caution seen", "yes")
        async with opened(desk, size=(60, 20)) as stage:
            await stage.press("p", "1", "enter", "k")
            assert "No two starts have similar openings." in stage.text
            await stage.press("a", "x", "e", "n", "u", "down", "up")
            assert stage.room == "AlikeScreen"
            await stage.press("escape", "x")
            assert "is the only one of Study" in stage.text

    play(scene)


def test_starts_are_opened_when_it_is_saved(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        student = desk.students.find()

        def open_now() -> frozenset[str]:
            return desk.views.of(student).open

        async with opened(desk) as stage:
            await stage.press("p", "1", "enter", "o", "n")
            await type_in(stage, "3")
            await stage.press("o")  # its phrase is closed
            new = screen(stage).start.id
            await stage.press("n")
            await type_in(stage, "7")
            part = screen(stage).start.id  # of a phrase that is open
            assert "deck-s1" in open_now()
            await stage.press("enter")
            assert "deck-s1" not in open_now()
            assert {new, part} <= open_now()
            assert desk.store.pieces.history("deck")[-1].why == "add 3; add 7"

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
            assert len(desk.store.pieces.all()) == 2

    play(scene)


def test_the_same_score_again_is_asked_about(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        known = desk.pieces.add(SCORES / "the-heron-stands-and-looks.musicxml").deck
        file = tmp_path / "copy.musicxml"
        file.write_bytes((SCORES / "the-heron-stands-and-looks.musicxml").read_bytes())
        async with opened(desk) as stage:

            async def add() -> None:
                await stage.press("p", "down", "down", "enter")
                stage.app.screen.query_one("#answer").value = str(file)  # type: ignore[attr-defined]
                await stage.press("enter")
                await stage.settle()
                assert stage.room == "ChooseScreen"
                assert "This music is here already. Add it again?" in stage.text

            await add()
            await stage.press("escape")
            assert stage.room == "TodayScreen"
            await add()
            await stage.press("enter")
            assert stage.room == "PrepareScreen"
            assert len(desk.store.pieces.all()) == 2
            await stage.press("escape")
            await add()
            await stage.press("down", "enter")
            assert stage.room == "PrepareScreen"
            *_, new = desk.store.pieces.all()
            assert len(desk.store.pieces.all()) == 3
            assert (new.title, new.id == known.id) == (known.title, False)
            assert desk.store.pieces.deck(known.id) == known

    play(scene)


def test_a_path_is_completed_as_it_is_typed(tmp_path: Path) -> None:
    (tmp_path / "scores").mkdir()
    for name in ("b.musicxml", "a.txt", "c.mxl"):
        (tmp_path / "scores" / name).touch()

    def offered(text: str) -> str | None:
        return asyncio.run(ScorePaths().get_suggestion(text))

    assert offered(f"{tmp_path}/sc") == f"{tmp_path}/scores/"
    assert offered(f"{tmp_path}/scores/") == f"{tmp_path}/scores/b.musicxml"
    assert offered(f"{tmp_path}/scores/c") == f"{tmp_path}/scores/c.mxl"
    assert offered(f"{tmp_path}/scores/a") is None
    assert offered(f"{tmp_path}/nowhere/a") is None
    assert offered("~nobody-of-that-name/a") is None
    assert offered("") is None


def test_while_a_score_is_read_the_screen_answers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The reading and the proposing wait here until they are let go, and the screen is left."""
    begun, go_on = threading.Event(), threading.Event()

    def propose_slowly(_: Pieces, __: Score) -> Piece:
        begun.set()
        assert go_on.wait(20)
        raise TrainerError("Let go.")

    monkeypatch.setattr(Pieces, "propose", propose_slowly)

    async def scene() -> None:
        desk = small_desk(tmp_path)
        file = SCORES / "the-heron-stands-and-looks.musicxml"
        async with opened(desk) as stage:
            adding = AddingScreen(file)
            await stage.app.push_screen(adding)
            await asyncio.to_thread(begun.wait, 20)
            await stage.pilot.pause()
            assert "finding the phrases" in stage.text
            await stage.pilot.press("escape")
            await stage.pilot.pause()
            assert stage.room == "TodayScreen"
            go_on.set()
            await stage.settle()
            assert stage.room == "TodayScreen"
            assert len(desk.store.pieces.all()) == 1

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
            assert len(desk.store.pieces.all()) == 1

    play(scene)


def test_a_reading_can_be_stopped() -> None:
    file = SCORES / "the-heron-stands-and-looks.musicxml"
    for phase in ("opening the file", "loading the reader"):  # before the child, and within
        stop = Stop()

        def at(words: str, phase: str = phase, stop: Stop = stop) -> None:
            if words == phase:
                stop()

        with pytest.raises(TrainerError, match="the reading was stopped"):
            read_score(file, progress=at, stop=stop)


def test_a_reading_ends_with_its_screen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever leaves does not wait for a reading that they gave up."""
    reading, stopped = threading.Event(), threading.Event()

    class Noted(Stop):
        def __call__(self) -> None:
            super().__call__()
            stopped.set()

    def read_for_ever(path: Path, **_: object) -> Score:
        reading.set()
        assert stopped.wait(20)
        raise TrainerError(f"{path.name}: stopped.")

    monkeypatch.setattr("trainer.score.read.Stop", Noted)
    monkeypatch.setattr("trainer.score.read.read_score", read_for_ever)

    async def scene() -> None:
        async with opened(small_desk(tmp_path)) as stage:
            await stage.app.push_screen(AddingScreen(tmp_path / "a.mxl"))
            await asyncio.to_thread(reading.wait, 20)
            assert not stopped.is_set()
            await stage.press("escape")  # comes back only once the reading has ended
            assert stopped.is_set()
            assert stage.room == "TodayScreen"

    play(scene)


def test_a_deck_without_its_notes_is_prepared_too(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = desk_at(tmp_path / "a.db")
        whole = piece_of(tune(16), range(0, 48, 12))
        bare = read_as_file(write_deck(whole, notes=False), tmp_path)
        desk.store.pieces.add(bare, "test")
        desk.students.find()
        desk.store.settings.set("caution seen", "yes")
        async with opened(desk) as stage:
            await stage.press("p", "1", "enter", "right", "full_stop", "colon")
            assert bars(stage)[1] == "6"
            await stage.press("d")
            assert "its notes are not in the deck" in " ".join(stage.text.split())
            await stage.press("x", "enter")
            assert len(kept(desk).starts) == 3

    play(scene)


def test_what_cannot_be_kept_stays_in_the_draft(tmp_path: Path) -> None:
    async def scene() -> None:
        desk = small_desk(tmp_path)
        async with opened(desk) as stage:
            await stage.press("p", "1", "enter", "x")
            desk.pieces.edit("deck", lambda piece: edit.relabel(piece, 8, "coda"), "from elsewhere")
            await stage.press("enter")
            assert "was edited by another copy of the program meanwhile" in stage.text
            assert "7 starts, 1 not saved" in stage.text
            assert kept(desk).starts[-1].label == "coda"

    play(scene)


def read_as_file(text: str, folder: Path) -> Piece:
    path = folder / "a.deck.json"
    path.write_text(text, encoding="utf-8")
    return read_deck(path)
