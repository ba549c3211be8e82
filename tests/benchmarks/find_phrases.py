"""Phrase starts of every score in a folder: `python -m tests.benchmarks.find_phrases DIR --out F`.

Reads each score with the product's own reader and proposes at the usual density; writes
{file stem: [offset in quarter notes, ...]}. Nothing else in the folder is read.
"""

from __future__ import annotations

import argparse
import json
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from trainer.errors import TrainerError
from trainer.phrases.segment import propose
from trainer.score.read import read_score

KINDS = {".mxl", ".musicxml", ".xml", ".krn", ".mid", ".midi", ".abc", ".mei"}


def offsets(path: Path) -> list[float]:
    """The proposed starts of one file, in quarter notes; none where it cannot be read."""
    try:
        score = read_score(path)
    except TrainerError as error:
        print(f"{path.name}: {error}", file=sys.stderr)
        return []
    return [float(proposal.onset) for proposal in propose(score)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--jobs", type=int, default=2, help="files read at a time")
    options = parser.parse_args()
    paths = sorted(p for p in options.folder.iterdir() if p.suffix.lower() in KINDS)
    found: dict[str, list[float]] = {}
    with ThreadPoolExecutor(options.jobs) as pool:
        for count, (path, starts) in enumerate(zip(paths, pool.map(offsets, paths), strict=True)):
            found[path.stem] = starts
            print(f"\r{count + 1} of {len(paths)}", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    options.out.write_text(json.dumps(found, indent=0))


if __name__ == "__main__":
    main()
