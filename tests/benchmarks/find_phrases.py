"""Phrase starts of every score in a folder: `python -m tests.benchmarks.find_phrases DIR --out F`.

Reads each score with the product's own reader and proposes at the usual density; writes
{file stem: [offset in quarter notes, ...]}. Nothing else in the folder is read.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from trainer.errors import TrainerError
from trainer.phrases.segment import propose
from trainer.score.model import Score
from trainer.score.read import read_score

KINDS = {".mxl", ".musicxml", ".xml", ".krn", ".mid", ".midi", ".abc", ".mei"}


def offsets(score: Score) -> list[float]:
    """The proposed starts, in quarter notes."""
    return [float(proposal.onset) for proposal in propose(score)]


def main(answer: Callable[[Score], list[Any]] = offsets, about: str | None = __doc__) -> None:
    """Write what `answer` says of each score of a folder, by file stem; nothing of one that
    cannot be read."""
    parser = argparse.ArgumentParser(description=(about or "").splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--jobs", type=int, default=2, help="files read at a time")
    options = parser.parse_args()
    paths = sorted(p for p in options.folder.iterdir() if p.suffix.lower() in KINDS)

    def answered(path: Path) -> list[Any]:
        try:
            return answer(read_score(path))
        except TrainerError as error:
            print(f"{path.name}: {error}", file=sys.stderr)
            return []

    with ThreadPoolExecutor(options.jobs) as pool:
        found = dict(zip((path.stem for path in paths), pool.map(answered, paths), strict=True))
    options.out.write_text(json.dumps(found, separators=(",", ":")))


if __name__ == "__main__":
    main()
