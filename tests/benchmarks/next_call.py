"""From the key of an outcome to the next call on the screen, the attempt committed, against one
bare durable insert and one bare screen update.

    python -m tests.benchmarks.next_call [FOLDER] [--tries 500] [--sizes 1000 10000 100000] [--json]

Two processes in terminals of their own take keys in turn: the app in a drill, and Textual with
one line of text and Python's own sqlite3 (WAL, synchronous FULL, one table, a commit a key).
Time runs from writing the key to reading the new number. What either has shown survives a
kill of the process; a power cut as far as the disk keeps its word on what it was told to sync.
FOLDER should be on the disk that is meant.
"""

from __future__ import annotations

import argparse
import json
import statistics
import time
from collections.abc import Iterator
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

from tests.benchmarks.pty_clock import Process
from tests.benchmarks.season import season

SIZES = (1_000, 10_000, 100_000)
ROUNDS = 5

BARE = """
import sqlite3, sys
from textual.app import App
from textual.widgets import Static

class Bare(App):
    BINDINGS = [("t", "next", "")]

    def compose(self):
        yield Static("0 of bare", id="call")

    def on_mount(self):
        self.count = 0
        self.db = sqlite3.connect(sys.argv[1], isolation_level=None)
        self.db.execute("PRAGMA journal_mode = WAL")
        self.db.execute("PRAGMA synchronous = FULL")
        self.db.execute("CREATE TABLE attempt (id, start, at, outcome, seconds)")

    def action_next(self):
        self.count += 1
        row = (str(self.count), "start", 1767225600000000, "through", 20.0)
        self.db.execute("INSERT INTO attempt VALUES (?, ?, ?, ?, ?)", row)
        self.query_one("#call").update(f"{self.count} of bare")

Bare().run()
"""
OURS = """
import sys
from pathlib import Path
from msgspec.structs import replace
from trainer.cli.common import make_desk
from trainer.desk import call
from trainer.desk.exercises import Exercises
from trainer.ui.app import TrainerApp, run

class Long(Exercises):
    def drill(self, view, **more):
        session = super().drill(view, **more)
        return replace(session, calls=tuple(call(*found) for found in view.starts()) * 400)

def long_desk():
    desk = make_desk(Path(sys.argv[1]))
    desk.exercises = Long(desk.store, desk.clock, desk.new_id, desk.rng)
    return desk

run(TrainerApp(long_desk, drill=True))
"""


def spread(values: list[float]) -> str:
    """The median, and from the least to the most."""
    return f"{statistics.median(values):.2f} ({min(values):.2f} to {max(values):.2f})"


def percentile(values: list[float], share: float) -> float:
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


def key_to_call(process: Process, wanted: str, rng: Random) -> float:
    """Seconds from the key to what it brings. Textual draws at most sixty times a second, so
    the keys come at any moment between two of its frames, as a person's do."""
    time.sleep(rng.uniform(0, 0.04))
    begin = time.perf_counter()
    process.press("t")
    process.until([wanted])
    return time.perf_counter() - begin


def measure(folder: Path, size: int, tries: int) -> dict[str, Any]:
    """Ratios of ours to the bare one, one for each round, and our milliseconds."""
    db = folder / f"{size}.db"
    season(db, tries=size).store.close()
    found: dict[str, Any] = {"attempts": size, "median": [], "p99": [], "p99 ms": [], "bare ms": []}
    rng = Random(size)
    with Process(BARE, str(folder / f"bare-{size}.db")) as bare, Process(OURS, str(db)) as ours:
        bare.until(["0 of bare"])
        ours.until([" 1 of "])
        count = 0
        for _ in range(ROUNDS):
            one, other = [], []
            for _ in range(tries // ROUNDS):
                count += 1
                one.append(key_to_call(ours, f" {count + 1} of ", rng))
                other.append(key_to_call(bare, f"{count} of bare", rng))
            found["median"].append(statistics.median(one) / statistics.median(other))
            found["p99"].append(percentile(one, 0.99) / percentile(other, 0.99))
            found["p99 ms"].append(1000 * percentile(one, 0.99))
            found["bare ms"].append(1000 * percentile(other, 0.99))
    return found


def main() -> None:
    for found in results():
        print(found, flush=True)


def results() -> Iterator[str]:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--tries", type=int, default=500)
    parser.add_argument("--sizes", type=int, nargs="+", default=SIZES)
    parser.add_argument("--json", action="store_true")
    arguments = parser.parse_args()
    for size in arguments.sizes:
        with TemporaryDirectory(dir=arguments.folder) as folder:
            found = measure(Path(folder), size, arguments.tries)
        if arguments.json:
            yield json.dumps(found)
        else:
            attempts = found.pop("attempts")
            words = ", ".join(f"{name} {spread(values)}" for name, values in found.items())
            yield f"{attempts:>7} attempts: {words}"


if __name__ == "__main__":
    main()
