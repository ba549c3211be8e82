"""Killed, without room, without rights at any step: before or after, never between.

Every command that changes what is kept or writes a file is tried, and a file of every earlier
version is brought up to date. `KILLS=all` in the environment tries every step and every amount of
room; an ordinary run tries some.
"""

from __future__ import annotations

import errno
import json
import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from random import Random
from subprocess import DEVNULL, PIPE, Popen
from tempfile import TemporaryDirectory
from typing import Any

import pytest

from tests.exchange.child import Order
from tests.exchange.works import (
    NAME,
    OLD,
    VERSIONS,
    WORKS,
    carried,
    columns_of,
    database_of,
    kept,
    sound,
    steps_in,
    studio,
)
from tests.store.build import ROOT, open_store
from tests.store.test_care import PUPIL, TRACES, bytes_of
from tests.store.test_processes import small_disk
from trainer.store import backup

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals and rights of POSIX")

ALL = os.environ.get("KILLS") == "all"
SOME = 3  # steps of each work in an ordinary run
PAGE = 4096
REFUSALS = (errno.EACCES, errno.ENOSPC, errno.EROFS)


class Runner:
    """Gives orders to the process that forks; counts the tries."""

    def __init__(self) -> None:
        command = [sys.executable, "-m", "tests.exchange.child"]
        self._child = Popen(command, cwd=ROOT, stdin=PIPE, stdout=PIPE, text=True)
        self.tries = 0

    def __call__(self, order: Order) -> dict[str, Any]:
        assert self._child.stdin
        assert self._child.stdout
        self._child.stdin.write(json.dumps(order._asdict()) + "\n")
        self._child.stdin.flush()
        ended: dict[str, Any] = json.loads(self._child.stdout.readline())
        assert ended["code"] != 99, ended["err"]
        self.tries += 1
        return ended

    def end(self) -> None:
        self._child.communicate()


@pytest.fixture(scope="module")
def runner() -> Iterator[Runner]:
    made = Runner()
    yield made
    made.end()
    print(f"{made.tries} commands were run, killed or refused")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return studio(tmp_path_factory.mktemp("studio") / "made")


def copied(made: Path, to: Path) -> Path:
    shutil.copytree(made, to)
    return to


def ready(made: Path, to: Path, work: str) -> Path:
    """A copy of the studio; for an erasing without the files that others have handed in."""
    copied(made, to)
    if work.startswith("erase"):
        for file in (*to.glob("*.json"), *to.glob("shared/*.json")):
            file.unlink()
        (to / "older.db").unlink()
        (to / "trainer.db.damaged-1").write_bytes(b"Quillon, pupil-8f31c2")
    if work == "repair":
        with closing(sqlite3.connect(to / "trainer.db", isolation_level=None)) as raw:
            for statement in ("DROP INDEX opening_of", "DROP TRIGGER note_no_update"):
                raw.execute(statement)
            raw.execute("INSERT INTO erasing VALUES ('student-1')")
    return to


State = tuple[dict[str, list[tuple[object, ...]]], dict[str, bytes]]


def state(folder: Path) -> State:
    """What is kept, once the next to open it has done so, and the files that were written."""
    with open_store(folder / "trainer.db"):
        pass
    out = sorted((folder / "out").iterdir())
    files = {file.name: file.read_bytes() for file in out if not file.name.startswith(".")}
    return kept(folder / "trainer.db"), files


def settled(folder: Path, before: State, after: State, *, once: bool = False) -> bool:
    """See that a folder is as before or as after, and sound; whether it is as after. Where a work
    writes a file `once` it has changed the rest, or before, both may be on their own."""
    now = state(folder)
    sound(folder / "trainer.db")
    for one in backup.listed(folder / "trainer.db"):
        sound(folder / "trainer.db.backups" / one.name)
    assert now[0] in (before[0], after[0]), _differing(now[0], before[0], after[0])
    assert now[1] in (before[1], after[1])
    if not once:
        assert now in (before, after)
    gone = PUPIL.id not in {row[0] for row in now[0]["student"]}
    if gone:
        assert traces_of(folder) == []
    return now == after


def _differing(now: dict[str, Any], *others: dict[str, Any]) -> list[Any]:
    return [
        (table, [row for row in now[table] if row not in other[table]])
        for other in others
        for table in now
        if now[table] != other[table]
    ]


def traces_of(folder: Path) -> list[bytes]:
    """Of an erased student, apart from the record that was handed out."""
    everything = b"".join(
        path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.parent.name != "out"
    )
    return [trace for trace in TRACES if trace in everything]


def some(steps: int, work: str, most: int = SOME) -> list[int]:
    """Steps at which to try: all, or some spread over the whole work."""
    every = range(1, steps + 1)
    return list(every) if ALL else sorted(Random(work).sample(every, min(most, steps)))


@pytest.mark.parametrize("work", WORKS)
def test_killed_or_refused(work: str, made: Path, tmp_path: Path, runner: Runner) -> None:
    """At every statement and at every file that is opened, renamed, removed or made."""
    words, once = WORKS[work], work == "erase, record first"
    before = state(ready(made, tmp_path / "before", work))
    whole = ready(made, tmp_path / "whole", work)
    ended = runner(Order(words, str(whole)))
    assert (ended["code"], ended["err"]) == (0, ""), ended
    after = state(whole)
    assert after != before or work == "back up"
    steps, ends = ended["steps"], []
    assert len(steps) >= 3
    for step in some(len(steps), work):
        folder = ready(made, tmp_path / "tried", work)
        assert runner(Order(words, str(folder), step)).get("signal") == 9, step
        ends.append(settled(folder, before, after, once=once))
        shutil.rmtree(folder)
    files = [step for step, kind in enumerate(steps, 1) if kind != "sql"]
    for place in some(len(files), f"{work}, refused", 2):
        for error in REFUSALS:
            folder = ready(made, tmp_path / "tried", work)
            step = files[place - 1]
            ended = runner(Order(words, str(folder), step, "refuse", error))
            one_sentence(ended)
            done = settled(folder, before, after, once=once)
            # What could not be tidied away afterwards is no reason to say that it failed.
            assert done or refused(ended) or before == after, (step, steps[step - 1], ended)
            if steps[step - 1] != "os.remove":
                assert not [file for file in (folder / "out").iterdir() if file.name[0] == "."]
            shutil.rmtree(folder)
    print(f"{work}: {len(steps)} steps, killed at {len(ends)}: {ends.count(True)} after")


def refused(ended: dict[str, Any]) -> bool:
    """Whether a command has said that it was refused. Who watches a folder goes on after it."""
    record = [line for line in ended["out"].splitlines() if line.startswith("record.json")]
    return bool(ended["code"] or [line for line in record if "tries" not in line])


def one_sentence(ended: dict[str, Any]) -> None:
    """A refusal is one line."""
    assert ended["code"] in (0, 1), ended
    if ended["code"]:
        said = ended["err"] or ended["out"]
        assert said.count("\n") == 1 or not ended["err"], said
        assert "Traceback" not in said
        assert said.strip()


@pytest.mark.parametrize("last", VERSIONS[:-1])
def test_an_older_file_brought_up_to_date(last: str, tmp_path: Path, runner: Runner) -> None:
    made = tmp_path / "made"
    made.mkdir()
    database_of(made / "trainer.db", last)
    had, columns = steps_in(made / "trainer.db"), columns_of(made / "trainer.db")
    before = carried(made / "trainer.db", columns)
    assert set(columns) - {"erasing", "erasing_left"} == {t for t, rows in before.items() if rows}
    words = ["student", "list"]

    def look(folder: Path) -> bool:
        path = folder / "trainer.db"
        steps = steps_in(path)
        assert steps in (had, VERSIONS)
        assert carried(path, columns) == before
        copies = backup.listed(path)
        assert steps == had or copies
        for one in copies:
            assert steps_in(folder / "trainer.db.backups" / one.name) == had
        with open_store(path) as store:
            assert len(store.log.attempts("student-1")) == 20
            assert [one.id for one in store.log.retractions("student-2")] == ["r1"]
            wrong = [one.what for one in store.faults.repair() if one.weight == "wrong"]
            assert all("deck" in what or "score" in what for what in wrong)
        assert carried(path, columns) == before
        sound(path)
        return steps == VERSIONS

    whole = copied(made, tmp_path / "whole")
    ended = runner(Order(words, str(whole)))
    assert (ended["code"], ended["err"]) == (0, "")
    assert look(whole)
    ends = []
    for step in some(len(ended["steps"]), last):
        folder = copied(made, tmp_path / "tried")
        assert runner(Order(words, str(folder), step)).get("signal") == 9
        ends.append(look(folder))
        shutil.rmtree(folder)
    print(f"{last}: killed at {len(ends)} steps: {ends.count(True)} after")


@pytest.mark.parametrize("last", VERSIONS[:-1])
def test_an_erased_student_in_a_backup_of_an_older_version(last: str, tmp_path: Path) -> None:
    """Such a backup cannot be cleaned; it is removed."""
    path = tmp_path / "trainer.db"
    database_of(path, last)
    with open_store(path) as store:
        assert len(store.backups.all()) == 1
        done = store.erasing.erase(store.students.find_entry("Quillon"))
        assert (done.attempts, done.cleaned, done.removed) == (20, 0, 1)
        assert store.backups.all() == ()
        assert b"Quillon" not in bytes_of(tmp_path)


@pytest.mark.parametrize("work", WORKS)
def test_files_that_may_not_grow(work: str, made: Path, tmp_path: Path, runner: Runner) -> None:
    """No file may grow beyond so many bytes: from one page to enough for all of them."""
    words, once = WORKS[work], work == "erase, record first"
    before = state(ready(made, tmp_path / "before", work))
    whole = ready(made, tmp_path / "whole", work)
    assert runner(Order(words, str(whole)))["code"] == 0
    after = state(whole)
    largest = max(file.stat().st_size for file in whole.rglob("*") if file.is_file())
    pages, told = largest // PAGE + 24, 0
    for page in some(pages, f"{work}, room"):
        folder = ready(made, tmp_path / "tried", work)
        ended = runner(Order(words, str(folder), most=page * PAGE))
        one_sentence(ended)
        told += refused(ended)
        done = settled(folder, before, after, once=once)
        assert done or refused(ended) or before == after, (page, ended)
        shutil.rmtree(folder)
    print(f"{work}: {len(some(pages, work))} amounts of room, {told} refused")


@pytest.fixture(scope="module")
def disk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    with small_disk(tmp_path_factory.mktemp("small") / "disk", "4m") as disk:
        yield disk


@pytest.mark.parametrize("work", WORKS)
def test_a_full_disk(work: str, made: Path, tmp_path: Path, disk: Path, runner: Runner) -> None:
    """With no room, one page, two pages ... until there is enough."""
    words, once = WORKS[work], work == "erase, record first"
    before = state(ready(made, tmp_path / "before", work))
    whole = ready(made, tmp_path / "whole", work)
    assert runner(Order(words, str(whole)))["code"] == 0
    after = state(whole)
    tried = told = enough = 0
    rooms = range(400) if ALL else sorted({0, *Random(work).sample(range(1, 200), SOME - 1)})
    for room in rooms:
        folder = ready(made, disk / f"{work}-{room}", work)
        free = shutil.disk_usage(disk).free
        with (disk / "other").open("wb") as other:
            os.posix_fallocate(other.fileno(), 0, max(1, free - room * PAGE))
        ended = runner(Order(words, str(folder)))
        (disk / "other").unlink()
        one_sentence(ended)
        tried += 1
        told += refused(ended)
        enough = 0 if refused(ended) else enough + 1
        assert "damaged" not in ended["err"], (room, ended)
        done = settled(folder, before, after, once=once)
        assert done or refused(ended) or before == after, (room, ended)
        shutil.rmtree(folder)
        if enough == 8:
            break
    print(f"{work}: {tried} amounts of room on a disk, {told} refused")


SHUT = {"folder": 0o555, "database": 0o444, "backups": 0o555, "out": 0o555, "all": 0o555}


@pytest.mark.parametrize("shut", SHUT)
@pytest.mark.parametrize("work", WORKS)
def test_without_rights(work: str, shut: str, made: Path, runner: Runner) -> None:
    """The folder, the database, the backups, the place of the written file, or all of it, can
    only be read."""
    words, once = WORKS[work], work == "erase, record first"
    with TemporaryDirectory() as place:  # not below tmp_path, which only its owner may enter
        Path(place).chmod(0o777)
        before = state(ready(made, Path(place) / "before", work))
        whole = ready(made, Path(place) / "whole", work)
        ended = runner(Order(words, str(whole)))
        assert ended["code"] == 0, ended
        after = state(whole)
        folder = ready(made, Path(place) / "tried", work)
        _shut(folder, shut)
        ended = runner(Order(words, str(folder), nobody=True))
        one_sentence(ended)
        _open(folder)
        done = settled(folder, before, after, once=once)
        assert done or refused(ended) or before == after, ended


def _shut(folder: Path, shut: str) -> None:
    """Everybody may do everything but this."""
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o777 if path.is_dir() else 0o666)
    chosen = {
        "folder": [folder],
        "database": [folder / "trainer.db"],
        "backups": [folder / "trainer.db.backups"],
        "out": [folder / "out", *(folder / "out").iterdir()],
        "all": [*folder.rglob("*"), folder],
    }[shut]
    for path in chosen:
        path.chmod(0o555 if path.is_dir() else 0o444)


def _open(folder: Path) -> None:
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o755 if path.is_dir() else 0o644)


@pytest.mark.parametrize("damage", ["a page", "all of it"])
def test_a_damaged_file_is_gone_back_from(
    damage: str, made: Path, tmp_path: Path, runner: Runner
) -> None:
    """The backup takes its place; the damaged file is kept under another name."""
    folder = copied(made, tmp_path / "made")
    shutil.rmtree(folder / "trainer.db.backups")
    with open_store(folder / "trainer.db") as store:
        store.backups.make("by hand")
    file = folder / "trainer.db"
    data = file.read_bytes()
    broken = data[:100] + b"\xa5" * 3996 + data[4096:] if damage == "a page" else b"\xa5" * 9999
    file.write_bytes(broken)
    words, after = ["backup", "restore", "1", "--yes"], kept_in(made)
    whole = copied(folder, tmp_path / "whole")
    ended = runner(Order(words, str(whole)))
    assert ended["code"] == 0, ended
    ends = []
    steps = ended["steps"]
    for step, how in ((step, how) for step in some(len(steps), damage, 12) for how in HOW):
        if how == "refuse" and steps[step - 1] == "sql":
            continue
        tried = copied(folder, tmp_path / "tried")
        ended = runner(Order(words, str(tried), step, how, errno.ENOSPC))  # type: ignore[arg-type]
        if how == "refuse":
            one_sentence(ended)
        now = (tried / "trainer.db").read_bytes()
        asides = [one.read_bytes() for one in tried.glob("trainer.db.damaged-*")]
        ends.append(now != broken)
        if ends[-1]:
            assert broken in asides
            assert kept_in(tried) == after
        assert len(backup.listed(tried / "trainer.db")) == len(backup.listed(file))
        shutil.rmtree(tried)
    print(f"rescue: {len(steps)} steps, {len(ends)} tries: {ends.count(True)} after")


HOW = ("kill", "refuse")


def kept_in(folder: Path) -> dict[str, list[tuple[object, ...]]]:
    with open_store(folder / "trainer.db"):
        pass
    sound(folder / "trainer.db")
    return kept(folder / "trainer.db")


RANDOM_KILLS = 60 if ALL else 3


@pytest.mark.parametrize("seed", range(RANDOM_KILLS))
def test_erasing_killed_by_the_clock(tmp_path: Path, made: Path, seed: int) -> None:
    """At any moment, those inside of one statement included."""
    folder = ready(made, tmp_path / "tried", "erase")
    with closing(sqlite3.connect(folder / "trainer.db")) as raw:
        sql = "SELECT count(*) FROM attempt WHERE student = ?"
        (count,) = raw.execute(sql, (PUPIL.id,)).fetchone()
    command = [sys.executable, "-m", "trainer", "erase", NAME, "--yes"]
    environment = {**os.environ, "TRAINER_DB": str(folder / "trainer.db")}
    process = Popen(command, cwd=ROOT, stdout=DEVNULL, stderr=DEVNULL, env=environment)
    journal = folder / "trainer.db-wal"
    while process.poll() is None and not journal.exists():
        pass
    for _ in range(Random(seed).randrange(400_000)):
        pass
    process.kill()
    process.wait()
    with open_store(folder / "trainer.db") as store:
        gone = PUPIL.id not in {one.id for one in store.students.entries()}
        own = [one for one in store.log.attempts(PUPIL.id) if one.student == PUPIL.id]
        assert len(own) == (0 if gone else count)
        assert not gone or traces_of(folder) == []
    sound(folder / "trainer.db")


@pytest.mark.parametrize("words", [["attempts", "--csv"], ["starts", "Study"], ["today", "--json"]])
def test_a_list_for_which_there_is_no_room(words: list[str], made: Path, tmp_path: Path) -> None:
    folder = copied(made, tmp_path / "tried")
    environment = {**os.environ, "TRAINER_DB": str(folder / "trainer.db")}
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "trainer", *words, *(["-s", NAME] if "-s" else [])],
            cwd=ROOT, env=environment, stdout=full, stderr=PIPE, text=True,
        )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.startswith("trainer: The answer could not be printed: ")
    assert done.stderr.count("\n") == 1


def test_an_old_file_stays_where_no_room_is(made: Path) -> None:
    """So that the tests above replace something."""
    assert {file.read_text() for file in (made / "out").iterdir()} == {OLD}
