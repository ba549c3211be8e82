"""Each kind of work killed at random moments; what was confirmed, lost and doubled.

    python -m tests.exchange.kill_all [--kills 200] [--seed 0] [--works NAME ...] [--json]

Run by hand. A work is a command of `works.py`, a drill line by line, a drill on the screens (in a
pseudo-terminal) or two of these drills with commands beside them on one database. The process is
killed (SIGKILL) after a random time, and its file is looked at: it must be sound, each attempt
whose outcome was said or whose next call was shown must be there, at most one more for each
process, none twice; a command must be done whole or not at all.
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

from tests.exchange.test_kills import ready, state
from tests.exchange.works import NAME, WORKS, sound, studio
from tests.store.build import ROOT, open_store
from trainer.cli.common import make_desk
from trainer.demo import STUDENTS, furnish

COMMANDS = {**WORKS, "settings": ["settings", "set", "minutes", "9", "-s", NAME]}
OFTEN = ("record in", "add", "deck in", "erase", "back up", "go back", "settings")
SCORE = "demo_scores/mist-on-the-upper-lock.musicxml"
PLAYER = STUDENTS[0][0]
DRILLS = ("drill, lines", "drill, screens", "all at once")


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

    def __init__(self, folder: Path) -> None:
        self._pid, self._end = pty.fork()
        if not self._pid:
            os.chdir(ROOT)
            words = trainer("drill", "-s", PLAYER)
            os.execve(words[0], words, environment(folder))
        fcntl.ioctl(self._end, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self._said = b""

    def play(self, seconds: float, rng: Random) -> None:
        deadline = time.monotonic() + seconds
        while (left := deadline - time.monotonic()) > 0:
            if select.select([self._end], [], [], min(left, 0.05))[0]:
                with suppress(OSError):
                    self._said += os.read(self._end, 65536)
            if CALL.search(self._said) and rng.random() < 0.5:  # before it the key is another's
                with suppress(OSError):
                    os.write(self._end, b"t")

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
        calls = [int(one) for one in CALL.findall(self._said)]
        return max([call - 1 for call in calls] or [0])


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


def commanded(work: str, folder: Path, ends: tuple[object, object], rng: Random) -> Counter[str]:
    """Kill a command; whether it was done, not done, or by half."""
    process = Popen(trainer(*(word.replace("{}", str(folder)) for word in COMMANDS[work])),
                    cwd=ROOT, env=environment(folder), stdout=PIPE, stderr=DEVNULL)  # fmt: skip
    with suppress(Exception):
        process.wait(rng.uniform(0.15, 1.6))
    process.kill()
    said, ended = process.communicate()[0], process.returncode == 0
    now, _ = state(folder)
    sound(folder / "trainer.db")
    done = shape(now) == ends[1]
    if not done and shape(now) != ends[0]:
        return Counter(half=1)
    lost = (ended or bool(said)) and not done and ends[0] != ends[1]
    return Counter(confirmed=int(ended or bool(said)), lost=int(lost), done=int(done))


def shape(kept: dict[str, list[tuple[object, ...]]]) -> object:
    """How many rows each table has: ids and instants are others each time."""
    return {table: len(found) for table, found in kept.items() if table not in ("tally",)}


def kills(work: str, made: Path, place: Path, times: int, rng: Random) -> Counter[str]:
    if work in DRILLS:
        made = place / "demo"
    found: Counter[str] = Counter()
    ends: tuple[object, object] = (None, None)
    if work in COMMANDS:
        whole = ready(made, place / "whole", work)
        before = shape(state(whole)[0])
        words = trainer(*(word.replace("{}", str(whole)) for word in COMMANDS[work]))
        done = Popen(words, cwd=ROOT, env=environment(whole), stdout=DEVNULL).wait()
        assert not done, work
        ends = (before, shape(state(whole)[0]))
        shutil.rmtree(whole)
    for _ in range(times):
        folder = ready(made, place / "tried", work)
        if work in DRILLS:
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
    parser.add_argument("--works", nargs="+", default=[*DRILLS, *OFTEN])
    parser.add_argument("--json", action="store_true")
    arguments = parser.parse_args()
    failed = False
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
