"""A teacher's lesson with the program, before and after, in a real terminal."""

import json
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

from tests.pieces import Clock
from tests.scenes.test_student import trainer, with_piece
from tests.terminal import needs_tmux
from trainer.desk import Desk
from trainer.record.attempt import Outcome

pytestmark = needs_tmux

ROOT = str(Path(__file__).parents[2])
TRIED = {1: "t", 2: "t", 4: "n", 6: "n", 7: "t", 8: "t", 10: "l"}
OUTCOMES = {one.value[0]: one for one in Outcome}


def asked(db: Path, *words: str) -> dict[str, object]:
    """What `trainer WORDS --json` tells."""
    command = [sys.executable, "-m", "trainer", *words, "--json", "--db", str(db)]
    done = subprocess.run(command, capture_output=True, check=True, cwd=ROOT)
    told: dict[str, object] = json.loads(done.stdout)
    return told


def furnished(db: Path) -> Desk:
    """A student with two weeks of tries at ten open starts, three of them without any; and
    another one."""
    desk, deck = with_piece(db, "lanterns-along-the-towpath", range(1, 11))
    pupil = desk.students.find()
    for ago in (12, 8, 4, 2):
        past = Desk(desk.store, Clock(desk.clock() - timedelta(days=ago)), desk.new_id, desk.rng)
        assert isinstance(past.clock, Clock)
        for number, letter in TRIED.items():
            past.clock.later(minutes=15)
            past.attempts.add(past.views.of(pupil), deck, number, OUTCOMES[letter])
    desk.students.add("B.")
    return desk


def test_before_the_lesson_and_after_it(tmp_path: Path) -> None:
    """Five minutes before: the three weakest, the untried, the days since each held, one thing to
    try. At the lesson three are heard. After it 7 is split and 8 moved: every attempt is kept."""
    db = tmp_path / "a.db"
    desk = furnished(db)
    student, deck = desk.students.find(), desk.store.pieces.deck(desk.store.pieces.all()[0].id)
    told = asked(db, "lesson", "--student", "K.")
    assert isinstance(told["untried"], list)
    assert isinstance(told["weakest"], list)
    assert [one["number"] for one in told["untried"]] == [3, 5, 9]
    assert {one["number"] for one in told["weakest"]} == {4, 6, 10}
    with trainer(db) as terminal:
        terminal.wait_for("begins.")
        terminal.keys("l")
        page = " ".join(terminal.wait_for("One thing to try").split())
        for one in told["weakest"]:
            assert f"{one['piece']} {one['number']}, {one['place']}" in page
        assert "3, 5 and 9" in page
        assert "4, 6 and 10 (never), 1, 2, 7 and 8 (2)" in page
        assert str(told["one_thing"]) in page
        terminal.keys("h")
        for key, count in (("t", "1 of 3"), ("n", "2 of 3"), ("t", "3 of 3")):
            terminal.wait_for(count)
            terminal.keys(key)
        terminal.wait_for("goes back to the lesson")
        terminal.keys("Enter")
        terminal.wait_for("The three weakest")
        log = desk.store.log.attempts(student.id)
        assert [one.judge for one in log[-3:]] == ["teacher"] * 3
        terminal.keys("p")
        terminal.wait_for("Prepare: Lanterns")
        seven, eight = deck.starts[6], deck.starts[7]
        terminal.keys("n")
        terminal.wait_for("Enter done")
        terminal.type("29")
        terminal.keys("Enter")
        terminal.wait_for("11 starts, 1 not saved")
        while f"Start 9, {'upbeat to b. 31'}" not in terminal.screen():
            before = terminal.screen()
            terminal.keys("Right")
            terminal.wait_change(before)
        terminal.keys(".")
        terminal.wait_for("2 not saved")
        terminal.keys("Enter")
        terminal.wait_for("11 starts, saved")
        terminal.keys("Escape")
        terminal.wait_for("The three weakest")
    after = desk.store.pieces.deck(deck.id)
    (new,) = {start.id for start in after.starts} - {start.id for start in deck.starts}
    assert after.start(new).parent == seven.id
    assert after.start(eight.id).onset > eight.onset
    assert desk.store.log.attempts(student.id) == log
    view = desk.views.of(student)
    assert all(view.retention(start.id).tries >= 4 for start in (seven, eight))
