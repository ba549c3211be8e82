"""How the program ends, and what it meets that is odd: one sentence each, nothing left behind."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path
from subprocess import PIPE

import pytest

from tests.command import Run, runner
from tests.store.build import ROOT, open_store
from tests.terminal import Terminal, needs_tmux
from trainer.cli import demo
from trainer.listen.midi import open_port
from trainer.record.join import Joining
from trainer.store.store import Store

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals and rights of POSIX")
TRAINER = [sys.executable, "-m", "trainer"]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    return runner(tmp_path, monkeypatch, capsys)


QUESTIONS = [["erase", "A", "--yes"], ["erase", "A"], ["drill", "--plain"], ["today"], []]


@pytest.mark.parametrize("words", QUESTIONS)
def test_a_closed_standard_input(words: list[str], run: Run, tmp_path: Path) -> None:
    run("student", "add", "A")
    command = f"{sys.executable} -m trainer {' '.join(words)} 0<&-"
    environment = {**os.environ, "TRAINER_DB": str(tmp_path / "t.db")}
    done = subprocess.run(
        ["sh", "-c", command], cwd=ROOT, env=environment, capture_output=True, text=True
    )
    assert "Traceback" not in done.stderr
    assert done.returncode == (130 if words == ["erase", "A"] else 0), done
    assert "Stopped" in done.stderr or not done.returncode


@needs_tmux
@pytest.mark.parametrize("words", [["app"], ["demo"], ["drill", "--plain"]])
def test_told_to_end(words: list[str], run: Run, tmp_path: Path) -> None:
    """The terminal is as it was: its own screen, the cursor, and what is typed is seen."""
    run("student", "add", "A")
    environment = {"TRAINER_DB": str(tmp_path / "t.db"), "TMPDIR": str(tmp_path)}
    shell = "stty -a > before; "
    shell += f"{' '.join([*TRAINER, *words])}; echo ended $?; stty -a > after; read _"
    with Terminal(["sh", "-c", f"cd {tmp_path}; PYTHONPATH={ROOT}; export PYTHONPATH; {shell}"],
                  env=environment) as terminal:  # fmt: skip
        if words == ["drill", "--plain"]:
            terminal.wait_for("ended 0")  # with no piece there is nothing to wait for
            return
        terminal.wait_for("? help" if words == ["demo"] else "I have read this")
        children = subprocess.run(
            ["pgrep", "-f", f"^{re.escape(' '.join([*TRAINER, *words]))}"],
            stdout=PIPE, text=True, check=True,
        ).stdout.split()  # fmt: skip
        mine = [int(one) for one in children if _has(int(one), str(tmp_path))]
        assert len(mine) == 1
        os.kill(mine[0], signal.SIGTERM)
        terminal.wait_for("ended 143")
        modes = ("alternate_on", "cursor_flag", "mouse_any_flag")
        assert [terminal._pane(mode) for mode in modes] == ["0", "1", "0"]
        terminal.keys("Enter")
        terminal.wait_end()
    assert (tmp_path / "before").read_text() == (tmp_path / "after").read_text()
    assert not list(tmp_path.glob("trainer-demo-*"))


def _has(process: int, text: str) -> bool:
    return text.encode() in Path(f"/proc/{process}/environ").read_bytes()


def test_a_file_that_is_handed_out_is_for_its_owner(run: Run, tmp_path: Path) -> None:
    run("student", "add", "A")
    before = os.umask(0)
    try:
        assert run("records", "out", tmp_path / "a.json")[0] == 0
    finally:
        os.umask(before)
    assert (tmp_path / "a.json").stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("length", [255, 256, 300])
def test_names_as_long_as_a_file_may_have(length: int, run: Run, tmp_path: Path) -> None:
    run("student", "add", "A")
    file = tmp_path / ("x" * (length - 5) + ".json")
    for words in (["records", "out", file], ["records", "in", file], ["add", file],
                  ["today", "--db", file]):  # fmt: skip
        code, out, err = run(*words)
        assert code in (0, 1)
        assert "Traceback" not in out + err
        assert err.count("\n") <= 1
    assert not list(tmp_path.glob(".*"))


@pytest.mark.parametrize("port", ["0", "-1", "65536", "99999", "123456", "9" * 20])
def test_an_odd_port(port: str) -> None:
    with pytest.raises(Exception, match=f"^{port} is not a port; write HOST:PORT"):
        open_port(f"localhost:{port}", waits=True)


def test_a_joining_to_an_entry_that_is_not_here_is_taken_back(run: Run, tmp_path: Path) -> None:
    run("student", "add", "A")
    with open_store(tmp_path / "t.db") as store:
        _join(store)
    assert run("records", "part", "A")[0] == 0
    with open_store(tmp_path / "t.db") as store:
        assert [one.joined for one in store.log.joinings()] == [True, False]


def _join(store: Store) -> None:
    (student,) = store.students.entries()
    store.log.append(Joining("j", student.id, "somebody", True, store.machine, store._now()))


def test_the_database_of_a_demo_that_was_killed_goes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    for process in (ended.pid, os.getpid()):
        (tmp_path / f"{demo.PREFIX}{process}-a").mkdir()
        (tmp_path / f"{demo.PREFIX}{process}-a" / "demo.db").touch()
    (tmp_path / "trainer-demo-of-mine").mkdir()
    demo._tidy()
    left = {one.name for one in tmp_path.iterdir()}
    assert left == {f"{demo.PREFIX}{os.getpid()}-a", "trainer-demo-of-mine"}
