"""The recital's, the students' and the other screens in a real terminal: a dress rehearsal."""

import sys
from datetime import timedelta
from pathlib import Path

import pytest

from tests.pieces import today
from tests.terminal import Terminal, needs_tmux
from tests.ui.test_in_terminal import CODE
from tests.ui.test_recital import before_a_concert
from trainer.desk import Desk
from trainer.record.people import ProgrammeItem, Recital

pytestmark = needs_tmux


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """With a concert twelve days from now: the app in the terminal has the real clock."""
    made = before_a_concert(tmp_path)
    day = today() + timedelta(days=12)
    student = made.students.find()
    made.store.recitals.save(Recital("r", student.id, "Concert", day, (ProgrammeItem("deck"),)))
    return made


def app(desk: Desk, size: tuple[int, int], **env: str) -> Terminal:
    root = str(Path(__file__).parents[2])
    command = [sys.executable, "-c", CODE, str(desk.store.path)]
    return Terminal(command, size, {"PYTHONPATH": root, "LC_ALL": "C.UTF-8", **env})


@pytest.mark.parametrize("size", [(80, 24), (60, 20)], ids=["80x24", "60x20"])
def test_a_dress_rehearsal(desk: Desk, size: tuple[int, int]) -> None:
    """A slip at b. 17 is logged at once, and told afterwards with where it went on; then a
    student is added, and the words become American."""
    with app(desk, size, NO_COLOR="1") as terminal:
        terminal.wait_for("o more")
        terminal.keys("d")
        terminal.wait_for("Run-through")
        terminal.keys("7", "Enter")
        terminal.wait_for("No slip yet.")
        terminal.keys("s")
        terminal.wait_for("1 slip so far.")
        terminal.keys("Enter")
        terminal.wait_for("Enter goes back to Today")
        terminal.keys("w")
        terminal.wait_for("At which bar?")
        terminal.type("17")
        terminal.keys("Enter")
        terminal.wait_for("where did you go on?")
        terminal.keys("7", "Enter")
        terminal.wait_for("b. 17; went on at start 7")
        terminal.keys("Enter")
        terminal.wait_for("Today for me")
        terminal.keys("e")
        terminal.wait_for("[programme]")
        terminal.keys("Right", "Left", "Left")
        terminal.wait_for("[last days]")
        terminal.keys("Escape")
        terminal.wait_for("Today for me")
        terminal.keys("f")
        terminal.wait_for("How accurate the forecasts")
        terminal.keys("Escape")
        terminal.wait_for("Today for me")
        terminal.keys("t")
        terminal.wait_for("Settings for me")
        terminal.keys(*["Down"] * 8, "Enter")
        terminal.wait_for("Words for me?")
        terminal.keys("2", "Enter")
        terminal.wait_gone("0-9")
        terminal.keys("Escape")
        terminal.wait_for("Today for me")
        terminal.keys("s")
        terminal.wait_for("Who is practising?")
        terminal.keys("a")
        terminal.wait_for("A new student")
        terminal.type("K.")
        terminal.keys("Enter")
        terminal.wait_for("2  K.")
        terminal.keys("Enter")
        terminal.wait_for("Today for K.")
        terminal.keys("q")
        assert terminal.wait_end() == 0
    me = desk.store.students.find("me")
    (slip,) = [one for one in desk.views.of(me).attempts if one.elsewhere]
    assert (slip.start, slip.elsewhere) == ("deck-s5", "deck-s7")
    assert desk.settings.get(me, "words") == "american"


def test_being_stopped_and_going_on(desk: Desk) -> None:
    """The interruption comes by itself."""
    with app(desk, (80, 24)) as terminal:
        terminal.wait_for("o more")
        terminal.keys("d")
        terminal.wait_for("Recovery")
        terminal.keys("8", "Enter")
        terminal.wait_for("1 of 5")
        terminal.keys("Enter")
        terminal.wait_for("STOP.")
        terminal.keys("t")
        terminal.wait_for("went on from the next start")
        terminal.keys("q")
        terminal.wait_for("1 of 1 time.")
        terminal.keys("Enter", "q")
        terminal.wait_gone("1 of 1 time.")
        terminal.wait_end()
    assert [a.drill for a in desk.views.of(desk.students.find()).attempts][-1] == "slip"
