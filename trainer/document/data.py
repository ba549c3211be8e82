"""A document for programs: values under stable keys (JSON), and a table as CSV.

FORMAT counts the changes of the form that would break a reader: a key that is renamed or taken
away, a value of another kind. Keys that are added do not count.
"""

from __future__ import annotations

import csv
import io
from datetime import date
from typing import Any

from trainer.document.model import (
    Block,
    Cell,
    Document,
    Drawing,
    Listing,
    Rule,
    Section,
    Sentence,
    Standing,
    Table,
)
from trainer.document.words import cell_word
from trainer.draw.text import clean
from trainer.memory.model import Retention

FORMAT = 2
FORMULA = ("=", "+", "-", "@", "\t", "\r")  # a cell that begins so may be run by a spreadsheet


def as_data(document: Document) -> dict[str, Any]:
    """The document as dictionaries, lists, text and numbers; dates in ISO form, chances 0-1.

    Each block stands under its key. `notes` are the sentences outside of sections.
    """
    head: dict[str, Any] = {
        "format": FORMAT,
        "report": document.name,
        "title": document.title,
    }
    if document.aside:
        head["aside"] = document.aside
    return {**head, "notes": [], **_keyed(document.blocks)}


def _keyed(blocks: tuple[Block, ...]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for block in blocks:
        if isinstance(block, Sentence):
            found.setdefault(block.key, []).append(block.text)
        elif not isinstance(block, Rule):
            found[block.key] = _value(block)
    return found


def _value(block: Table | Listing | Drawing | Section) -> Any:
    if isinstance(block, Section):
        return {"title": block.title, **_keyed(block.blocks)}
    if isinstance(block, Table):
        return [{key: _raw(cell) for key, cell in row.items()} for row in block.named()]
    return list(block.items if isinstance(block, Listing) else block.words)


def _raw(cell: Cell) -> Any:
    if isinstance(cell, Standing):
        return cell.band
    if isinstance(cell, Retention):
        return {
            "chance": cell.chance,
            "low": cell.low,
            "high": cell.high,
            "attempts": cell.tries,
            "held": cell.held,
        }
    return cell.isoformat() if isinstance(cell, date) else cell


def as_csv(table: Table) -> str:
    """All columns and rows as comma-separated values (RFC 4180), a line of keys first: days in
    ISO form, yes and no, chances 0-1, nothing where there is nothing.

    A text that a spreadsheet might take for a formula has an apostrophe before it.
    """
    file = io.StringIO(newline="")
    writer = csv.writer(file)
    writer.writerow([column.key for column in table.columns])
    writer.writerows([_csv_cell(cell) for cell in row] for row in table.rows)
    return file.getvalue()


def _csv_cell(cell: Cell) -> str | int | float | None:
    if isinstance(cell, bool | Standing):
        return cell_word(cell, spoken=True)
    if isinstance(cell, Retention):
        return cell.chance
    if isinstance(cell, date):
        return cell.isoformat()
    if not isinstance(cell, str):
        return cell
    text = clean(cell)
    return f"'{text}" if cell.startswith(FORMULA) or text.startswith(FORMULA) else text
