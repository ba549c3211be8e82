"""The form of every report: rows under named columns, and sentences below them."""

from __future__ import annotations

import csv
import io
import textwrap
from collections.abc import Sequence
from datetime import date
from typing import Any, NamedTuple

from trainer.draw.table import Column, laid_out
from trainer.draw.text import PLAIN, cells, clean, cut
from trainer.values import Frozen

FORMULA = ("=", "+", "-", "@", "\t", "\r")  # a cell that begins so may be run by a spreadsheet

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
    over: str = ""  # the column whose rows stand together: its cells are headings over them


class Row(NamedTuple):
    """A row as lines; `over` is the heading that comes before it, if one begins here."""

    over: str
    lines: list[str]


def as_text(table: Table, *, width: int = 80, ascii: bool = False) -> list[str]:
    """The report as lines of at most `width` cells; its notes are broken, never cut."""
    heads, rows = laid(table, width=width, ascii=ascii)
    lines = [cut(line, width, ascii=ascii) for line in wrapped(clean(table.title), width)]
    if rows:
        lines += ["", *heads]
    for row in rows:
        lines += [row.over] if row.over else []
        lines += row.lines
    if table.notes:
        lines.append("")
    for note in table.notes:
        lines += wrapped(clean(note), width)
    return [line.translate(PLAIN) for line in lines] if ascii else lines


def laid(
    table: Table, *, width: int = 80, ascii: bool = False, deep: int = 3
) -> tuple[list[str], list[Row]]:
    """The headings of the columns, and each row with its lines: at most `deep`, and those of a
    sentence told below it."""
    words = [[_word(cell) for cell in row] for row in table.rows]
    shown = _columns(table, words)
    over = next((i for i in shown if table.columns[i] == table.over), None)
    indent = "" if over is None else "  "
    room = width - len(indent)
    shown = _with_room(table, words, [i for i in shown if i != over], room)
    below = _told_below(table, words, shown, room)
    shown = [i for i in shown if i != below]
    columns = [
        Column(table.columns[i], "right" if table.columns[i] in table.figures else "left")
        for i in shown
    ]
    cells_shown = [[row[i] for i in shown] for row in words]
    heads, body = laid_out(columns, cells_shown, width=room, ascii=ascii, deep=deep)
    if below is not None:
        for row, lines in zip(words, body, strict=True):
            lines += [f"    {part}" for part in wrapped(row[below], room - 4) if part]
    headings = [""] * len(body)
    if over is not None:
        headings = _headings([row[over] for row in table.rows], width, ascii=ascii)
    rows = [
        Row(heading, [indent + line for line in lines])
        for heading, lines in zip(headings, body, strict=True)
    ]
    return [indent + line for line in heads], rows


def _headings(found: Sequence[Cell], width: int, *, ascii: bool) -> list[str]:
    """The heading that begins at each row, "" where the one before goes on. A day is written
    with its year."""
    headings = []
    for before, cell in zip((None, *found), found, strict=False):
        text = f"{cell:%a} {day_word(cell)} {cell.year}" if isinstance(cell, date) else _word(cell)
        headings.append("" if cell == before else cut(text, width, ascii=ascii))
    return headings


def _columns(table: Table, words: Sequence[Sequence[str]]) -> list[int]:
    """The columns that are shown where there is room: all but the hidden, and the piece where
    it is the same in every row."""
    left = [i for i, name in enumerate(table.columns) if name not in table.hidden]
    if (
        "piece" in table.columns
        and table.name != "pieces"
        and len({row[table.columns.index("piece")] for row in words}) == 1
    ):
        left = [i for i in left if table.columns[i] != "piece"] or left
    return left


def _with_room(
    table: Table, words: Sequence[Sequence[str]], left: list[int], width: int
) -> list[int]:
    """The columns without the spare ones, the first first, that have no room beside the rest."""
    for name in table.spare:
        if _wide(table, words, left) <= width:
            break
        left = [i for i in left if table.columns[i] != name]
    return left


def _told_below(
    table: Table, words: Sequence[Sequence[str]], shown: Sequence[int], width: int
) -> int | None:
    """The column of sentences, where the table is too wide with it."""
    if table.told not in table.columns or _wide(table, words, shown) <= width:
        return None
    return table.columns.index(table.told)


def _wide(table: Table, words: Sequence[Sequence[str]], shown: Sequence[int]) -> int:
    """The cells that these columns take side by side, nothing broken."""
    wide = [max(cells(row[i]) for row in (table.columns, *words)) for i in shown]
    return sum(wide) + 2 * (len(wide) - 1)


def as_data(table: Table) -> dict[str, Any]:
    """The report for programs: each row as a mapping from column to cell."""
    return {
        "report": table.name,
        "title": table.title,
        "rows": [dict(zip(table.columns, row, strict=True)) for row in table.rows],
        "notes": list(table.notes),
    }


def as_csv(table: Table) -> str:
    """All columns and rows as comma-separated values (RFC 4180), a head line first: days in
    ISO form, yes and no, nothing where there is nothing.

    A text that a spreadsheet might take for a formula has an apostrophe before it.
    """
    file = io.StringIO(newline="")
    writer = csv.writer(file)
    writer.writerow([_csv_cell(name) for name in table.columns])
    writer.writerows([_csv_cell(cell) for cell in row] for row in table.rows)
    return file.getvalue()


def _csv_cell(cell: Cell) -> Cell:
    if isinstance(cell, bool):
        return _word(cell)
    if isinstance(cell, date):
        return cell.isoformat()
    if not isinstance(cell, str):
        return cell
    text = clean(cell)
    return f"'{text}" if cell.startswith(FORMULA) or text.startswith(FORMULA) else text


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
