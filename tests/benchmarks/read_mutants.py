"""Spoilt copies of real scores, read through the real reading process.

`python -m tests.benchmarks.read_mutants COUNT [FOLDER ...] [--first SEED] [--out FILE]` spoils
COUNT scores, as many of each of six formats, and says what came of them: how many were read, how
many refused, and each that broke a rule: an error of another kind than a sentence, more than 20 s
of a processor or 700 MB for at most 20,000 notes. The scores are those of music21's corpus and of
the FOLDERs of up to 60 kB; MIDI files are made of them by music21, MEI by verovio. Seeds are
numbers from SEED (0) on, so a mutant can be made again. With --out each case is written as a line
of JSON. With --preloaded the reading process is not started anew each time but forked from one that
has loaded music21 already, which saves a second each; all else in it is the same.
"""

from __future__ import annotations

import argparse
import importlib
import json
import os
import random
import signal
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any, cast

from tests.benchmarks.read_score import corpus
from tests.score.mutants import FORMATS, Cost, cost, mutant
from trainer.errors import TrainerError
from trainer.score import files, read, reading_process

LARGEST = 60_000  # bytes of a score that is spoilt, packed or not
MOST_SECONDS, MOST_MEGABYTES, MANY_NOTES = 20.0, 700, 20_000


def sources(folders: list[Path], each: int) -> dict[str, list[tuple[str, bytes]]]:
    """Names and bytes of scores, by format, at most `each` of one, drawn by lot."""
    found: dict[str, list[tuple[str, bytes]]] = {kind: [] for kind in FORMATS}
    chance = random.Random(0)
    paths = sorted(path for folder in folders for path in folder.rglob("*") if path.is_file())
    chance.shuffle(paths)
    for path in paths:
        kind = {"xml": "musicxml", "midi": "mid"}.get(path.suffix[1:], path.suffix[1:])
        if kind not in found or len(found[kind]) >= each or path.stat().st_size > LARGEST:
            continue
        try:
            found[kind].append((path.name, files.load(path).data))
        except TrainerError:
            continue
    for name, xml in found["mxl"]:
        if len(found["musicxml"]) < each:
            found["musicxml"].append((name, xml))
    for kind, made in (("mid", _midi), ("mei", _mei)):
        for name, xml in found["mxl"][: each - len(found[kind])]:
            if data := made(xml):
                found[kind].append((name, data))
    return found


def _midi(xml: bytes) -> bytes:
    from music21 import converter
    from music21.exceptions21 import Music21Exception
    from music21.midi.translate import streamToMidiFile

    stream = cast(Any, converter).parseData(files.decoded(xml), format="musicxml")
    try:
        return cast(bytes, cast(Any, streamToMidiFile)(stream).writestr())
    except Music21Exception:  # as where it cannot unfold the repeats
        return b""


def _mei(xml: bytes) -> bytes:
    import verovio

    kit = verovio.toolkit()
    return kit.getMEI().encode() if kit.loadData(files.decoded(xml)) else b""


class Forked:
    """Stands in for the process of a reading: a fork of this one."""

    def __init__(self) -> None:
        to_child, from_parent = os.pipe()
        to_parent, from_child = os.pipe()
        self.pid = os.fork()
        if not self.pid:
            os.dup2(to_child, 0)
            os.dup2(from_child, 1)
            os.closerange(3, 64)
            sys.stdin = os.fdopen(0)
            read.child()
        os.close(to_child)
        os.close(from_child)
        self.stdin, self.stdout = os.fdopen(from_parent, "wb"), os.fdopen(to_parent, "rb")

    def kill(self) -> None:
        os.kill(self.pid, signal.SIGKILL)

    def wait(self) -> int:
        return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])


def preload() -> None:
    """Load all that a reading loads, and fork the readings from here on."""
    from trainer.score import assemble, parsers  # noqa: F401

    parsers.load(0)
    for module in ("musicxml.xmlToM21", "mei", "midi.translate", "abcFormat", "humdrum"):
        importlib.import_module(f"music21.{module}")
    cast(Any, reading_process)._start = Forked


def broken_rule(found: Cost) -> str:
    """The rule that a reading broke, or ""."""
    if found.fault:
        return found.fault
    if found.notes <= MANY_NOTES:
        if found.cpu > MOST_SECONDS:
            return f"{found.cpu:.0f} s"
        if found.megabytes > MOST_MEGABYTES:
            return f"{found.megabytes} MB"
    return ""


def cases(
    seeds: range, folders: list[Path], *, preloaded: bool
) -> Iterator[tuple[str, str, int, Cost]]:
    """Kind, name, seed and cost of each mutant."""
    found = sources(folders, 40)
    if preloaded:
        preload()
    with tempfile.TemporaryDirectory() as folder:
        for seed in seeds:
            kind = FORMATS[seed % len(FORMATS)]
            name, data = found[kind][seed // len(FORMATS) % len(found[kind])]
            path = Path(folder, f"{seed}.{kind}")
            path.write_bytes(mutant(data, kind, str(seed)))
            yield kind, name, seed, cost(path)
            path.unlink()


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("count", type=int)
    parser.add_argument("folders", nargs="*", type=Path)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--preloaded", action="store_true")
    given = parser.parse_args()
    seeds = range(given.first, given.first + given.count)
    outcomes: Counter[tuple[str, str]] = Counter()
    costs: list[Cost] = []
    spoilt = cases(seeds, [corpus(), *given.folders], preloaded=given.preloaded)
    with (given.out or Path("/dev/null")).open("w") as out:
        for kind, name, seed, found in spoilt:
            out.write(json.dumps([kind, name, seed, *found]) + "\n")
            out.flush()
            costs.append(found)
            outcomes[kind, "refused" if found.said else "read"] += 1
            if rule := broken_rule(found):
                print(f"{kind} {name} seed {seed}: {rule}", flush=True)
    for (kind, outcome), number in sorted(outcomes.items()):
        print(f"{kind}: {number} {outcome}")
    dearest = max(costs, key=lambda found: found.cpu)
    most = max(found.megabytes for found in costs)
    print(f"{len(costs)} in all; the dearest took {dearest.cpu:.1f} s of a processor; {most} MB")
    sys.exit(any(broken_rule(found) for found in costs))


if __name__ == "__main__":
    main()
