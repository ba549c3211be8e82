"""Real processes: killed, racing, writing at once, on a full disk."""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from random import Random
from subprocess import PIPE, Popen

import pytest

from tests.store.build import ROOT, STUDENT, attempt, child, open_store
from trainer.errors import TrainerError

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals and limits of POSIX")

KILLS = 6
RACES = 5


def _start(*arguments: str | Path) -> Popen[str]:
    return Popen(child(*arguments), cwd=ROOT, stdin=PIPE, stdout=PIPE, text=True)


def _line(process: Popen[str]) -> str:
    assert process.stdout
    return process.stdout.readline().strip()


def _new(path: Path) -> Path:
    with open_store(path) as store:
        store.students.save(STUDENT)
    return path


def _kept(path: Path) -> set[str]:
    """The ids of the attempts in a sound file."""
    with open_store(path) as store:
        ids = {one.id for one in store.log.attempts(STUDENT.id)}
        store.log.append(attempt(0, id="still-works"))
    with closing(sqlite3.connect(path)) as raw:
        assert raw.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    return ids


@pytest.mark.parametrize("seed", range(KILLS))
def test_a_kill_loses_nothing_that_append_returned_for(tmp_path: Path, seed: int) -> None:
    path = _new(tmp_path / "trainer.db")
    process = _start("append_some", path, "a", "100000")
    said = {_line(process) for _ in range(Random(seed).randrange(1, 300))}
    process.kill()
    assert process.stdout
    rest = process.stdout.read()  # with what was read ahead of the lines
    process.wait()
    said |= set(rest.split("\n")[:-1])  # without a line that was cut off
    assert process.returncode == -9
    kept = _kept(path)
    assert said <= kept
    assert len(kept - said) <= 1  # the one that was written but not yet said


@pytest.mark.parametrize("race", range(RACES))
def test_several_processes_make_one_file(tmp_path: Path, race: int) -> None:
    path = tmp_path / "trainer.db"
    processes = [_start("make", path) for _ in range(4)]
    assert [_line(process) for process in processes] == ["ready"] * 4
    for process in processes:
        assert process.stdin
        process.stdin.write("go\n")
        process.stdin.flush()
    machines = {process.communicate()[0].strip() for process in processes}
    assert [process.returncode for process in processes] == [0] * 4
    assert len(machines) == 1, race
    with open_store(path) as store:
        assert {store.machine} == machines
        assert store.students.all() == (STUDENT,)


def test_two_writers_at_once(tmp_path: Path) -> None:
    path = _new(tmp_path / "trainer.db")
    writers = [_start("append_some", path, name, "300") for name in ("a", "b")]
    said = [id_ for writer in writers for id_ in writer.communicate()[0].split()]
    assert [writer.returncode for writer in writers] == [0, 0]
    assert len(said) == 600
    assert _kept(path) == set(said)


def _fill(path: Path, *limit: str) -> None:
    """Append in a child until it is refused, and see that nothing was lost by it."""
    done = subprocess.run(
        child("append_until_refused", path, "a", *limit),
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stderr == ""
    *said, refusal, readable = done.stdout.splitlines()
    assert "make room" in refusal or "full or faulty" in refusal
    assert readable == f"readable: {len(said)}"
    assert len(said) > 50


def test_a_file_that_may_not_grow(tmp_path: Path) -> None:
    path = _new(tmp_path / "trainer.db")
    _fill(path, "1000000")
    assert "still-works" not in _kept(path)


@contextmanager
def small_disk(folder: Path, size: str = "1500k") -> Iterator[Path]:
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(folder)]
    if not shutil.which("mount") or subprocess.run(mount, capture_output=True).returncode:
        pytest.skip("no right to mount a small disk here")
    try:
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk") as disk:
        path = _new(disk / "trainer.db")
        (disk / "other").write_bytes(b"x" * 150_000)
        _fill(path)
        (disk / "other").unlink()
        assert "still-works" not in _kept(path)


def test_a_disk_without_room_for_a_new_file(tmp_path: Path) -> None:
    with small_disk(tmp_path / "disk") as disk:
        (disk / "other").write_bytes(b"x" * 1_480_000)
        with pytest.raises(TrainerError, match="full"):
            open_store(disk / "trainer.db")
        (disk / "other").unlink()
        with open_store(disk / "trainer.db") as store:
            store.students.save(STUDENT)


def test_the_store_loads_nothing_heavy_until_a_file_is_opened() -> None:
    question = "import sys, trainer.store.store; print({'sqlite_utils', 'numpy'} & {*sys.modules})"
    done = subprocess.run(
        [sys.executable, "-c", question], cwd=ROOT, stdout=PIPE, text=True, check=True
    )
    assert done.stdout.strip() == "set()"
