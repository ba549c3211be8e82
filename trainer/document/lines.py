"""A document as lines of a terminal, and as sentences to listen to.

A table is laid out for a width: spare columns go first, then a column of sentences is written
below its rows, then text is broken in two, and only then cut. `laid` gives the rows apart, so
that a screen can move among them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import NamedTuple

from trainer.document.model import (
    Block,
    Cell,
    Document,
    Drawing,
    Listing,
    Rule,
    Section,
    Sentence,
    Table,
)
from trainer.document.words import cell_word, day_word, in_full
from trainer.draw import table as draw
from trainer.draw.text import PLAIN, cells, clean, cut, wrapped

DEEP = 3  # lines that a row takes at the most, without its sentence below


class Row(NamedTuple):
    """A row as lines; `over` is the heading that comes before it, if one begins here."""

    over: str
    lines: list[str]


def as_lines(document: Document, *, width: int = 80, ascii: bool = False) -> list[str]:
    """The document as lines of at most `width` cells; sentences are broken, never cut."""
    title = "; ".join(filter(None, (document.title, document.aside)))
    lines = [cut(line, width, ascii=ascii) for line in wrapped(title, width)]
    before: Block | None = None
    for block in document.blocks:
        made = list(block_lines(block, width=width, ascii=ascii))
        close = isinstance(block, Sentence) and isinstance(before, Sentence)
        if made:
            lines += made if close else ["", *made]
            before = block
    return [line.translate(PLAIN) for line in lines] if ascii else lines


def block_lines(block: Block, *, width: int = 80, ascii: bool = False) -> Iterator[str]:
    """One block as lines; none where it has nothing to say."""
    match block:
        case Section(title=title, blocks=blocks):
            inside = [
                line
                for one in blocks
                for line in block_lines(one, width=max(1, width - 2), ascii=ascii)
            ]
            if inside:
                yield from wrapped(title, width)
                yield from (f"  {line}" if line else "" for line in inside)
        case Table():
            heads, rows = laid(block, width=width, ascii=ascii)
            yield from heads if rows else ()
            for row in rows:
                yield from (row.over, *row.lines) if row.over else row.lines
        case Sentence(text=text, lead=lead):
            yield from wrapped(f"{lead}: {text}" if lead else text, width) if text else ()
        case Listing(items=items):
            for item in items:
                yield from wrapped(item, width, indent="  ")
        case Drawing():
            yield from block.draw(width, ascii)
        case Rule():
            return


def as_speech(document: Document) -> list[str]:
    """The document to listen to: one sentence a line, a row of a table one sentence, no rules,
    no signs, no short forms of dates."""
    lines = [clean("; ".join(filter(None, (document.title, document.aside))))]
    for block in document.blocks:
        if isinstance(block, Section):
            inside = [line for one in block.blocks for line in _spoken(one)]
            lines += [f"{clean(block.title)}:", *inside] if inside else []
        else:
            lines += _spoken(block)
    return [full for line in lines for full in in_full(line)]


def _spoken(block: Block) -> Iterator[str]:
    match block:
        case Table():
            yield from (_row_sentence(block, row) for row in block.rows)
        case Sentence(text=text, lead=lead):
            yield clean(f"{lead}: {text}" if lead else text)
        case Listing(items=told) | Drawing(words=told):
            yield from map(clean, told)


def _row_sentence(table: Table, row: Sequence[Cell]) -> str:
    """ "Lanterns, start 4, place bar 13, why it is weak." """
    sentence = row_words(table, row, spoken=True)
    return f"{sentence}." if sentence else ""


def row_words(table: Table, row: Sequence[Cell], *, spoken: bool = False) -> str:
    """A row in full, each figure after the name of its column."""
    told = []
    for at in _shown(table, [[cell_word(cell) for cell in one] for one in table.rows]):
        column, word = table.columns[at], cell_word(row[at], spoken=spoken)
        if word:
            named = column.kind == "sentence" or column.key == table.over
            told.append(word if named else f"{column.name} {word}")
    return ", ".join(one.rstrip(".") for one in told)


def laid(
    table: Table, *, width: int = 80, ascii: bool = False, deep: int = DEEP
) -> tuple[list[str], list[Row]]:
    """The headings of the columns, and each row with its lines: at most `deep`, and those of a
    sentence written below it."""
    words = [[cell_word(cell) for cell in row] for row in table.rows]
    shown = _shown(table, words)
    over = next((at for at in shown if table.columns[at].key == table.over), None)
    indent = "" if over is None else "  "
    room = max(1, width - len(indent))
    shown = _with_room(table, words, [at for at in shown if at != over], room)
    below = _below(table, words, shown, room)
    shown = [at for at in shown if at != below]
    columns = [
        draw.Column(one.name, "right" if one.kind == "figure" else "left")
        for one in (table.columns[at] for at in shown)
    ]
    cells_shown = [[row[at] for at in shown] for row in words]
    heads, body = draw.laid_out(columns, cells_shown, width=room, ascii=ascii, deep=deep)
    if below is not None:
        for row, lines in zip(words, body, strict=True):
            lines += [f"    {part}" for part in wrapped(row[below], max(1, room - 4)) if part]
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
        text = cell_word(cell)
        if isinstance(cell, date):
            text = f"{cell:%a} {day_word(cell)} {cell.year}"
        headings.append("" if cell == before else cut(text, width, ascii=ascii))
    return headings


def _shown(table: Table, words: Sequence[Sequence[str]]) -> list[int]:
    """The columns that are shown where there is room: all but the hidden, and those told once
    where it is the same in every row."""
    left = [at for at, column in enumerate(table.columns) if not column.hidden]
    once = [at for at in left if table.columns[at].once and len({row[at] for row in words}) == 1]
    return [at for at in left if at not in once] or left


def _with_room(
    table: Table, words: Sequence[Sequence[str]], left: list[int], width: int
) -> list[int]:
    """The columns without those of the spare ones, in their order, that have no room."""
    spare = sorted((table.columns[at].spare, at) for at in left if table.columns[at].spare)
    for _, at in spare:
        if _wide(table, words, left) <= width:
            break
        left = [one for one in left if one != at]
    return left


def _below(
    table: Table, words: Sequence[Sequence[str]], shown: Sequence[int], width: int
) -> int | None:
    """The column of sentences, where the table is too wide with it."""
    for at in shown:
        if table.columns[at].kind == "sentence" and _wide(table, words, shown) > width:
            return at
    return None


def _wide(table: Table, words: Sequence[Sequence[str]], shown: Sequence[int]) -> int:
    """The cells that these columns take side by side, nothing broken."""
    heads = [column.name for column in table.columns]
    wide = [max(cells(row[at]) for row in (heads, *words)) for at in shown]
    return sum(wide) + draw.GAP * (len(wide) - 1)
