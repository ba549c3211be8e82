"""What phrases and look-alikes cost beside music21's parse of the same score, in one process.

`python -m tests.benchmarks.phrase_cost` parses large scores of music21's own corpus as the reader
would, proposes phrases and compares their openings, and prints seconds and the ratio; then the
seconds for scores made in code from 1,000 to 100,000 notes, with seconds per thousand notes.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

from tests.phrases.build import broken_chords, melody
from trainer.phrases.lookalikes import families
from trainer.phrases.segment import propose
from trainer.score.model import Score
from trainer.score.read import read_score

LARGE = ("schumann_robert/opus41no1/movement5.mxl", "beethoven/opus18no5.mxl")
SIZES = (1_000, 3_000, 10_000, 30_000, 100_000)


def phrases(score: Score) -> tuple[float, float, int]:
    """Seconds for the proposals, seconds for their look-alikes, and how many starts."""
    begun = time.perf_counter()
    found = propose(score)
    proposed = time.perf_counter()
    families(score, [proposal.onset for proposal in found])
    return proposed - begun, time.perf_counter() - proposed, len(found)


def against_parse(path: Path) -> str:
    from music21 import converter

    begun = time.perf_counter()
    converter.parseFile(path, forceSource=True, storePickle=False)
    parse = time.perf_counter() - begun
    score = read_score(path)
    proposing, comparing, starts = phrases(score)
    return (
        f"{path.name}: {len(score.notes)} notes, parse {parse:.2f} s, phrases {proposing:.2f} s, "
        f"look-alikes {comparing:.2f} s ({starts} starts), ratio "
        f"{(proposing + comparing) / parse:.3f}"
    )


def texture(notes: int) -> Score:
    """Broken chords over eight chords in a random order, nine notes a bar."""
    rng = random.Random(1)
    chords = [[rng.randrange(36, 55), *rng.sample(range(55, 80), 3)] for _ in range(8)]
    return broken_chords([rng.choice(chords) for _ in range(notes // 9)])


def line(notes: int) -> Score:
    """A melody without plan."""
    rng = random.Random(1)
    lengths = (Fraction(1, 2), Fraction(1, 2), Fraction(1), Fraction(3, 2))
    return melody([(rng.randrange(57, 77), rng.choice(lengths)) for _ in range(notes)])


def growth(name: str, make: Callable[[int], Score]) -> None:
    for size in SIZES:
        score = make(size)
        proposing, comparing, starts = phrases(score)
        total = proposing + comparing
        print(
            f"{name} {size:7,} notes: phrases {proposing:6.2f} s, look-alikes {comparing:6.2f} s, "
            f"{starts:5} starts, {1000 * total / size * 1000:.1f} ms a thousand notes",
            flush=True,
        )


def main() -> None:
    import music21

    corpus = Path(music21.__file__).parent / "corpus"
    for name in LARGE:
        print(against_parse(corpus / name), flush=True)
    growth("texture", texture)
    growth("melody ", line)


if __name__ == "__main__":
    main()
