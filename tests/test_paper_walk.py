"""A printed piece beside a scored one: every command, every screen and its keys, every file."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import mido
import pytest

from tests.command import called
from tests.make_decks import SCORES
from tests.pieces import NOON, Clock, desk_at, piece_of, tune
from tests.test_hostile import CALLS, FILE, HOSTILE, NAME, SCORE
from tests.ui.stage import opened, play
from tests.ui.test_sizes import WAYS
from trainer.desk import Desk
from trainer.record.attempt import Outcome
from trainer.record.people import ProgrammeItem, Recital
from trainer.score.on_paper import on_paper, places
from trainer.ui.keys import KEYS
from trainer.ui.room import Room

KINDS = (".json", ".html", ".ics", ".csv")
SHOW_PIECES = ("drill", "map", "start", "page", "recital", "retention", "run", "slip", "prepare",
               "alike", "lesson")  # fmt: skip


def studio(path: Path) -> Desk:
    """A desk whose first piece is on paper, with attempts of all outcomes, own words, a recital,
    and a scored piece beside it; two students, all that can be shown."""
    desk = desk_at(path, Clock(NOON))
    clock = desk.clock
    assert isinstance(clock, Clock)
    score = on_paper("Air on Paper", 48, "3/4", "1", "1-16 1-15 17-48")
    student = desk.students.add("M.")
    desk.students.add("K.")
    desk.students.choose(student)
    deck = desk.pieces.add_on_paper(score, places(score, "1,5,9,13,17,25:3,33,41"), student).deck
    scored = piece_of(tune(32), range(0, 96, 12))
    desk.store.pieces.add(scored, "test")
    desk.pieces.set_open(student, scored.deck, range(1, 9), opened=True)
    desk.store.settings.set("caution seen", "yes")
    for name, value in (("drills", "yes"), ("level", "advanced"), ("instrument", "any")):
        desk.settings.change(student, name, value)
    (student,) = (one for one in desk.store.students.all() if one.id == student.id)
    for ago in (9, 5, 2):
        clock.now = NOON - timedelta(days=ago)
        for number, outcome in enumerate((*Outcome, Outcome.THROUGH), 1):
            fields: dict[str, Any] = {"judge": "teacher" if number == 2 else "self"}
            if outcome is Outcome.ELSEWHERE:
                fields["elsewhere"] = deck.starts[number].id
            desk.attempts.add(desk.views.of(student), deck, number, outcome, **fields)
    clock.now = NOON
    desk.own.set(student, deck, deck.starts[1], {"words": "breathe", "fingering": "R 1-3"})
    day = desk.views.of(student).day + timedelta(days=10)
    programme = (ProgrammeItem(deck.id), ProgrammeItem(scored.deck.id, "no"))
    desk.store.recitals.save(Recital("r", student.id, "Concert", day, programme))
    return desk


@pytest.fixture(scope="module")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the database and files that the commands take; each test takes a copy."""
    folder = tmp_path_factory.mktemp("paper")
    desk = studio(folder / "t.db")
    (folder / "deck.json").write_text(desk.pieces.hand_out(desk.pieces.find("1").id))
    (folder / "record.json").write_text(desk.records.write(desk.students.find()))
    desk.store.backups.make("by hand")
    desk.store.close()
    shutil.copy(SCORES / "the-late-ferry.musicxml", folder / "score.musicxml")
    midi = mido.MidiFile(tracks=[mido.MidiTrack()])
    midi.tracks[0].append(mido.Message("note_on", note=60, time=200))
    midi.save(folder / "2 heard.mid")
    return folder


def plain(word: object) -> str:
    """A word of a hostile call without its hostile signs."""
    text = str(word)
    for hostile, name in ((SCORE, "score.musicxml"), (f"2 {FILE}", "2 heard"), (FILE, "out"),
                          (NAME, "word"), (HOSTILE, "")):  # fmt: skip
        text = text.replace(hostile, name)
    return text


def calls(name: str) -> Iterator[tuple[list[str], str]]:
    """The words of each call of a command, and the lines that are typed."""
    for words in CALLS[name]:
        given = list(map(plain, words))
        at = given.index("<") if "<" in given else len(given)
        yield given[:at], "\n".join([*given[at + 1 :], ""])


@pytest.mark.parametrize("name", CALLS)
def test_no_command_fails_on_a_piece_on_paper(
    name: str,
    furnished: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    folder = tmp_path / "in"
    shutil.copytree(furnished, folder)
    monkeypatch.setenv("TRAINER_DB", str(folder / "t.db"))
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.chdir(folder)
    for words, typed in calls(name):
        given = [word.replace("@", str(folder), 1) for word in words]
        code = called(monkeypatch, *name.split(), *given, typed=typed)
        out, err = capsys.readouterr()
        assert code in (0, 1, 2, 130), (given, err)
        assert "Traceback" not in out + err
        assert out or err or name == "records watch", given
    assert called(monkeypatch, "check") == 0
    for file in folder.rglob("*"):
        if file.suffix in KINDS and file.is_file():
            assert "Traceback" not in file.read_text("utf-8"), file


@pytest.mark.parametrize("name", SHOW_PIECES)
def test_no_key_of_a_screen_fails_on_a_piece_on_paper(name: str, tmp_path: Path) -> None:
    keys = [key.keys.split(",")[0] for key in KEYS if key.screen == name]

    async def scene() -> None:
        desk = studio(tmp_path / "a.db")
        async with opened(desk) as stage:
            await stage.press(*WAYS[name])
            screen = stage.app.screen
            assert isinstance(screen, Room)
            assert name == screen.ROOM
            for key in keys:
                if stage.app.screen is not screen:
                    break
                await stage.press(key)
                for _ in range(4):
                    if stage.app.screen is screen or screen not in stage.app.screen_stack:
                        break
                    await stage.press("escape")
            assert stage.app.error is None

    play(scene)
