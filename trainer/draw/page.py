"""The page of a phrase: its written music as lines of text, and in words."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from textwrap import wrap
from typing import Literal, get_args

from trainer.draw.grid import grid
from trainer.draw.layout import Drawing, Remarks, Style
from trainer.draw.names import Naming
from trainer.draw.speech import spoken
from trainer.draw.staff import staff_page
from trainer.draw.window import window
from trainer.draw.words import NO_NOTES
from trainer.errors import TrainerError
from trainer.score.model import Score

__all__ = ["drawing", "page", "spoken"]

Form = Literal["staff", "table"]
FORMS: tuple[Form, ...] = get_args(Form)
_NARROWEST = 24


def page(
    score: Score,
    start: Fraction,
    end: Fraction,
    *,
    width: int = 80,
    names: Naming = "english",
    ascii: bool = False,
    staves: Iterable[int] | None = None,
    form: Form = "staff",
) -> list[str]:
    """The music from `start` up to `end` (quarter notes; see deck.page.page_span).

    The earlier part of the first bar is shown too, with the entry marked. No line is wider
    than `width` cells; a dense bar is broken at a beat rather than wrapped. `staves` chooses
    staves by number, all by default; more than two are drawn as a table. Raises TrainerError
    where the passage is empty or the width is under 24 cells.
    """
    drawn = drawing(score, start, end, Style(width, names, ascii), staves=staves, form=form)
    return list(drawn.lines)


def drawing(
    score: Score,
    start: Fraction,
    end: Fraction,
    style: Style,
    *,
    staves: Iterable[int] | None = None,
    form: Form = "staff",
    remarks: Remarks | None = None,
) -> Drawing:
    """As `page`, with the place of every head in the lines, and with what is said of them. Where
    the notes are not in the deck, it says so."""
    if style.width < _NARROWEST:
        raise TrainerError(
            f"{style.width} columns are too few for music: widen to {_NARROWEST} or more."
        )
    if not score.notes:
        return Drawing(tuple(wrap(NO_NOTES, style.width)), ())
    view = window(score, start, end, staves)
    if form == "staff" and len(view.staves) <= 2:
        return staff_page(view, style, remarks)
    return grid(view, style, remarks=remarks)
