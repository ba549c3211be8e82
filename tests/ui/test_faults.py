"""A fault of the program itself: one plain sentence, no traceback, no name, the terminal as it
was, all that was recorded kept. Each way in which the app can fail is tried in a real terminal."""

from __future__ import annotations

import stat
import sys
from pathlib import Path

import pytest

from tests.command import called
from tests.terminal import Terminal, needs_tmux
from trainer.cli import fault
from trainer.cli.common import make_desk

ROOT = Path(__file__).parents[2]
NAME = "Zebulon"
# What is put in place of a part of the app before it runs; each has the name in a variable.
BROKEN = {
    "a key": "TodayScreen.action_room = lambda self, name: fail()",
    "a drawing": "RetentionScreen.draw = lambda self: fail()",
    "a resize": "Room.on_resize = lambda self: self.app.size.width == 70 and fail()",
    "a thread": "View.plan = property(lambda self: fail())",
    "a timer": "Room.on_screen_resume = lambda self: self.set_timer(0.01, fail)",
    "a style": "RetentionScreen.DEFAULT_CSS = 'RetentionScreen { colour: ' + NAME + '; }'",
    "what the sheets are made of": "RetentionScreen.body = lambda self: fail()",
    "the leaving": "TrainerApp.action_leave = lambda self: fail()",
}
# Runs a command, then says how it ended and how the terminal is set, and waits.
AFTER = ["sh", "-c", '"$@"; echo "ended $?"; stty -a; exec cat', "sh"]
SCRIPT = """
import sys
NAME = {name!r}
from trainer.ui.app import TrainerApp
from trainer.ui.room import Room
from trainer.ui.screens.retention import RetentionScreen
from trainer.ui.screens.today import TodayScreen
from trainer.reports.view import View
from trainer.cli.main import main
def fail():
    student = NAME
    raise KeyError(student)
{broken}
sys.argv[0] = "trainer"
main()
"""


def prepared(folder: Path) -> Path:
    db = folder / "t.db"
    desk = make_desk(db)
    desk.students.choose(desk.students.add(NAME))
    desk.store.settings.set("caution seen", "yes")
    desk.store.close()
    return db


@needs_tmux
@pytest.mark.parametrize("what", BROKEN)
def test_whatever_fails_in_the_app(what: str, tmp_path: Path) -> None:
    db, trace = prepared(tmp_path), tmp_path / "trace.txt"
    script = SCRIPT.format(name=NAME, broken=BROKEN[what])
    command = [*AFTER, sys.executable, "-c", script, "app", "--db", str(db)]
    env = {"PYTHONPATH": str(ROOT), "LC_ALL": "C.UTF-8", "TRAINER_TRACE": str(trace)}
    with Terminal(command, (100, 24), env) as terminal:
        if what not in ("a thread", "a timer", "a resize"):
            terminal.wait_for("r retention")
            terminal.keys("q" if what == "the leaving" else "r")
        if what == "a resize":
            terminal.wait_for("r retention")
            terminal.resize(70, 24)
        terminal.wait_for(f"ended {fault.CODE}")
        terminal.wait_for(" echo ")
        screen = terminal.screen()
        told = screen.replace("\n", "")
        assert "trainer: A fault in the program ended it" in told, screen
        assert "all that was recorded is kept, start it again." in told
        assert not {"Traceback", "locals", NAME} & set(screen.replace("'", " ").split())
        assert NAME not in screen
        assert {"icanon", "isig", "icrnl", "echo"} <= set(screen.split())
        assert terminal._pane("alternate_on") == "0"
        assert terminal._pane("cursor_flag") == "1"
        assert terminal._pane("mouse_any_flag") == "0"
    text = trace.read_text()
    assert "Traceback (most recent call last)" in text or what == "a style"
    assert stat.S_IMODE(trace.stat().st_mode) == 0o600
    desk = make_desk(db)
    assert [one.name for one in desk.store.students.all()] == [NAME]
    desk.store.close()


def broken_command(patch: pytest.MonkeyPatch) -> None:
    from trainer.cli import common

    def fail(_: object) -> None:
        raise IndexError(NAME)

    patch.setattr(common, "make_desk", fail)


def test_whatever_fails_on_the_command_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    broken_command(monkeypatch)
    monkeypatch.delenv("TRAINER_TRACE", raising=False)
    assert called(monkeypatch, "pieces", "--db", tmp_path / "t.db") == fault.CODE
    out, err = capsys.readouterr()
    assert not out
    assert err.count("\n") == 1
    assert "(IndexError, trainer/cli/common.py, line " in err
    assert NAME not in err
    assert not list(tmp_path.iterdir())


def test_a_thread_and_a_late_error_show_no_traceback(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    import threading

    monkeypatch.setenv("TRAINER_TRACE", str(tmp_path / "trace.txt"))

    class Late:
        def __del__(self) -> None:
            raise ValueError(NAME)

    def fail() -> None:
        raise IndexError(NAME)

    with fault.told():
        thread = threading.Thread(target=fail)
        thread.start()
        thread.join()
        Late()
    out, err = capsys.readouterr()
    assert not out
    assert err.startswith("trainer: A fault in the program stopped a part of it (IndexError)")
    assert err.count("\n") == 1
    kept = (tmp_path / "trace.txt").read_text()
    assert "IndexError" in kept
    assert "ValueError" in kept


def test_a_trace_that_cannot_be_kept_is_no_second_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    broken_command(monkeypatch)
    monkeypatch.setenv("TRAINER_TRACE", str(tmp_path / "nowhere" / "trace.txt"))
    assert called(monkeypatch, "pieces", "--db", tmp_path / "t.db") == fault.CODE
    assert capsys.readouterr().err.count("\n") == 1
