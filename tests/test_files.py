"""Files that are handed out."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.store.build import ROOT
from trainer.errors import TrainerError
from trainer.files import STALE, _host, write_file

KILLED = """
import os, pathlib, sys
from trainer import files

def killed(path, content):
    path.write_bytes(content[:3])
    os._exit(9)

files._write = killed
files.write_file(pathlib.Path(sys.argv[1]), "K. and more", replace=False)
"""


def left(folder: Path) -> list[str]:
    return sorted(file.name for file in folder.iterdir() if file.name.startswith("."))


def test_what_a_killed_process_left_goes_when_any_file_is_written_there(tmp_path: Path) -> None:
    command = [sys.executable, "-c", KILLED, str(tmp_path / "first.json")]
    assert subprocess.run(command, cwd=ROOT).returncode == 9
    assert len(left(tmp_path)) == 1
    write_file(tmp_path / "second.html", "x", replace=False)
    assert left(tmp_path) == []


def test_what_is_being_written_and_what_is_anothers_stays(tmp_path: Path) -> None:
    """A file of a living process, one from another machine that may still be at it, and files of
    other programs stay; one from another machine goes when it is old."""
    alive = f".trainer-{_host()}-{os.getpid()}-0123abcd.part"
    other = ".trainer-01234567-2-0123abcd.part"
    foreign = (".song.mp3.part", ".trainer-notes.part", f".trainer-{_host()}-x-0123abcd.part")
    for name in (alive, other, *foreign):
        (tmp_path / name).write_text("K.")
    then = time.time() - STALE - 60
    for name in foreign:
        os.utime(tmp_path / name, (then, then))
    write_file(tmp_path / "a.json", "x", replace=False)
    assert left(tmp_path) == sorted((alive, other, *foreign))
    os.utime(tmp_path / other, (then, then))
    write_file(tmp_path / "a.json", "y", replace=True)
    assert left(tmp_path) == sorted((alive, *foreign))


def test_what_is_there_is_replaced_only_if_that_is_said(tmp_path: Path) -> None:
    file = tmp_path / "a.json"
    write_file(file, "one", replace=False)
    with pytest.raises(TrainerError, match=r"a\.json exists already; choose another"):
        write_file(file, "two", replace=False)
    assert file.read_text() == "one"
    write_file(file, b"two", replace=True)
    assert file.read_text() == "two"
    with pytest.raises(TrainerError, match="cannot be written"):
        write_file(tmp_path, "x", replace=True)
    with pytest.raises(TrainerError, match="invalid character"):
        write_file(file, "\ud800", replace=True)
    assert [one.name for one in tmp_path.iterdir()] == ["a.json"]
