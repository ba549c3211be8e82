"""Whole performances aligned note by note: the product's follower beside a published aligner.

    python -m tests.benchmarks.against_aligner [--json]

Needs the package parangonar (Peter, Widmer and others; arXiv 2309.12134 and 2408.04309), which
nothing else of the project does: without it one sentence is printed. Both get the same notes: the
recorded performance that the package carries, and the demo pieces as made up performances, clean
and with wrong, missed and added notes, and with breaks where the playing goes back. A demo piece
of which both do not read the same notes is left out. A pair is a played note and the written one
that it was meant for; F weighs found against right pairs, and a unison has only one of its two. The
aligner has all notes at once and knows nothing of breaks; the follower hears one after the other.
"""

from __future__ import annotations

import argparse
import json
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import Any

import numpy as np

from tests.pieces import piece_of
from trainer.deck.model import Piece
from trainer.listen.follow import Follower
from trainer.listen.model import Heard
from trainer.score.read import read_score

HERE = Path(__file__).parents[2]
FINE = 48  # places are compared to this part of a quarter
PACE = 0.5  # seconds a quarter
WAYS = {"clean": (0.0, False), "5 % errors": (0.05, False), "15 % errors": (0.15, False)}
BREAKS = {"3 breaks": (0.03, True)}

Pairs = set[tuple[int, str]]  # the number of the played note, the id of the written one


@dataclass(frozen=True)
class Performance:
    """`written` and `played` are the aligner's own tables of notes, `truth` the right pairs."""

    name: str
    way: str
    piece: Piece
    written: Any
    played: Any
    truth: Pairs


def main() -> None:
    parser = argparse.ArgumentParser(description="The follower beside a published aligner.")
    parser.add_argument("--json", action="store_true")
    given = parser.parse_args()
    if find_spec("parangonar") is None:
        print("Skipped: the package parangonar is not installed.")
        return
    warnings.simplefilter("ignore")
    rows = [row(one) for one in (*recorded(), *made_up())]
    if given.json:
        print(json.dumps(rows, indent=1))
        return
    for one in rows:
        print("  ".join(f"{name} {value}" for name, value in one.items()))


def row(one: Performance) -> dict[str, object]:
    began = perf_counter()
    ours = followed(one)
    between = perf_counter()
    theirs = aligned(one)
    ended = perf_counter()
    count = len(one.played)
    return {
        "performance": one.name,
        "way": one.way,
        "notes": count,
        "follower F": round(f_score(ours, one.truth), 4),
        "aligner F": round(f_score(theirs, one.truth), 4),
        "follower ms a note": round(1000 * (between - began) / count, 2),
        "aligner ms a note": round(1000 * (ended - between) / count, 2),
    }


def f_score(found: Pairs, truth: Pairs) -> float:
    return 2 * len(found & truth) / max(1, len(found) + len(truth))


def followed(one: Performance) -> Pairs:
    order, ids = np.argsort(one.played["onset_sec"], kind="stable"), named(one.piece, one.written)
    follower, numbers = Follower(one.piece), {}
    for number in order.tolist():
        note = Heard(int(one.played["pitch"][number]), float(one.played["onset_sec"][number]))
        numbers[id(note)] = number
        follower.hear(note)
    follower.end()
    found = set()
    for note, onset in follower.matched():
        name = ids.get((round(FINE * onset), note.pitch), "")
        if name:
            found.add((numbers[id(note)], name))
    return found


def named(piece: Piece, written: Any) -> dict[tuple[int, int], str]:
    """The aligner's name of each note, by the place and pitch that the product reads."""
    sounding = [note for note in piece.score.notes if note.sounds and not note.grace]
    shift = float(sounding[0].onset) - float(written["onset_quarter"].min())
    return {
        (round(FINE * (float(onset) + shift)), int(pitch)): str(name)
        for onset, pitch, name in zip(
            written["onset_quarter"], written["pitch"], written["id"], strict=True
        )
    }


def is_same(piece: Piece, written: Any) -> bool:
    """Whether both read the same notes. (One reads a transposing instrument's as written.)"""
    ours = {(round(FINE * float(n.onset)), n.pitch) for n in piece.score.notes if n.sounds}
    return len(ours & named(piece, written).keys()) > 0.95 * len(ours)


def aligned(one: Performance) -> Pairs:
    import parangonar  # type: ignore[import-not-found, unused-ignore]

    numbers = {str(name): number for number, name in enumerate(one.played["id"])}
    pairs = parangonar.DualDTWNoteMatcher()(one.written, one.played, process_ornaments=False)
    return {
        (numbers[str(pair["performance_id"])], str(pair["score_id"]))
        for pair in pairs
        if pair["label"] == "match"
    }


def recorded() -> Iterator[Performance]:
    import parangonar  # type: ignore[import-not-found, unused-ignore]
    import partitura  # type: ignore[import-not-found, unused-ignore]

    performance, truth, score = partitura.load_match(parangonar.EXAMPLE, create_score=True)
    played = performance.note_array()
    numbers = {str(name): number for number, name in enumerate(played["id"])}
    right = {
        (numbers[str(pair["performance_id"])], str(pair["score_id"]))
        for pair in truth
        if pair["label"] == "match"
    }
    written = score[0].note_array(include_grace_notes=True)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "piece.musicxml"
        partitura.save_musicxml(score, str(path))
        piece = piece_of(read_score(path), [0])
    yield Performance("the package's own", "recorded", piece, written, played, right)


def made_up() -> Iterator[Performance]:
    import partitura

    for path in sorted((HERE / "demo_scores").glob("*.musicxml")):
        piece = piece_of(read_score(path), [0])
        written = without_graces(partitura.load_musicxml(str(path)).note_array())
        if not is_same(piece, written):
            continue
        for way, (errors, breaks) in {**WAYS, **BREAKS}.items():
            played, truth = performed(written, errors, breaks, Random(7))
            yield Performance(path.stem, way, piece, written, played, truth)


def without_graces(notes: Any) -> Any:
    """The same table with a mark of grace notes, of which it has none."""
    made = np.zeros(len(notes), dtype=[*notes.dtype.descr, ("is_grace", "?")])
    for name in notes.dtype.names:
        made[name] = notes[name]
    return made


def performed(written: Any, errors: float, breaks: bool, rng: Random) -> tuple[Any, Pairs]:
    """The notes in uneven time, the given share each of wrong, missed and added ones. With breaks
    the playing stops three times, and goes on from two to ten quarters before."""
    onsets = sorted({float(onset) for onset in written["onset_quarter"]})
    plan: list[tuple[float, float]] = []  # a place, and the seconds until the next
    stops = {len(onsets) * k // 4: rng.uniform(2, 10) for k in (1, 2, 3)} if breaks else {}
    at = 0
    while at < len(onsets):
        step = onsets[at + 1] - onsets[at] if at + 1 < len(onsets) else 1.0
        back = stops.pop(at, None)
        plan.append((onsets[at], 3.0 if back else step * PACE * rng.uniform(0.85, 1.15)))
        if back:
            at = max(0, next(k for k in range(at + 1) if onsets[k] >= onsets[at] - back) - 1)
        at += 1
    notes: list[tuple[float, int, str]] = []
    time = 1.0
    for onset, seconds in plan:
        for note in written[written["onset_quarter"] == onset]:
            when, fate = time + rng.uniform(0, 0.03), rng.random()
            if fate < errors:
                continue
            wrong = fate < 2 * errors
            pitch = int(note["pitch"]) + (rng.choice((-2, -1, 1, 2)) if wrong else 0)
            notes.append((when, pitch, "" if wrong else str(note["id"])))
            if fate > 1 - errors:
                notes.append((when + 0.08, pitch + rng.choice((-2, -1, 1, 2)), ""))
        time += seconds
    notes.sort()
    kinds = [
        ("onset_sec", "f4"),
        ("duration_sec", "f4"),
        ("pitch", "i4"),
        ("velocity", "i4"),
        ("id", "U32"),
    ]
    rows = [(when, 0.3, pitch, 64, f"n{k}") for k, (when, pitch, _) in enumerate(notes)]
    truth = {(k, name) for k, (_, _, name) in enumerate(notes) if name}
    return np.array(rows, dtype=kinds), truth


if __name__ == "__main__":
    main()
