"""Folk songs whose source says where phrases end, for an outside check of phrase finding.

The source: tunes of the Essen folk song collection (H. Schaffrath, as ABC) in music21's corpus.
There each line of music is a phrase: the collection's encoding puts one phrase to a line, and the
conversion to ABC kept the lines. `python -m tests.phrases.folk_songs` prints the figures.
"""

from __future__ import annotations

import importlib.util
import re
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

from tests.score.reading import read
from trainer.errors import TrainerError
from trainer.phrases.segment import propose
from trainer.score.model import Score

FILES = ("lot", "lux", "irl", "erk5", "han1")  # Lorraine, Luxembourg, Ireland, Erk's books, Han
_HEAD = re.compile(r"[_^=]*[A-Ga-g][,']*")


def texts(name: str) -> Iterator[str]:
    """The tunes of one file of the corpus, each as a text of its own."""
    spec = importlib.util.find_spec("music21")
    assert spec is not None
    assert spec.origin is not None
    file = Path(spec.origin).parent / "corpus" / "essenFolksong" / f"{name}.abc"
    for tune in re.split(r"\n(?=X:)", file.read_text(encoding="latin-1")):
        if tune.strip().startswith("X:"):
            yield tune.strip() + "\n"


def tunes(name: str, most: int) -> Iterator[tuple[Score, set[Fraction]]]:
    """Scores with the positions where their lines begin; tunes whose heads in the text are not
    those of the score are left out."""
    for text, _ in zip(texts(name), range(most), strict=False):
        lines = [line for line in text.splitlines() if line and not re.match(r"[A-Za-z]:", line)]
        counts = [len(_HEAD.findall(line)) for line in lines]
        try:
            score = read(text, "ABC")
        except TrainerError:
            continue
        if sum(counts) != len(score.notes) or len(lines) < 2:
            continue
        first = [sum(counts[:index]) for index in range(len(counts))]
        yield score, {score.notes[index].onset for index in first}


def proposed(score: Score) -> set[Fraction]:
    return {proposal.onset for proposal in propose(score)}


def two_bars(score: Score) -> set[Fraction]:
    """What to beat: every second bar line, shifted by the pickup."""
    first = score.bars[0]
    pickup = first.length if first.upbeat else Fraction(0)
    return {bar.start - pickup for bar in score.bars[int(first.upbeat) :: 2]}


def agreement(
    name: str, most: int, method: Callable[[Score], set[Fraction]] = proposed
) -> tuple[int, int, int, int]:
    """Tunes, starts found that begin a line, starts found, and lines; each tune's first aside."""
    songs = hits = found = lines = 0
    for score, truth in tunes(name, most):
        starts = method(score) - {score.onsets[0]}
        wanted = truth - {min(truth)}
        songs, hits = songs + 1, hits + len(starts & wanted)
        found, lines = found + len(starts), lines + len(wanted)
    return songs, hits, found, lines


def f1(hits: int, found: int, lines: int) -> float:
    return 2 * hits / max(found + lines, 1)


def main() -> None:
    for title, method in (("proposed", proposed), ("every two bars", two_bars)):
        whole = [0, 0, 0, 0]
        for name in FILES:
            figures = agreement(name, 60, method)
            whole = [sum(pair) for pair in zip(whole, figures, strict=True)]
            print(f"{title}, {name}: {figures[0]} songs, F1 {f1(*figures[1:]):.3f}")
        print(f"{title}, all: {whole[0]} songs, {whole[3]} lines, F1 {f1(*whole[1:]):.3f}")


if __name__ == "__main__":
    main()
