"""The chords of every score in a folder: `python -m tests.benchmarks.name_bars DIR --out F`.

Reads each score with the product's own reader and names its blocks; writes {file stem: [[onset,
end, root, triad, tonic, mode, numeral], ...]}: positions in quarter notes, root and tonic as pitch
classes (C is 0), root and triad null where no chord is named, a seventh chord by its triad.
Nothing else in the folder is read.
"""

from __future__ import annotations

from tests.benchmarks.find_phrases import main
from trainer.score.blocks import Block, blocks
from trainer.score.model import Score

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


def named(score: Score) -> list[Row]:
    """The blocks of a score."""
    return [row(block) for block in blocks(score)]


if __name__ == "__main__":
    main(named, __doc__)
