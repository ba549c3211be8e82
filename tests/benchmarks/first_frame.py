"""The app's first frame in a terminal against a bare Textual app's, and its first call.

    python -m tests.benchmarks.first_frame [--rounds 15] [--json]

Whole processes from their start, in turn: Textual with five lines of text, and `trainer app`
on a database with one piece and a month of tries. The first call is asked for by pressing
Enter as soon as the first frame stands: once with the plan that the day before left behind, as
after any drill, and once with nothing kept.
"""

from __future__ import annotations

import argparse
import json
import shutil
import statistics
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.benchmarks.pty_clock import BARE, OURS, Process
from tests.benchmarks.season import season
from trainer.cli.common import make_desk


def spread(values: list[float]) -> str:
    """The median, and from the least to the most."""
    return f"{statistics.median(values):.2f} ({min(values):.2f} to {max(values):.2f})"


def one_round(db: Path, planned: Path) -> dict[str, float]:
    """Seconds: the bare first frame, ours, and our first call with and without a kept plan."""
    with Process(BARE) as process:
        bare = process.until(["bare-first-frame"])
    with Process(OURS, "app", "--db", str(db)) as process:
        frame = process.until(["Opening", "Today"])
        process.press("\r")
        call = process.until(["Cold starts"])
    with Process(OURS, "app", "--db", str(planned)) as process:
        process.until(["Opening", "Today"])
        process.press("\r")
        kept = process.until(["Cold starts"])
    return {"bare": bare, "frame": frame, "call": call, "kept": kept}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=15)
    parser.add_argument("--json", action="store_true")
    arguments = parser.parse_args()
    with TemporaryDirectory() as folder:
        db, planned = Path(folder) / "a.db", Path(folder) / "b.db"
        season(db, tries=300).store.close()
        rounds = []
        for number in range(arguments.rounds + 1):
            with make_desk(db).store as store:
                store.caches.drop()
            if not number:
                shutil.copy(db, planned)
                desk = make_desk(planned)
                desk.views.remember(desk.views.of(desk.students.find()))
                desk.store.close()
            rounds.append(one_round(db, planned))
        rounds = rounds[1:]  # the first reads from the disk what the others find in memory
    found = {
        "first frame": [r["frame"] / r["bare"] for r in rounds],
        "first call": [r["kept"] / r["bare"] for r in rounds],
        "first call, nothing kept": [r["call"] / r["bare"] for r in rounds],
    }
    if arguments.json:
        print(json.dumps({**found, "bare seconds": [r["bare"] for r in rounds]}))
        return
    print(f"bare first frame: {spread([1000 * r['bare'] for r in rounds])} ms")
    for name, ratios in found.items():
        print(f"{name}: {spread(ratios)} times that")


if __name__ == "__main__":
    main()
