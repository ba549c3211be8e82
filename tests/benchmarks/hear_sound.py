"""Hear a folder of attempts that were recorded through a microphone.

    python -m tests.benchmarks.hear_sound DIR --condition NAME --out PRED.json [--timing]

DIR has `pieces.json` and `scores/` as for `hear_attempts`, `calls.json` ({id: {piece, asked,
listen_until}}), and `audio/NAME/ID.flac` or `.ogg`, which begins at the call. What is written is
what `hear_attempts` writes. Nothing else in the folder is read. --timing also prints the seconds
of work for each second of sound, and the memory at most.
"""

from __future__ import annotations

import argparse
import json
import resource
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

from tests.benchmarks.hear_attempts import places, prediction
from trainer.listen.by_sound import hear_sound
from trainer.listen.score import waiting_at
from trainer.score.read import read_score
from trainer.sound.decode import read_sound
from trainer.sound.spectrum import RATE


def main() -> None:
    parser = argparse.ArgumentParser(description="Hear attempts recorded through a microphone.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--condition", required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--timing", action="store_true")
    given = parser.parse_args()
    pieces = json.loads((given.folder / "pieces.json").read_text())
    calls = json.loads((given.folder / "calls.json").read_text())
    known: dict[str, Any] = {}
    heard: dict[str, Any] = {}
    sounded = worked = latest = 0.0
    for name, call in calls.items():
        if call["piece"] not in known:
            piece = pieces[call["piece"]]
            score = read_score(given.folder / piece["score"])
            known[call["piece"]] = score, waiting_at(score, places(score, piece["entries"]))
        score, waiting = known[call["piece"]]
        sound = read_sound(_file(given.folder / "audio" / given.condition, name))
        began, since = process_time(), perf_counter()
        verdict = hear_sound(sound, waiting, call["asked"], call["listen_until"])
        worked += process_time() - began
        latest = max(latest, perf_counter() - since)
        sounded += len(sound) / RATE
        heard[name] = prediction(score, verdict)
    given.out.write_text(json.dumps(heard, indent=0))
    print(f"{len(heard)} attempts heard")
    if given.timing and sounded:
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{worked / sounded:.3f} s of work for a second of sound, {most:.0f} MB at most")


def _file(folder: Path, name: str) -> Path:
    found = (folder / f"{name}{kind}" for kind in (".flac", ".ogg"))
    return next(file for file in found if file.exists())


if __name__ == "__main__":
    main()
