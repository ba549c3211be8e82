"""A whole score engraved on pages, with the start numbers where they belong."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

pytest.importorskip("verovio")

from trainer.picture import pages
from trainer.score.marking import StartMark, marked
from trainer.score.read import read_score

BOX = re.compile(r'class="dir"><rect [^>]*x="(\d+)"[^>]*/><text.*?font-size="405px">(\d)<')
SCORES = Path(__file__).parent.parent.parent / "demo_scores"


def drawn() -> tuple[list[str], list[str]]:
    """A marked score's pages, and its numbers in the order of the drawing."""
    path = SCORES / "lanterns-along-the-towpath.musicxml"
    score = read_score(path)
    first, upbeat = score.onsets[0], score.bars[5].start - 1
    marks = [StartMark(first, "1", ("as 2, parts at b. 2",)), StartMark(upbeat, "2")]
    text = marked(path.read_bytes(), score, marks, path.name, engraved=True)
    made = pages.pages(text.decode())
    return made, [one[1] for one in BOX.findall("".join(made))]


def test_the_numbers_and_the_look_alikes_are_on_the_pages() -> None:
    made, numbers = drawn()
    assert numbers == ["1", "2"]
    assert "as 2, parts at b. 2" in "".join(made)
    assert "Lanterns along the Towpath" in made[0]
    assert not re.search("[\ueca0-\uecff]", "".join(made))  # no face has these


def test_a_dotted_note_of_a_metronome_mark_is_written_in_faces_that_are_there() -> None:
    made = "".join(pages.pages((SCORES / "the-heron-stands-and-looks.musicxml").read_text()))
    assert "♩." in made


def test_an_upbeats_number_stands_before_its_own_note_and_not_at_the_bar_line() -> None:
    """The number's place from left to right lies between its note's bar line and the next one."""
    (page, *_), _ = drawn()
    found = {number: int(x) for x, number in BOX.findall(page)}
    line = page[: page.index('class="system"', page.index('class="system"') + 1)]
    bars = sorted(int(x) for x in re.findall(r'class="barLine[^"]*"><path d="M(\d+)', line))
    note = found["2"]
    before, after = max(x for x in bars if x < note), min(x for x in bars if x > note)
    assert note - before > (after - before) / 2  # the third beat of three


def test_one_drawing_holds_all_pages_and_a_pdf_has_ink() -> None:
    import pypdfium2

    made, _ = drawn()
    assert pages.as_svg([*made, *made]).count('class="page-margin"') == 2 * len(made)
    document = pypdfium2.PdfDocument(pages.as_pdf([*made, *made]))
    assert len(document) == 2 * len(made)
    wide, high = document[0].get_size()
    assert (round(wide), round(high)) == (595, 842)  # points
    dark = document[0].render(scale=1).to_pil().convert("L").histogram()[:100]
    assert 2_000 < sum(dark) < 100_000
