"""A start that practice by starts does not lift is named so on every page, with what to do, until
somebody says that it was worked on."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from tests.pieces import NOON, Clock, desk_at, piece_of, tune
from tests.scenes.machines import Machine
from tests.ui.stage import opened, play
from trainer.record.attempt import Outcome
from trainer.record.people import ProgrammeItem

DAYS = 20
END = NOON + timedelta(days=DAYS)


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Start 3 has been tried every day and does not come; the others hold."""
    path, clock = tmp_path_factory.mktemp("stuck") / "a.db", Clock()
    desk = desk_at(path, clock)
    desk.store.pieces.add(piece_of(tune(32), range(0, 96, 12)), "test")
    student, deck = desk.students.add("K."), desk.store.pieces.deck(desk.pieces.find().id)
    desk.pieces.set_open(student, deck, range(1, 7), opened=True)
    desk.store.settings.set("caution seen", "yes")
    for day in range(DAYS):
        for number in (1, 5, 3, 6, 2, 4):
            clock.now = NOON + timedelta(days=day, minutes=12 * number)
            lost = number == 3 and day % 4
            desk.attempts.add(
                desk.views.of(student), deck, number, Outcome.NOTHING if lost else Outcome.THROUGH
            )
    clock.now = END
    on = desk.views.of(student).day + timedelta(days=10)
    desk.recitals.set(student, "Concert", on, [ProgrammeItem(deck.id)])
    assert desk.views.of(student).stuck == {deck.starts[2].id}
    desk.store.close()
    return path


def told(path: Path, *words: object, at: datetime = END) -> str:
    return Machine(path, zone=0.0).do(*words, at=at)


def test_every_page_names_it_and_says_what_to_do(path: Path, tmp_path: Path) -> None:
    for words in (("retention",), ("readiness",), ("lesson",), ("start", "show", 1, 3)):
        text = told(path, *words)
        assert "tuck" in text, words
        assert "hands separately" in text, words
    told(path, "print", "recital", "--out", tmp_path / "r.html")
    assert "Stuck: Study 3." in (tmp_path / "r.html").read_text()
    told(path, "print", "lesson", "--out", tmp_path / "l.html")
    assert "stuck" in (tmp_path / "l.html").read_text()


def test_programs_are_told_too(path: Path) -> None:
    machine = Machine(path, zone=0.0)
    rows = machine.rows("retention", at=END)
    assert [row["start"] for row in rows if row["stuck"]] == [3]
    starts = machine.told("map", 1, at=END)["starts"]
    assert [one["number"] for one in starts if one["stuck"]] == [3]
    assert machine.told("start", "show", 1, 3, at=END)["stuck"]
    lesson = machine.told("lesson", at=END)["starts"]
    assert [one["number"] for one in lesson if one["stuck"]] == [3]


def test_it_is_held_back_with_its_reason_or_called_with_it(path: Path) -> None:
    text = told(path, "today")
    assert "More attempts do not help it" in text
    if "Held back: Study 3." in text:
        assert "once a week" in text


def test_the_screens_name_it_and_a_key_says_that_it_was_worked_on(
    path: Path, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.db"
    copy.write_bytes(path.read_bytes())

    async def scene() -> None:
        desk = desk_at(copy, Clock(END), seed=9)
        async with opened(desk) as stage:
            await stage.press("m", "right", "right")
            assert "Stuck. More attempts do not help it" in " ".join(stage.text.split())
            await stage.press("enter")
            assert "Stuck." in stage.text
            await stage.press("k")
            assert "Start 3 was worked on today" in stage.text
            view = desk.views.of(desk.students.find())
            assert view.stuck == frozenset()
            assert set(view.worked_on) == {view.decks["deck"].starts[2].id}

    play(scene)


def test_the_range_is_the_same_on_every_page(path: Path, tmp_path: Path) -> None:
    """And what it says of stopping now is what the table says of each piece."""
    machine = Machine(path, zone=0.0)
    sentence = next(note for note in machine.told("readiness", at=END)["notes"] if "likely" in note)
    assert sentence in machine.told("today", at=END)["notes"]
    told(path, "print", "recital", "--out", tmp_path / "r.html")
    assert sentence in (tmp_path / "r.html").read_text()
    (row,) = machine.rows("readiness", at=END)
    holding = row["open"] - row["untried"] - row["as_it_is"]
    assert f"about {holding:.0f} with no more practice" in sentence
