"""The page of a phrase: its written music as lines of text, and in words."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from textwrap import wrap
from typing import Literal, get_args

from trainer.draw.grid import grid
from trainer.draw.layout import Drawing, Remarks, Style
from trainer.draw.names import Naming, written
from trainer.draw.signs import legend
from trainer.draw.speech import spoken
from trainer.draw.staff import staff_page
from trainer.draw.window import Window, window
from trainer.draw.words import NO_NOTES
from trainer.errors import TrainerError
from trainer.score.model import Note, Score

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
    signs: bool = True,
) -> list[str]:
    """The music from `start` up to `end` (quarter notes; see deck.page.page_span).

    The earlier part of the first bar is shown too, with the entry marked. No line is wider
    than `width` cells; a dense bar is broken at a beat rather than wrapped. With `signs` what is
    done with the notes stands beside them, with a legend. `staves` chooses
    staves by number, all by default; more than two are drawn as a table. Raises TrainerError
    where the passage is empty or the width is under 24 cells.
    """
    drawn = drawing(score, start, end, Style(width, names, ascii, signs), staves=staves, form=form)
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
    """As `page`, with the place of every head in the lines, and with what is said of them instead
    of the signs and their legend. Where the notes are not in the deck, it says so."""
    if style.width < _NARROWEST:
        raise TrainerError(
            f"{style.width} columns are too few for music: widen to {_NARROWEST} or more."
        )
    if not score.notes:
        return Drawing(tuple(wrap(NO_NOTES, style.width)), ())
    view = window(score, start, end, staves)
    staff = form == "staff" and len(view.staves) <= 2
    drawn = staff_page(view, style, remarks) if staff else grid(view, style, remarks=remarks)
    if remarks is not None or not style.signs or not (lines := _legend(view, style)):
        return drawn
    return drawn.then(Drawing(lines, ()))


def _legend(view: Window, style: Style) -> tuple[str, ...]:
    """What the signs of a page mean, and what is written over it in words."""

    def name(note: Note) -> str:
        return written(note.step, note.alter, note.octave, names=style.names)

    signs = (one for moment in view.moments for one in moment.told)
    lines = legend(view.score, signs, view.grace_notes, name, style.width)
    return tuple(style.ink(style.label(line)) for line in lines)
