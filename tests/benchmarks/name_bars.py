"""The chords of every score in a folder: `python -m tests.benchmarks.name_bars DIR --out F`.

Reads each score with the product's own reader and names its blocks; writes {file stem: [[onset,
end, root, triad, tonic, mode, numeral], ...]}: positions in quarter notes, root and tonic as pitch
classes (C is 0), root and triad null where no chord is named, a seventh chord by its triad.
Nothing else in the folder is read.
"""

from __future__ import annotations

import argparse
import json
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tests.benchmarks.find_phrases import KINDS
from trainer.errors import TrainerError
from trainer.score.blocks import Block, blocks
from trainer.score.read import read_score

TRIADS = {"7": "major", "maj7": "major", "m7": "minor", "m7b5": "diminished", "dim7": "diminished"}

Row = tuple[float, float, int | None, str | None, int, str, str]


def row(block: Block) -> Row:
    chord = block.chord
    return (
        round(float(block.onset), 4),
        round(float(block.end), 4),
        chord.root if chord else None,
        TRIADS.get(chord.quality, chord.quality) if chord else None,
        block.key.tonic,
        block.key.mode,
        block.numeral,
    )


def named(path: Path) -> list[Row]:
    """The blocks of one file; none where it cannot be read."""
    try:
        score = read_score(path)
    except TrainerError as error:
        print(f"{path.name}: {error}", file=sys.stderr)
        return []
    return [row(block) for block in blocks(score)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--jobs", type=int, default=2, help="files read at a time")
    options = parser.parse_args()
    paths = sorted(p for p in options.folder.iterdir() if p.suffix.lower() in KINDS)
    with ThreadPoolExecutor(options.jobs) as pool:
        found = dict(zip((path.stem for path in paths), pool.map(named, paths), strict=True))
    options.out.write_text(json.dumps(found, separators=(",", ":")))


if __name__ == "__main__":
    main()
