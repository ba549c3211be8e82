"""PDF: ink on every page where the extra is there, one sentence where it is not."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

from tests.memory.build import at
from tests.paper.build import DAY, practice, study, view_of
from trainer.errors import TrainerError
from trainer.paper.page import Paper
from trainer.paper.pdf import as_pdf
from trainer.paper.recital import recital
from trainer.paper.sheet import sheet
from trainer.paper.written import written
from trainer.reports.lesson_page import report
from trainer.reports.term import report as term

LONG = study("a", "Air", starts=40)
VIEW = view_of([LONG], practice(LONG))
PAGES = {
    "sheet": lambda paper: sheet(LONG, at(DAY).date(), paper=paper),
    "recital": lambda paper: recital(VIEW, paper=paper),
    "term": lambda paper: written(term(VIEW), paper=paper),
    "lesson": lambda paper: written(report(VIEW), size="tight", paper=paper),
}
SIZES: dict[Paper, tuple[float, float]] = {"A4": (595.3, 841.9), "letter": (612, 792)}
EDGE = 16 / 25.4 * 72 - 2  # points: the margins, on the safe side


def pages_of(made: bytes) -> Any:
    pypdfium2 = pytest.importorskip("pypdfium2")
    return pypdfium2.PdfDocument(made)


def pdf_of(page: str) -> bytes:
    try:
        return as_pdf(page)
    except TrainerError:
        pytest.skip("the extra pdf is not installed")


@pytest.mark.parametrize("paper", SIZES)
@pytest.mark.parametrize("kind", PAGES)
def test_every_page_has_ink_and_keeps_its_margins(kind: str, paper: Paper) -> None:
    made = pages_of(pdf_of(PAGES[kind](paper)))
    assert len(made) >= 1
    if kind in ("term", "lesson"):
        assert len(made) == 1
    for page in made:
        assert page.get_size() == pytest.approx(SIZES[paper], abs=1)
        grey = page.render(scale=1, grayscale=True).to_numpy().squeeze()
        ink = grey < 128
        assert ink.sum() > 150
        assert not ink[: int(EDGE)].any()
        assert not ink[:, : int(EDGE)].any()
        assert not ink[:, -int(EDGE) :].any()


def test_the_words_of_the_page_are_in_the_pdf() -> None:
    made = pages_of(pdf_of(PAGES["sheet"]("A4")))
    words = " ".join(page.get_textpage().get_text_range() for page in made)
    assert "Fingering: R 1-3-5" in words
    assert all(str(start.number) in words for start in LONG.deck.starts)


def test_without_the_extra_one_sentence_says_what_to_do(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    with pytest.raises(TrainerError, match=r"without the extra `pdf`.*browser"):
        as_pdf("<p>x</p>")


def test_a_page_fetches_nothing(tmp_path: Path) -> None:
    black = tmp_path / "black.svg"
    black.write_text(
        "<svg xmlns='http://www.w3.org/2000/svg' width='99' height='99'>"
        "<rect width='99' height='99'/></svg>"
    )
    page = "<html lang='en'><title>t</title><body><p>kept</p>{}"
    inks = [
        (pages_of(pdf_of(page.format(more)))[0].render(grayscale=True).to_numpy() < 128).sum()
        for more in ("", f"<img src='{black.as_uri()}' alt=''>")
    ]
    assert 0 < inks[0] == inks[1]
