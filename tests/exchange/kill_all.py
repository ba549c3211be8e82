"""Each kind of work killed at random moments; what was confirmed, lost and doubled.

    python -m tests.exchange.kill_all [--kills 200] [--seed 0] [--works NAME ...] [--json]

Run by hand. A work is a command of `works.py`, a drill line by line, a drill on the screens (in a
pseudo-terminal), two of these drills with commands beside them on one database, or a piece being
prepared on its screen. The process is killed (SIGKILL) after a random time, and its file is looked
at: it must be sound, each attempt whose outcome was said or whose next call was shown must be
there, at most one more for each process, none twice; each edit of a draft that was counted on the
screen must be kept; a command must be done whole or not at all. A command runs in a process
that is forked with its modules loaded, so that the kill falls into its work: at a moment between
its beginning and half as much again as the time that it took when it was left alone.
"""

from __future__ import annotations

import argparse
import fcntl
import json
import os
import pty
import re
import select
import shutil
import sqlite3
import struct
import sys
import termios
import time
from collections import Counter
from contextlib import closing, suppress
from pathlib import Path
from random import Random
from subprocess import DEVNULL, PIPE, Popen
from tempfile import TemporaryDirectory
from typing import NamedTuple

from tests.exchange.child import load
from tests.exchange.test_kills import ready, state
from tests.exchange.works import NAME, WORKS, sound, studio
from tests.store.build import ROOT, open_store
from trainer.cli import main as command
from trainer.cli.common import make_desk
from trainer.demo import STUDENTS, furnish
from trainer.store import backup

COMMANDS = {**WORKS, "settings": ["settings", "set", "minutes", "9", "-s", NAME]}
OFTEN = ("record in", "add", "deck in", "erase", "back up", "go back", "settings")
SCORE = "demo_scores/mist-on-the-upper-lock.musicxml"
PLAYER = STUDENTS[0][0]
DRILLS = ("drill, lines", "drill, screens", "all at once")
PREPARED = "prepare"
DONE = {"deck in": b"Deck imported"}  # what is said when it is done, where something is said before
ON_DEMO = (*DRILLS, PREPARED)


def trainer(*words: str) -> list[str]:
    return [sys.executable, "-m", "trainer", *words]


def environment(folder: Path) -> dict[str, str]:
    more = {"TRAINER_DB": str(folder / "trainer.db"), "TERM": "xterm-256color"}
    return {**os.environ, **more, "COLUMNS": "80", "LINES": "24"}


def count(folder: Path) -> tuple[int, int]:
    """How many attempts there are, and how many of them are there twice but for their ids."""
    with closing(sqlite3.connect(folder / "trainer.db")) as raw:
        (every,) = raw.execute("SELECT count(*) FROM attempt").fetchone()
        same = "SELECT count(*) FROM (SELECT 1 FROM attempt GROUP BY student, start, at, day)"
        (different,) = raw.execute(same).fetchone()
    return int(every), int(every) - int(different)


CALL = re.compile(rb"(\d+) of \d+")
UNSAVED = re.compile(rb"(\d+) not saved")
BEGUN = re.compile(rb"\d+ starts?, ")
PATIENCE = 60.0  # seconds until a first screenful


class Lines:
    """A drill line by line; `confirmed` counts the outcomes that were said."""

    def __init__(self, folder: Path) -> None:
        words = trainer("drill", "--plain", "--minutes", "60", "-s", PLAYER)
        self._process = Popen(words, cwd=ROOT, env=environment(folder), stdin=PIPE, stdout=PIPE,
                              stderr=DEVNULL)  # fmt: skip
        assert self._process.stdin
        with suppress(BrokenPipeError):
            self._process.stdin.write(b"t\n" * 400)
            self._process.stdin.flush()

    def kill(self) -> int:
        self._process.kill()
        assert self._process.stdout
        said = self._process.stdout.read().decode(errors="replace")
        self._process.wait()
        return len(re.findall(r"^Through; v reads", said, re.M))


class Screens:
    """A drill on the screens; `confirmed` is what the calls shown say of those before them."""

    WORDS: tuple[str, ...] = ("drill",)
    KEYS: tuple[bytes, ...] = (b"t",)
    BEGUN = CALL  # before it a key is another's

    def __init__(self, folder: Path) -> None:
        self._pid, self._end = pty.fork()
        if not self._pid:
            os.chdir(ROOT)
            words = trainer(*self.WORDS, "-s", PLAYER)
            os.execve(words[0], words, environment(folder))
        fcntl.ioctl(self._end, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self._said = b""

    def play(self, seconds: float, rng: Random) -> None:
        """Press keys for so many seconds after the first screenful, which is waited for."""
        deadline, begun = time.monotonic() + PATIENCE, False
        while (left := deadline - time.monotonic()) > 0:
            if select.select([self._end], [], [], min(left, 0.05))[0]:
                try:
                    self._said += os.read(self._end, 65536)
                except OSError:
                    return  # it has ended
            if not begun and self.BEGUN.search(self._said):
                deadline, begun = time.monotonic() + seconds, True
            if begun and rng.random() < 0.5:
                with suppress(OSError):
                    os.write(self._end, rng.choice(self.KEYS))

    def kill(self) -> int:
        os.kill(self._pid, 9)
        while select.select([self._end], [], [], 0)[0]:
            try:
                more = os.read(self._end, 65536)
            except OSError:
                break
            if not more:
                break
            self._said += more
        os.waitpid(self._pid, 0)
        os.close(self._end)
        return self.confirmed(self._said)

    def confirmed(self, said: bytes) -> int:
        return max([int(call) - 1 for call in CALL.findall(said)] or [0])


class Preparing(Screens):
    """A piece on the screen where it is prepared; `confirmed` is how many edits it counted."""

    WORDS = ("prepare", "1")
    KEYS = (b".", b",", b"o", b"\x1b[C")
    BEGUN = BEGUN

    def confirmed(self, said: bytes) -> int:
        return max([int(edits) for edits in UNSAVED.findall(said)] or [0])


def prepared(folder: Path, rng: Random) -> Counter[str]:
    """Kill a preparation; how many edits of its draft were confirmed and lost."""
    screen = Preparing(folder)
    screen.play(rng.uniform(0.0, 6.0), rng)
    confirmed = screen.kill()
    with open_store(folder / "trainer.db") as store:
        drafts = [store.drafts.get(one.id) for one in store.pieces.all()]
    sound(folder / "trainer.db")
    kept = sum(one.here for one in drafts if one)
    return Counter(confirmed=confirmed, lost=max(0, confirmed - kept),
                   unsaid=max(0, kept - confirmed))  # fmt: skip


class Forked:
    """A command in a process of its own, with its modules loaded."""

    def __init__(self, work: str, folder: Path) -> None:
        self._read, write = os.pipe()
        sys.stdout.flush()
        self._pid = os.fork()
        if not self._pid:
            for end in (1, 2):
                os.dup2(write if end == 1 else os.open(os.devnull, os.O_WRONLY), end)
            os.environ.update(environment(folder))
            sys.argv = ["trainer", *(one.replace("{}", str(folder)) for one in COMMANDS[work])]
            code = 99
            try:
                command.main()
                code = 0
            except SystemExit as end_:
                code = int(end_.code or 0)
            finally:
                with suppress(Exception):
                    sys.stdout.flush()
                os._exit(code)
        os.close(write)

    def end(self) -> tuple[bytes, int]:
        """What it said, and how it ended: its exit code, or less than 0 where it was killed."""
        with os.fdopen(self._read, "rb") as pipe:
            said = pipe.read()
        return said, os.waitstatus_to_exitcode(os.waitpid(self._pid, 0)[1])

    def kill(self) -> tuple[bytes, int]:
        os.kill(self._pid, 9)
        return self.end()


def drilled(work: str, folder: Path, rng: Random) -> Counter[str]:
    """Kill drills; how many attempts were confirmed, lost and doubled."""
    before, _ = count(folder)
    lines = [Lines(folder)] if work != "drill, screens" else []
    screens = [Screens(folder) for _ in range({"drill, lines": 0, "all at once": 2}.get(work, 1))]
    seconds = rng.uniform(1.0, 8.0)
    if work == "all at once":
        with suppress(Exception):
            Popen(trainer("today", "-s", PLAYER), cwd=ROOT, env=environment(folder), stdout=DEVNULL,
                  stderr=DEVNULL).wait(60)  # fmt: skip
    for one in screens:
        one.play(seconds / len(screens), rng)
    if not screens:
        time.sleep(seconds)
    every: list[Lines | Screens] = [*lines, *screens]
    confirmed = sum(one.kill() for one in every)
    with open_store(folder / "trainer.db"):
        pass
    sound(folder / "trainer.db")
    now, twice = count(folder)
    return Counter(confirmed=confirmed, lost=max(0, confirmed - (now - before)), doubled=twice,
                   unsaid=max(0, now - before - confirmed))  # fmt: skip


class Ends(NamedTuple):
    """What a command has before it and after it, and how many seconds it takes left alone."""

    before: object
    after: object
    seconds: float


def left_alone(work: str, made: Path, place: Path) -> Ends:
    """The longer of two runs says the time."""
    seconds = 0.0
    for _ in range(2):
        whole = ready(made, place / "whole", work)
        before = shape(state(whole)[0])
        begin = time.monotonic()
        _, code = Forked(work, whole).end()
        seconds = max(seconds, time.monotonic() - begin)
        assert not code, work
        after = shape(state(whole)[0])
        shutil.rmtree(whole)
    return Ends(before, after, seconds)


def commanded(work: str, folder: Path, ends: Ends, rng: Random) -> Counter[str]:
    """Kill a command; whether it was done, not done, or by half."""
    process = Forked(work, folder)
    time.sleep(rng.uniform(0.0, 1.5 * ends.seconds))
    said, code = process.kill()
    now, _ = state(folder)
    for one in (folder / "trainer.db", *copies(folder)):
        sound(one)
    done = shape(now) == ends.after
    if not done and shape(now) != ends.before:
        return Counter(half=1)
    told = code == 0 or (DONE.get(work, b"") in said and bool(said))
    changed = ends.before != ends.after
    return Counter(confirmed=int(told), lost=int(told and changed and not done),
                   done=int(changed and done), ended=int(code >= 0))  # fmt: skip


def copies(folder: Path) -> list[Path]:
    path = folder / "trainer.db"
    return [folder / "trainer.db.backups" / one.name for one in backup.listed(path)]


def shape(kept: dict[str, list[tuple[object, ...]]]) -> object:
    """How many rows each table has: ids and instants are others each time."""
    return {table: len(found) for table, found in kept.items() if table not in ("tally",)}


def kills(work: str, made: Path, place: Path, times: int, rng: Random) -> Counter[str]:
    if work in ON_DEMO:
        made = place / "demo"
    found: Counter[str] = Counter()
    ends = left_alone(work, made, place) if work in COMMANDS else Ends(None, None, 0.0)
    for _ in range(times):
        folder = ready(made, place / "tried", work)
        if work == PREPARED:
            found += prepared(folder, rng)
        elif work in DRILLS:
            found += drilled(work, folder, rng)
        else:
            found += commanded(work, folder, ends, rng)
        found["kills"] += 1
        shutil.rmtree(folder)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200, help="of all works together")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--works", nargs="+", default=[*ON_DEMO, *OFTEN])
    parser.add_argument("--json", action="store_true")
    arguments = parser.parse_args()
    failed = False
    load()
    with TemporaryDirectory() as place:
        made = studio(Path(place) / "made")
        shutil.copy(ROOT / SCORE, made / "score.musicxml")
        (Path(place) / "demo").mkdir()
        desk = make_desk(Path(place) / "demo" / "trainer.db")
        furnish(desk, Random(7))
        desk.store.close()
        for work in arguments.works:
            rng = Random(f"{arguments.seed} {work}")
            times = max(1, arguments.kills // len(arguments.works))
            found = kills(work, made, Path(place), times, rng)
            failed |= bool(found["lost"] or found["doubled"] or found["half"])
            words = ", ".join(f"{value} {name}" for name, value in found.items())
            print(json.dumps({work: found}) if arguments.json else f"{work}: {words}", flush=True)
    sys.exit(int(failed))


if __name__ == "__main__":
    main()
