"""The app in a real terminal: its keys arrive, its screens appear, a kill loses nothing."""

import os
import signal
import sys
import time
from pathlib import Path

import pytest

from tests.terminal import PATIENCE, Terminal, needs_tmux
from tests.ui.stage import small_desk
from trainer.desk import Desk

pytestmark = needs_tmux

CODE = (
    "import sys\n"
    "from pathlib import Path\n"
    "from trainer.cli.common import make_desk\n"
    "from trainer.ui.app import TrainerApp, run\n"
    "sys.exit(run(TrainerApp(lambda: make_desk(Path(sys.argv[1])))))"
)


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return small_desk(tmp_path)


def app(desk: Desk, size: tuple[int, int] = (80, 24), **env: str) -> Terminal:
    root = str(Path(__file__).parents[2])
    command = [sys.executable, "-c", CODE, str(desk.store.path)]
    return Terminal(command, size, {"PYTHONPATH": root, "LC_ALL": "C.UTF-8", **env})


@pytest.mark.parametrize("size", [(80, 24), (60, 20)], ids=["80x24", "60x20"])
def test_a_day(desk: Desk, size: tuple[int, int]) -> None:
    with app(desk, size) as terminal:
        terminal.wait_for("8 starts, about")
        terminal.keys("Enter")
        terminal.wait_for("1 of 8")
        terminal.keys("t")
        terminal.wait_for("went through")
        terminal.keys("n")
        terminal.wait_for("did not begin")
        terminal.keys("e")
        terminal.wait_for("Where did you begin?")
        terminal.keys("Down", "Enter")
        terminal.wait_for("instead")
        terminal.keys("v")
        terminal.wait_for("↓ down")
        terminal.keys("Escape")
        terminal.wait_for("t through")
        terminal.keys("q")
        terminal.wait_for("Enter goes back to Today")
        terminal.keys("Enter")
        terminal.wait_for("3 attempts so far today")
        terminal.keys("r")
        terminal.wait_for("Retention for me")
        terminal.keys("Enter")
        terminal.wait_for("starts open")
        terminal.keys("?")
        terminal.wait_for("Keys of the map")
        terminal.keys("Escape", "Escape", "Escape")
        terminal.wait_for("Today for me")
        terminal.keys("q")
        assert terminal.wait_end() == 0
    assert len(desk.store.log.attempts(desk.students.find().id)) == 3


def test_a_kill_loses_no_recorded_try(desk: Desk) -> None:
    with app(desk) as terminal:
        terminal.wait_for("8 starts, about")
        terminal.keys("Enter")
        for position, letter in enumerate("tsbl", 1):
            terminal.wait_for(f"{position} of ")
            terminal.keys(letter)
        terminal.wait_for("5 of ")
        os.kill(terminal.pid, signal.SIGKILL)
        assert terminal.wait_end() == 128 + signal.SIGKILL
    assert len(desk.store.log.attempts(desk.students.find().id)) == 4


def test_enter_before_the_day_is_known_begins_as_soon_as_it_is(desk: Desk) -> None:
    with app(desk) as terminal:
        terminal.wait_for("Today")
        terminal.keys("Enter")
        terminal.wait_for("1 of 8")


def test_a_terminal_that_is_too_small(desk: Desk) -> None:
    with app(desk, (50, 15)) as terminal:
        terminal.wait_for("Please enlarge the window")
        terminal.resize(60, 20)
        terminal.wait_for("8 starts, about")
        terminal.keys("q")
        assert terminal.wait_end() == 0


def test_without_colour(desk: Desk) -> None:
    with app(desk, NO_COLOR="1") as terminal:
        terminal.wait_for("8 starts, about")
        terminal.keys("Enter")
        terminal.wait_for("1 of 8")


def test_a_database_of_another_kind(tmp_path: Path, desk: Desk) -> None:
    desk.store.path.with_name("other.db").write_text("no database at all " * 100)
    command = [sys.executable, "-c", CODE, str(tmp_path / "other.db")]
    root = str(Path(__file__).parents[2])
    with Terminal(command, (80, 24), {"PYTHONPATH": root, "LC_ALL": "C.UTF-8"}) as terminal:
        screen = terminal.wait_for("--db")  # the last word: the sentence is broken to lines
        assert "Traceback" not in screen
        terminal.keys("q")
        assert terminal.wait_end() == 1


def runs(pid: int) -> bool:
    """Whether a process still runs; one that has ended may wait for its parent."""
    try:
        os.kill(pid, 0)
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except ProcessLookupError:
        return False
    except FileNotFoundError:
        return not Path("/proc/self").exists()


@pytest.mark.parametrize("keys", [(), ("Enter",), ("Enter", "t"), ("o",), ("p",)], ids="+".join)
def test_it_ends_when_its_terminal_is_closed(
    desk: Desk, tmp_path: Path, keys: tuple[str, ...]
) -> None:
    """Wherever it is then; before, it waited for ever in most of such cases."""
    note = tmp_path / "pid"
    code = f"import os; open({str(note)!r}, 'w').write(str(os.getpid()))\n{CODE}"
    command = [sys.executable, "-c", code, str(desk.store.path)]
    root = str(Path(__file__).parents[2])
    with Terminal(command, env={"PYTHONPATH": root, "LC_ALL": "C.UTF-8"}) as terminal:
        terminal.wait_for("8 starts, about")
        for key in keys:
            before = terminal.screen()
            terminal.keys(key)
            terminal.wait_change(before)
    pid, deadline = int(note.read_text()), time.monotonic() + PATIENCE
    while runs(pid) and time.monotonic() < deadline:
        time.sleep(0.02)
    assert not runs(pid)
    assert len(desk.store.log.attempts(desk.students.find().id)) == keys.count("t")
