"""Files that are handed out."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from trainer.errors import TrainerError
from trainer.files import STALE, write_file


def test_what_a_killed_process_left_is_removed_when_nobody_writes_it_any_more(
    tmp_path: Path,
) -> None:
    names = (".a[1].json.0123abcd.part", ".a[1].json.fresh111.part", ".b.json.0123abcd.part")
    for name in names:
        (tmp_path / name).write_text("K.")
    for name in (names[0], names[2]):
        then = time.time() - STALE - 60
        os.utime(tmp_path / name, (then, then))
    write_file(tmp_path / "a[1].json", "x", replace=False)
    assert {file.name for file in tmp_path.iterdir()} == {"a[1].json", *names[1:]}


def test_what_is_there_is_replaced_only_if_that_is_said(tmp_path: Path) -> None:
    file = tmp_path / "a.json"
    write_file(file, "one", replace=False)
    with pytest.raises(TrainerError, match=r"a\.json is there already; choose another"):
        write_file(file, "two", replace=False)
    assert file.read_text() == "one"
    write_file(file, b"two", replace=True)
    assert file.read_text() == "two"
    with pytest.raises(TrainerError, match="cannot be written"):
        write_file(tmp_path, "x", replace=True)
    with pytest.raises(TrainerError, match="broken letter"):
        write_file(file, "\ud800", replace=True)
    assert [one.name for one in tmp_path.iterdir()] == ["a.json"]
