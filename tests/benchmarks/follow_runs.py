"""Follow whole performances, note by note, with the product's own follower.

    python -m tests.benchmarks.follow_runs DIR --out PRED.json [--jobs N]

The folder holds `scores/NAME.mxl` (or any form that can be read) and `runs/NAME.json.gz` or
`.json`: a list of {id, notes: [[on, off, pitch, velocity]]}. What is written has an entry for each
run: the slips that would go into the log, each with when the playing broke (seconds) and where it
broke and was taken up again (quarter notes from the beginning), beside them the hesitations and
what was not sure, and whether the end was reached. Nothing else in the folder is read.
"""

from __future__ import annotations

import argparse
import gzip
import json
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

from trainer.deck import edit
from trainer.deck.model import Piece
from trainer.listen.follow import Follower, Slip
from trainer.listen.model import Heard
from trainer.score.read import read_score


def main() -> None:
    parser = argparse.ArgumentParser(description="Follow a folder of whole performances.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--jobs", type=int, default=1)
    given = parser.parse_args()
    scores = sorted(file for file in (given.folder / "scores").iterdir() if file.is_file())
    found: dict[str, Any] = {}
    with ProcessPoolExecutor(given.jobs) as pool:
        for some in pool.map(followed, scores):
            found.update(some)
    given.out.write_text(json.dumps(found, indent=0))
    slips = sum(len(one["slips"]) for one in found.values())
    print(f"{len(found)} runs followed, {slips} slips")


def followed(file: Path) -> dict[str, Any]:
    """All runs of one score."""
    score = read_score(file)
    first = min(note.onset for note in score.notes if note.sounds)
    piece = Piece(edit.new_deck(score, [(first, ())], ["a", "b"]), score)
    return {name: follow(piece, notes) for name, notes in runs(file)}


def runs(score: Path) -> Iterator[tuple[str, list[Heard]]]:
    for name in (f"{score.stem}.json.gz", f"{score.stem}.json"):
        file = score.parent.parent / "runs" / name
        if file.exists():
            data = file.read_bytes()
            text = gzip.decompress(data) if name.endswith(".gz") else data
            for run in json.loads(text):
                notes = [Heard(pitch, on, velocity) for on, _, pitch, velocity in run["notes"]]
                yield run["id"], notes
            return


def follow(piece: Piece, notes: list[Heard]) -> dict[str, Any]:
    """One run, as it is heard while it is played."""
    follower = Follower(piece)
    slips: list[Slip] = []
    for note in notes:
        follower.hear(note)
        slips += follower.take()
    end = follower.at_end
    slips += follower.end()
    hesitations = [slip for slip in slips if slip.kind == "hesitation"]
    broken = [slip for slip in slips if slip.kind != "hesitation"]
    return {
        "slips": [told(slip) for slip in broken if slip.sure],
        "hesitations": [told(slip) for slip in hesitations],
        "perhaps": [told(slip) for slip in broken if not slip.sure],
        "end": end,
    }


def told(slip: Slip) -> dict[str, Any]:
    return {
        "time_s": round(slip.time, 3),
        "broke_ql": float(slip.broke_at),
        "taken_up_ql": None if slip.taken_up_at is None else float(slip.taken_up_at),
        "kind": slip.kind,
    }


if __name__ == "__main__":
    main()
