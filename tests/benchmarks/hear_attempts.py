"""Hear a folder of recorded attempts, note by note, with the product's own listener.

    python -m tests.benchmarks.hear_attempts DIR --out PRED.json [--timing]

The folder holds `pieces.json` ({piece: {score, entries: [{id, measure_index, offset_q}]}}),
`scores/` and `clips/` ({id, piece, asked, listen_until, notes: [[on, off, pitch, velocity]]}).
What is written has an entry for each clip: whether the attempt was accepted, which entry was
played, and what else was heard. Nothing else in the folder is read. --timing also prints the
microseconds that a note takes beside a bare loop over the same notes.
"""

from __future__ import annotations

import argparse
import json
from bisect import bisect_right
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from time import perf_counter
from typing import Any

from trainer.listen.match import Listener
from trainer.listen.model import Heard, Verdict
from trainer.listen.score import waiting_at
from trainer.score.model import Score
from trainer.score.read import read_score


def main() -> None:
    parser = argparse.ArgumentParser(description="Hear a folder of recorded attempts.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--timing", action="store_true")
    given = parser.parse_args()
    pieces = json.loads((given.folder / "pieces.json").read_text())
    heard: dict[str, Any] = {}
    times: list[float] = []
    ends: list[float] = []
    bare: list[float] = []
    for name, piece in pieces.items():
        score = read_score(given.folder / piece["score"])
        waiting = waiting_at(score, places(score, piece["entries"]))
        for clip in clips(given.folder, name):
            notes = [Heard(pitch, on, velocity) for on, _, pitch, velocity in clip["notes"]]
            listener = Listener(waiting, clip["asked"])
            for note in notes:
                began = perf_counter()
                listener.hear(note)
                times.append(perf_counter() - began)
            for note in notes:
                began = perf_counter()
                untouched(note)
                bare.append(perf_counter() - began)
            began = perf_counter()
            verdict = listener.end(clip["listen_until"])
            ends.append(perf_counter() - began)
            heard[clip["id"]] = prediction(score, verdict)
    given.out.write_text(json.dumps(heard, indent=0))
    print(f"{len(heard)} attempts heard")
    if given.timing:
        for what, some in (("a note", times), ("a bare loop", bare), ("the end", ends)):
            print(f"{what:<12}{spread(some)}")


def untouched(note: Heard) -> Heard:
    return note


def places(score: Score, entries: list[dict[str, Any]]) -> Iterator[tuple[str, Fraction]]:
    for entry in entries:
        offset = Fraction(entry["offset_q"]).limit_denominator(960)
        yield entry["id"], score.bars[entry["measure_index"]].start + offset


def clips(folder: Path, piece: str) -> list[dict[str, Any]]:
    file = folder / "clips" / f"{piece}.json"
    found: list[dict[str, Any]] = json.loads(file.read_text()) if file.exists() else []
    return found


def prediction(score: Score, verdict: Verdict) -> dict[str, Any]:
    transposed = verdict.shift % 12 != 0
    starts = [float(bar.start) for bar in score.bars]
    broke = verdict.broke_at
    hands = {"both": "both", "right": "R", "left": "L"}[verdict.hands]
    known = bool(verdict.played)
    return {
        "accepted": verdict.accepted,
        "best_entry": None if transposed or not known else verdict.played,
        "latency_s": verdict.latency,
        "wrong_notes": verdict.wrong + verdict.extra if known else None,
        "missed_notes": verdict.missed + verdict.wrong if known else None,
        "restarted": bool(verdict.restarts),
        "stopped": verdict.stopped,
        "hesitated": bool(verdict.pauses),
        "jumped_to": verdict.jump.to if verdict.jump else None,
        "breakdown_measure_index": None
        if broke is None
        else bisect_right(starts, broke + 1e-6) - 1,
        "tempo_qpm": verdict.tempo,
        "hands": hands,
    }


def spread(seconds: list[float]) -> str:
    ordered = sorted(seconds)
    if not ordered:
        return "no notes"
    middle, high, top = (
        ordered[min(len(ordered) - 1, int(p * len(ordered)))] for p in (0.5, 0.99, 1)
    )
    return f"median {1e6 * middle:.1f}  p99 {1e6 * high:.1f}  max {1e6 * top:.1f} microseconds"


if __name__ == "__main__":
    main()
