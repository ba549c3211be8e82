"""Pages of real music against a second reading of the file, tests/draw/outside.py."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from tests.draw.outside import Measure, measures
from tests.draw.read_back import read_back
from tests.score.reading import read
from trainer.draw.page import FORMS, page
from trainer.draw.text import cells
from trainer.score.files import load

PIECES = [
    "bach/bwv66.6.mxl",
    "beach/prayer_of_a_tired_child.musicxml",
    "haydn/opus1no1/movement2.mxl",
    "haydn/opus1no1/movement4.mxl",
    "johnson_j_r/lift_every_voice.mxl",
    "joplin/maple_leaf_rag.mxl",
    "mozart/k156/movement4.mxl",
    "mozart/k545/movement1_exposition.mxl",
    "mozart/k80/movement3.mxl",
    "schubert/Lindenbaum.xml",
    "schumann_clara/polonaise_op1n1.mxl",
    "verdi/laDonnaEMobile.mxl",
]
WIDTHS = (60, 80, 120)


def corpus() -> Path:
    import music21

    return Path(music21.__file__).parent / "corpus"


@pytest.mark.parametrize("name", PIECES)
def test_drawn_notes_and_beats_are_those_of_the_file(name: str) -> None:
    file = load(corpus() / name)
    score, written = read(file.data), measures(file.data)
    assert [bar.label for bar in score.bars] == [measure.number for measure in written]
    checked = 0
    for i in range(0, len(written) - 2, max(2, len(written) // 8)):
        if not (written[i].full and written[i + 1].full):
            continue
        start, end = score.bars[i].start, score.bars[i + 1].end
        for width in WIDTHS:
            for form in FORMS:
                lines = page(score, start, end, width=width, form=form, signs=False)
                assert max(map(cells, lines)) <= width
                seen = Counter(
                    (bar, beat, *name)
                    for (bar, beat, _, *name), count in read_back(lines).items()
                    for _ in range(count)
                )
                assert seen == _expected(written[i]) + _expected(written[i + 1])
        checked += 1
    assert checked >= 3


def _expected(measure: Measure) -> Counter[tuple[object, ...]]:
    return Counter(
        {(measure.number, *strike): count for strike, count in measure.counted().items()}
    )
