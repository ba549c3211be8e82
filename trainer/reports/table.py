"""The form of every report: rows under named columns, and sentences below them."""

from __future__ import annotations

from datetime import date
from typing import Any

from trainer.draw.table import Column, text_table
from trainer.draw.text import clean, cut
from trainer.values import Frozen

Cell = str | int | float | bool | date | None


class Table(Frozen, frozen=True):
    """`columns` names the cells of each row; `figures` are the columns set to the right."""

    name: str
    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    notes: tuple[str, ...] = ()
    figures: tuple[str, ...] = ()
    hidden: tuple[str, ...] = ()  # columns for programs only: ids and raw numbers


def as_text(table: Table, *, width: int = 80, ascii: bool = False) -> list[str]:
    """The report as lines of at most `width` cells; its notes are broken, never cut."""
    shown = [i for i, name in enumerate(table.columns) if name not in table.hidden]
    heads = [
        Column(table.columns[i], "right" if table.columns[i] in table.figures else "left")
        for i in shown
    ]
    rows = [[_word(row[i]) for i in shown] for row in table.rows]
    lines = [cut(clean(table.title), width, ascii=ascii)]
    if rows:
        lines += ["", *text_table(heads, rows, width=width, ascii=ascii)]
    if table.notes:
        lines.append("")
    for note in table.notes:
        lines += wrapped(clean(note), width)
    return lines


def as_data(table: Table) -> dict[str, Any]:
    """The report for programs: each row as a mapping from column to cell."""
    return {
        "report": table.name,
        "title": table.title,
        "rows": [dict(zip(table.columns, row, strict=True)) for row in table.rows],
        "notes": list(table.notes),
    }


def wrapped(text: str, width: int) -> list[str]:
    """A sentence broken at spaces into lines of at most `width` characters."""
    import textwrap

    return textwrap.wrap(text, width) or [""]


def _word(cell: Cell) -> object:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, date):
        return f"{cell:%d %b %Y}".lstrip("0")
    return cell
