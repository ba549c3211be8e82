"""Tries at every start of the demo pieces, heard as in a drill: what comes of them, and what a
look costs.

    python -m tests.benchmarks.hear_tries [--pace 0.7] [--json]

Each start is played in several ways, in uneven time, and a port is looked at thirty times a second
of a clock that is moved. For each way: how many tries came to the outcome that was meant, how many
were over before the player was done, and how many seconds after the last note they were over.
Times are those of this thread on the processor, beside a bare loop over the same events; a flood
is 10,000 random events a second for five seconds.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from random import Random
from statistics import median
from time import thread_time

from trainer.deck.model import Piece
from trainer.demo import demo_pieces
from trainer.listen.alike import identical
from trainer.listen.ear import Ear
from trainer.listen.model import Cluster, Entry, Waiting
from trainer.listen.port import MemoryPort
from trainer.listen.proposal import propose
from trainer.listen.score import waiting
from trainer.listen.signs import Signs
from trainer.record.attempt import Outcome

TICK = 1 / 30
INTO = 4.0  # quarters that are played of the next phrase
PATIENT = 20.0  # seconds after which a try that does not end is given up


@dataclass
class Spent:
    """Seconds on the processor."""

    event: list[float] = field(default_factory=list)
    look: list[float] = field(default_factory=list)
    verdict: list[float] = field(default_factory=list)
    bare: list[float] = field(default_factory=list)


Keys = list[tuple[float, int]]  # seconds and pitch
Ways = dict[str, tuple[Keys, Outcome]]


def played(chords: Sequence[Cluster], at: float, pace: float, rng: Random) -> Keys:
    """Chords from `at` seconds on, `pace` seconds a quarter, each a little early or late."""
    keys = []
    for chord in chords:
        time = at + pace * (chord.onset - chords[0].onset) + rng.gauss(0, 0.03 * pace)
        keys += [(time + rng.uniform(0, 0.02), pitch) for pitch in chord.of("both")]
    return sorted(keys)


def followed(some: Keys, chords: Sequence[Cluster], gap: float, pace: float, rng: Random) -> Keys:
    """And more chords, `gap` seconds after the last key."""
    return some + played(chords, some[-1][0] + gap, pace, rng)


def ways(ready: Waiting, entry: Entry, pace: float, rng: Random) -> Ways:
    """A start played in every way, and the outcome that is meant."""
    clusters, join = ready.clusters, min(entry.join, len(ready.clusters) - 1)
    until = next(
        (i for i in range(join, len(clusters)) if clusters[i].onset > clusters[join].onset + INTO),
        len(clusters),
    )
    whole, half = clusters[entry.at : until], (entry.at + join) // 2

    def from_the_top(at: float = 2.0) -> Keys:
        return played(whole, at, pace, rng)

    first = played(clusters[entry.at : half], 2.0, pace, rng)
    found: Ways = {
        "through": (from_the_top(), Outcome.THROUGH),
        "late": (from_the_top(6.5), Outcome.STOPPED),
    }
    if half - entry.at >= 4:
        written = clusters[half].onset - clusters[half - 1].onset
        found["stop, then on"] = (
            followed(first, clusters[half:until], 3.0 + pace * written, pace, rng),
            Outcome.STOPPED,
        )
        found["begun again"] = (followed(first, whole, 3.0, pace, rng), Outcome.STOPPED)
        found["broken off"] = (first, Outcome.BROKE_OFF)
    others = [
        one
        for one in ready.entries
        if not identical(ready, entry.at, one.at, max(entry.join - entry.at, one.join - one.at))
    ]
    if others:
        other = rng.choice(others)
        wrong = played(clusters[other.at : other.at + 4], 2.0, pace, rng)
        found["wrong, then right"] = (followed(wrong, whole, 2.5, pace, rng), Outcome.STOPPED)
        elsewhere = clusters[other.at : min(other.join + 4, len(clusters))]
        found["elsewhere"] = (played(elsewhere, 2.0, pace, rng), Outcome.ELSEWHERE)
    return found


def one_try(ear: Ear, keys: Keys, spent: Spent) -> tuple[bool, float | None]:
    """Whether it was over too soon, and the seconds from the last key to the end."""
    now = 0.0
    port = MemoryPort(lambda: now)
    at = 0
    while now < keys[-1][0] + PATIENT:
        looked = now + TICK
        while at < len(keys) and keys[at][0] <= looked:
            now = keys[at][0]
            port.play(keys[at][1])
            at += 1
        now = looked
        began = thread_time()
        for event in port.take():
            before = thread_time()
            ear.hear(event)
            spent.event.append(thread_time() - before)
        heard = ear.listen((), now)
        spent.look.append(thread_time() - began)
        if heard.ended:
            return at < len(keys), now - keys[-1][0]
    return False, None


def flood(ready: Waiting, asked: str, spent: Spent) -> None:
    rng = Random(1)
    now = 0.0
    port, ear = MemoryPort(lambda: now), Ear(ready, asked, signs=Signs())
    for number in range(50_000):
        now = number * 1e-4
        port.play(rng.randrange(21, 109))
        if number % 333 == 0:
            began = thread_time()
            ear.listen(port.take(), now)
            spent.look.append(thread_time() - began)
    began = thread_time()
    assert not ear.verdict.accepted
    spent.verdict.append(thread_time() - began)


def spread(seconds: list[float]) -> dict[str, float]:
    """Microseconds."""
    ordered = sorted(seconds)
    at = {"median": len(ordered) // 2, "p99": int(0.99 * len(ordered)), "max": len(ordered) - 1}
    return {name: round(1e6 * ordered[place], 1) for name, place in at.items()}


def rows(pieces: Sequence[Piece], pace: float, spent: Spent) -> Iterator[dict[str, object]]:
    rng, heard = Random(7), defaultdict[str, list[tuple[bool, bool, float | None]]](list)
    for piece in pieces:
        ready = waiting(piece)
        for entry in ready.entries:
            for way, (keys, meant) in ways(ready, entry, pace, rng).items():
                ear = Ear(ready, entry.id, signs=Signs())
                soon, silence = one_try(ear, keys, spent)
                began = thread_time()
                verdict = ear.verdict
                spent.verdict.append(thread_time() - began)
                right = propose(verdict, piece).outcome is meant
                heard[way].append((right, soon, silence))
    for way, tries in heard.items():
        silences = [seconds for _, soon, seconds in tries if seconds is not None and not soon]
        yield {
            "way": way,
            "tries": len(tries),
            "as meant": sum(right for right, _, _ in tries),
            "over too soon": sum(soon for _, soon, _ in tries),
            "never over": sum(seconds is None for _, _, seconds in tries),
            "seconds to the end": round(median(silences), 1) if silences else None,
        }


def main() -> None:
    parser = argparse.ArgumentParser(description="Hear tries at the demo pieces.")
    parser.add_argument("--pace", type=float, default=0.7, help="Seconds a quarter.")
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    pieces, spent, flooded = demo_pieces(), Spent(), Spent()
    table = list(rows(pieces, given.pace, spent))
    for _ in spent.event:
        began = thread_time()
        spent.bare.append(thread_time() - began)
    ready = waiting(pieces[0])
    flood(ready, ready.entries[0].id, flooded)
    costs = {
        "a bare loop": spread(spent.bare),
        "an event": spread(spent.event),
        "a look": spread(spent.look),
        "the verdict": spread(spent.verdict),
        "a look in a flood": spread(flooded.look),
        "its verdict": spread(flooded.verdict),
    }
    if given.json:
        print(json.dumps({"tries": table, "microseconds": costs}, indent=1))
        return
    for row in table:
        print("  ".join(f"{name} {value}" for name, value in row.items()))
    for what, cost in costs.items():
        print(f"{what:<18}", "  ".join(f"{name} {value}" for name, value in cost.items()))


if __name__ == "__main__":
    main()
