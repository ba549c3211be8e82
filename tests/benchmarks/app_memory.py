"""Peak memory of the app against a bare Textual app's.

    python -m tests.benchmarks.app_memory [--rounds 5] [--json]

Both run in a terminal of their own: Textual with five lines of text, and `trainer app` on a
database with one piece and a year of tries, through a drill, retention and the
map. The peak is what the system says of the process at its end (ru_maxrss of getrusage).
"""

from __future__ import annotations

import argparse
import json
import statistics
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.benchmarks.pty_clock import BARE, OURS, Process
from tests.benchmarks.season import season


def spread(values: list[float]) -> str:
    """The median, and from the least to the most."""
    return f"{statistics.median(values):.2f} ({min(values):.2f} to {max(values):.2f})"


def bare() -> int:
    with Process(BARE) as process:
        process.until(["bare-first-frame"])
        process.press("\x11")  # control and q
        return process.peak()


def ours(db: Path) -> int:
    """A drill, retention and the map, each waited for."""
    with Process(OURS, "app", "--db", str(db)) as process:
        process.until(["begins."])
        process.press("\r")
        process.until([" 1 of "])
        for number in (2, 3):
            process.press("t")
            process.until([f" {number} of "])
        process.press("q")
        process.until(["at the first"])
        process.press("q")
        process.until(["so far today"])
        process.press("r")
        process.until(["Retention for"])
        process.press("\x1b")
        process.until(["so far today"])
        process.press("m")
        process.until(["starts open"])
        process.press("\x11")
        return process.peak()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--json", action="store_true")
    arguments = parser.parse_args()
    rounds = []
    for _ in range(arguments.rounds):
        with TemporaryDirectory() as folder:
            db = Path(folder) / "a.db"
            season(db, tries=5_000).store.close()
            rounds.append((ours(db), bare()))
    ratios = [one / other for one, other in rounds]
    if arguments.json:
        print(json.dumps({"ratio": ratios, "bytes": rounds}))
        return
    print(f"peak memory: {spread(ratios)} times a bare Textual app's")
    for name, values in zip(("ours", "bare"), zip(*rounds, strict=True), strict=True):
        print(f"{name}: {spread([value / 2**20 for value in values])} MiB")


if __name__ == "__main__":
    main()
