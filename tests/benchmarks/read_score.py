"""Reading a score: a whole process that reads it, against one that only parses it.

`python -m tests.benchmarks.read_score [REPEATS]` prints, for scores of 5,000 notes and more from
music21's own corpus, the ratio of two whole processes run one after the other: `read_score` (with
its child process, the conversion and the answer), and a bare `import music21` with a parse that
reads no cache and writes none. The order alternates; median, least and greatest of the ratios.
`--sweep` instead reads one corpus score of every composer and format and says what came of it.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

LARGE = (
    "schumann_robert/opus41no1/movement5.mxl",
    "beethoven/opus18no5.mxl",
    "beethoven/opus132.mxl",
)
OURS = (
    "import sys; from pathlib import Path; from trainer.score.read import read_score;"
    "print(len(read_score(Path(sys.argv[1])).notes))"
)
BARE = (
    "import sys; from music21 import converter;"
    "converter.parseFile(sys.argv[1], forceSource=True, storePickle=False)"
)


def corpus() -> Path:
    """The folder of the scores that music21 brings along."""
    import music21

    return Path(music21.__file__).parent / "corpus"


def seconds(code: str, path: Path) -> tuple[float, str]:
    """The wall time of a whole process, and what it printed."""
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], check=True, capture_output=True, text=True
    )
    return time.perf_counter() - begun, done.stdout.strip()


def ratios(path: Path, repeats: int) -> tuple[list[float], int]:
    """Paired ratios, ours over bare, and the number of notes."""
    found, notes = [], ""
    for turn in range(repeats):
        if turn % 2:
            bare, _ = seconds(BARE, path)
            ours, notes = seconds(OURS, path)
        else:
            ours, notes = seconds(OURS, path)
            bare, _ = seconds(BARE, path)
        found.append(ours / bare)
    return found, int(notes)


def many_notes(folder: Path, notes: int) -> Path:
    """A written-out score of so many sixteenths, for the largest that is allowed."""
    from tests.score.written import bar, score

    steps = " ".join(f"{'CDEFGAB'[n % 7]}4/0.25" for n in range(16))
    bars = [bar(steps, number, time="4/4" * (number == 1)) for number in range(1, notes // 16 + 1)]
    path = folder / f"{notes}.musicxml"
    path.write_text(score(bars))
    return path


def sweep() -> Iterator[str]:
    """One score of every folder and format of the corpus, the smallest: notes, or the error."""
    from trainer.errors import TrainerError
    from trainer.score.read import read_score

    smallest: dict[tuple[Path, str], Path] = {}
    for path in sorted(corpus().rglob("*"), key=lambda path: path.stat().st_size):
        if path.suffix in (".mxl", ".xml", ".musicxml", ".krn", ".abc"):
            smallest.setdefault((path.parent, path.suffix), path)
    for path in sorted(smallest.values()):
        try:
            score = read_score(path)
            said = f"{len(score.bars)} bars, {len(score.notes)} notes"
        except TrainerError as error:
            said = str(error)
        yield f"{path.relative_to(corpus())}: {said}"


def main() -> None:
    if "--sweep" in sys.argv:
        for line in sweep():
            print(line, flush=True)
        return
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    with tempfile.TemporaryDirectory() as folder:
        for path in [*(corpus() / name for name in LARGE), many_notes(Path(folder), 20_000)]:
            found, notes = ratios(path, repeats)
            print(
                f"{path.name}: {notes:,} notes, ratio {statistics.median(found):.2f} "
                f"({min(found):.2f} to {max(found):.2f}, {repeats} pairs)",
                flush=True,
            )


if __name__ == "__main__":
    main()
