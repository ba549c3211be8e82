"""A report's table as a table of the page."""

from __future__ import annotations

from datetime import date

from trainer.paper.html import Element, sentences, span, table
from trainer.reports.table import Cell, Table, day_word


def cell(value: Cell) -> Element | str:
    """What stands in a cell, as on a screen."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, date):
        return span("day", day_word(value))
    return "" if value is None else str(value)


def rows_of(found: Table, *, class_: str | None = None) -> Element:
    """The columns that a screen shows, each row named by its first one."""
    shown = [at for at, name in enumerate(found.columns) if name not in found.hidden]
    heads = [found.columns[at] for at in shown]
    figures = [place for place, name in enumerate(heads) if name in found.figures]
    rows = [[cell(row[at]) for at in shown] for row in found.rows]
    return table(found.title, heads, rows, figures=figures, class_=class_)


def notes_of(found: Table) -> Element | None:
    return sentences(found.notes)
