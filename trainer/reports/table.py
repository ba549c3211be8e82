"""The form of every report: rows under named columns, and sentences below them."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from datetime import date
from typing import Any

from trainer.draw.table import Column, text_table
from trainer.draw.text import PLAIN, cells, clean, cut
from trainer.values import Frozen

LONGEST = {"piece": 18}  # cells that a column may take, so that a title leaves room for the rest

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
    spare: tuple[str, ...] = ()  # columns that a narrow screen goes without, the first first
    told: str = ""  # the column of sentences: set below its row where it does not fit beside it


def as_text(table: Table, *, width: int = 80, ascii: bool = False) -> list[str]:
    """The report as lines of at most `width` cells; its notes are broken, never cut."""
    words = [[_word(cell) for cell in row] for row in table.rows]
    shown = _shown(table, words, width)
    below = _told_below(table, words, shown, width)
    shown = [i for i in shown if i != below]
    heads = [
        Column(table.columns[i], "right" if table.columns[i] in table.figures else "left")
        for i in shown
    ]
    rows = [[cut(row[i], LONGEST.get(table.columns[i], 999)) for i in shown] for row in words]
    lines = [cut(clean(table.title), width, ascii=ascii)]
    if rows:
        head, rule, *body = text_table(heads, rows, width=width, ascii=ascii)
        lines += ["", head, rule]
        for line, row in zip(body, words, strict=True):
            lines.append(line)
            if below is not None and row[below]:
                lines += [f"    {part}" for part in wrapped(row[below], width - 4)]
    if table.notes:
        lines.append("")
    for note in table.notes:
        lines += wrapped(clean(note), width)
    return [line.translate(PLAIN) for line in lines] if ascii else lines


def _shown(table: Table, words: Sequence[Sequence[str]], width: int) -> list[int]:
    """The columns that are shown: all but the hidden, the piece where it is the same in every
    row, and the spare ones where the rest would not fit. A table that cannot fit all the same is
    cut by the text table."""
    left = [i for i, name in enumerate(table.columns) if name not in table.hidden]
    if (
        "piece" in table.columns
        and table.name != "pieces"
        and len({row[table.columns.index("piece")] for row in words}) == 1
    ):
        left = [i for i in left if table.columns[i] != "piece"] or left
    for name in table.spare:
        wide = [max(cells(row[i]) for row in (table.columns, *words)) for i in left]
        if sum(wide) + 2 * (len(wide) - 1) <= width:
            break
        left = [i for i in left if table.columns[i] != name]
    return left


def _told_below(
    table: Table, words: Sequence[Sequence[str]], shown: Sequence[int], width: int
) -> int | None:
    """The column of sentences, where the table is too wide with it."""
    if table.told not in table.columns:
        return None
    wide = [
        min(
            max(cells(row[i]) for row in (table.columns, *words)),
            LONGEST.get(table.columns[i], 999),
        )
        for i in shown
    ]
    fits = sum(wide) + 2 * (len(wide) - 1) <= width
    return None if fits else table.columns.index(table.told)


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
    return textwrap.wrap(text, width) or [""]


def _word(cell: Cell) -> str:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, date):
        return day_word(cell)
    return "" if cell is None else clean(str(cell))


def day_word(day: date) -> str:
    """A day in the short form of the tables: "7 Mar"."""
    return f"{day.day} {day:%b}"
