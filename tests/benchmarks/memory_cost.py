"""What the memory and the planner cost, beside plain numpy over arrays of the same size.

    python -m tests.benchmarks.memory_cost [--full]

prints, at a tenth, once and (with --full) ten times the size: taking up one attempt, replaying
a log, and a plan after the first. The yardstick is one numpy pass (multiply, add, exp, sum) over
as many floats as the beliefs hold, in the same run; absolute times are a guide only.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from random import Random
from statistics import median

import numpy as np

from tests.memory.build import deck, opened
from trainer.memory.evidence import Try, weigh
from trainer.memory.model import Beliefs, believe
from trainer.memory.planner import plan
from trainer.record.attempt import Attempt, Outcome, practice_day
from trainer.record.people import ProgrammeItem, Recital, Student

BEGIN = datetime(2025, 1, 6, 17, 0, tzinfo=UTC)
OUTCOMES = (Outcome.THROUGH, Outcome.STOPPED, Outcome.LOOKED, Outcome.NOTHING)


def log(attempts: int, starts: int) -> list[Attempt]:
    """A hundred tries a day, of starts drawn at random; about seven in ten hold."""
    rng = Random(3)
    made = []
    for index in range(attempts):
        at = BEGIN + timedelta(days=index // 100, seconds=30 * (index % 100))
        outcome = rng.choices(OUTCOMES, (6, 1, 2, 1))[0]
        start = f"s{rng.randrange(starts) + 1}"
        made.append(
            Attempt(f"{index:08}", "p", "d", "r", start, "m", at, practice_day(at), outcome)
        )
    return made


def timed(call: Callable[[], object], rounds: int) -> list[float]:
    call()
    found = []
    for _ in range(rounds):
        begun = time.perf_counter()
        call()
        found.append(time.perf_counter() - begun)
    return found


def numpy_pass(cells: int) -> Callable[[], object]:
    values = np.linspace(0.1, 1.0, max(cells, 1))
    return lambda: float(np.exp(values * -1.3 + 0.2).sum())


def line(what: str, size: str, ours: list[float], plain: list[float]) -> str:
    ratios = sorted(a / b for a, b in zip(ours, plain, strict=True))
    return (
        f"{what:34} {size:24} {1000 * median(ours):10.2f} ms   ratio {median(ratios):8.1f} "
        f"({ratios[0]:.1f}-{ratios[-1]:.1f})"
    )


def cells(beliefs: Beliefs) -> int:
    """The floats that the beliefs hold for starts and joins."""
    return beliefs.table.size if beliefs.table is not None else 0


def size(attempts: int, starts: int, rounds: int) -> None:
    piece = deck(starts)
    decks = {"d": piece}
    made = log(attempts, starts)
    begun = time.perf_counter()
    tries = weigh(made, decks)
    weighed = time.perf_counter() - begun
    replays = timed(lambda: believe(tries), rounds)
    beliefs = believe(tries)
    held = cells(beliefs)
    named = f"{attempts:,} tries, {starts:,} starts"
    passes = timed(numpy_pass(held), rounds)
    print(line("replay, a try, to one pass a try", named, replays, [p * attempts for p in passes]))
    print(f"{'  (replay in all; weighing the log)':34} {named:24} {median(replays):10.2f} s    "
          f"{weighed:.2f} s")  # fmt: skip
    one: tuple[Try, ...] = tries[-1:]
    per_try = held // max(1, len({t.start for t in tries}))
    print(line("one attempt taken up", named, timed(lambda: beliefs.taken(one), rounds),
               timed(numpy_pass(per_try), rounds)))  # fmt: skip
    now = made[-1].at + timedelta(days=1)
    recital = Recital("r", "p", "C", now.date() + timedelta(days=30), (ProgrammeItem("d"),))
    open_ = opened([s.id for s in piece.starts])
    student = Student("p", "P", minutes=20)

    def planned() -> object:
        return plan(student, beliefs, open_, decks, (recital,), now)

    print(line("a plan after the first", named, timed(planned, rounds),
               timed(numpy_pass(held), rounds)))  # fmt: skip


def main() -> None:
    asked = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    asked.add_argument("--full", action="store_true", help="also 100,000 tries over 2,000 starts")
    full = asked.parse_args().full
    for attempts, starts in ((1_000, 20), (10_000, 200), *([(100_000, 2_000)] if full else [])):
        size(attempts, starts, rounds=5 if attempts < 50_000 else 2)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory {peak:.0f} MB", file=sys.stderr)


if __name__ == "__main__":
    main()
