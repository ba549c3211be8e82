"""A document: what a report says, apart from how it is written.

A report is a function from a student's state to one `Document`: a title and blocks. Writers
turn it into something else: `lines` into lines of a terminal, `data` into values for programs
(JSON, CSV), `paper.written` into HTML for print, `ui.screens.table` into a screen. A cell
keeps its value (a date, a chance), and each writer writes it in its own way; so programs get
raw values, and a heading can be reworded without breaking a reader. A block's `key` names it
for programs and never changes.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from datetime import date
from typing import Literal

from msgspec.structs import replace

from trainer.memory.model import Band, Retention
from trainer.values import Frozen

KEY = re.compile(r"[a-z][a-z0-9_]*")


class Standing(Frozen, frozen=True):
    """How a start stands as a cell: a sign for people who read, the band's name for programs and
    for people who listen."""

    band: Band
    stuck: bool = False


Cell = str | int | float | bool | date | Retention | Standing | None
Kind = Literal["text", "figure", "sentence"]


class Column(Frozen, frozen=True):
    """One column of a table.

    `key` names it for programs, `head` for people (default: the key, with blanks). A figure is
    set to the right; a sentence is written below its row where it has no room beside it. A
    `spare` column (1, 2, ...) is left out where there is no room, 1 first; a `hidden` one is for
    programs only; one that is told `once` is left out where all rows have the same.
    """

    key: str
    head: str = ""
    kind: Kind = "text"
    spare: int = 0
    hidden: bool = False
    once: bool = False

    @property
    def name(self) -> str:
        return self.head or self.key.replace("_", " ")


def columns(
    *keys: str,
    figures: Collection[str] = (),
    hidden: Collection[str] = (),
    spare: Sequence[str] = (),
    sentence: str = "",
    once: Collection[str] = ("piece",),
    heads: Mapping[str, str] | None = None,
) -> tuple[Column, ...]:
    """Columns by their keys; of these the figures, the hidden ones, the spare ones in the order in
    which they go, the one of sentences, those told once, and the headings that are not the key."""
    named = heads or {}
    return tuple(
        Column(
            key,
            named.get(key, ""),
            "figure" if key in figures else "sentence" if key == sentence else "text",
            spare.index(key) + 1 if key in spare else 0,
            key in hidden,
            key in once,
        )
        for key in keys
    )


class Table(Frozen, frozen=True):
    """Rows under columns. The rows that are alike in the column `over` stand together under it as
    their heading; `opens` is the key of the column with the id of what a row opens."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    key: str = "rows"
    over: str = ""
    opens: str = ""

    @property
    def keys(self) -> tuple[str, ...]:
        return tuple(column.key for column in self.columns)

    def named(self) -> Iterator[dict[str, Cell]]:
        """The rows with their cells by key."""
        return (dict(zip(self.keys, row, strict=True)) for row in self.rows)

    def without(self, *keys: str) -> Table:
        """The same with these columns for programs only."""
        hidden = (replace(c, hidden=True) if c.key in keys else c for c in self.columns)
        return replace(self, columns=tuple(hidden))

    def at(self, key: str) -> int:
        """The place of a column. Raises ValueError where there is none."""
        return self.keys.index(key)

    def cell(self, row: int, key: str) -> Cell:
        return self.rows[row][self.at(key)]

    def shown(self, key: str) -> bool:
        """Whether people see that column."""
        return not self.columns[self.at(key)].hidden


class Sentence(Frozen, frozen=True):
    """One sentence or more; `lead` are its first words, set off: "One thing to try"."""

    text: str
    lead: str = ""
    key: str = "notes"


class Listing(Frozen, frozen=True):
    """Sentences, one an item."""

    items: tuple[str, ...]
    key: str = "items"


class Drawing(Frozen, frozen=True):
    """What is drawn for a width and for all signs or ASCII alone: the music, a keyboard. `words`
    say the same where nothing can be drawn, a sentence an item."""

    draw: Callable[[int, bool], Sequence[str]]
    words: tuple[str, ...] = ()
    key: str = "drawing"


class Rule(Frozen, frozen=True):
    """A line to write on, on paper; nothing elsewhere."""

    count: int = 1


Plain = Table | Sentence | Listing | Drawing | Rule


class Section(Frozen, frozen=True):
    """Blocks under a title. One without blocks is left out by every writer but that for
    programs."""

    key: str
    title: str
    blocks: tuple[Plain, ...]


Block = Plain | Section


class Document(Frozen, frozen=True):
    """`name` is the report's; `aside` stands at the other end of the title: a date, a recital."""

    name: str
    title: str
    blocks: tuple[Block, ...]
    aside: str = ""

    @property
    def table(self) -> Table | None:
        """The first table, inside a section or not."""
        for block in self.blocks:
            for one in block.blocks if isinstance(block, Section) else (block,):
                if isinstance(one, Table):
                    return one
        return None

    @property
    def rows(self) -> tuple[tuple[Cell, ...], ...]:
        """The rows of the first table; none without one."""
        return self.table.rows if self.table else ()

    @property
    def notes(self) -> tuple[str, ...]:
        """The sentences that stand outside of sections."""
        return tuple(block.text for block in self.blocks if isinstance(block, Sentence))


def listed(
    name: str,
    title: str,
    table: Table,
    notes: tuple[str, ...] = (),
    aside: str = "",
    *,
    first: tuple[str, ...] = (),
) -> Document:
    """The most usual document: one table, sentences below it, and those that come `first`."""
    blocks: tuple[Block, ...] = (*map(Sentence, first), table, *map(Sentence, notes))
    return Document(name, title, blocks, aside)


def checked(document: Document) -> Document:
    """The document, if it is well formed. Raises ValueError where a key is none or stands twice,
    a row has another count of cells than there are columns, or `over` or `opens` names no
    column."""
    _distinct([block.key for block in document.blocks if not isinstance(block, Sentence | Rule)])
    for block in document.blocks:
        inside = block.blocks if isinstance(block, Section) else (block,)
        if isinstance(block, Section):
            _distinct([one.key for one in block.blocks if not isinstance(one, Sentence | Rule)])
        for one in inside:
            if isinstance(one, Table):
                _whole(one)
    return document


def _distinct(keys: list[str]) -> None:
    for key in keys:
        if not KEY.fullmatch(key):
            raise ValueError(f"not a key: {key!r}")
        if keys.count(key) > 1:
            raise ValueError(f"the key {key!r} stands twice")


def _whole(table: Table) -> None:
    keys = [column.key for column in table.columns]
    _distinct(keys)
    for name in filter(None, (table.over, table.opens)):
        if name not in keys:
            raise ValueError(f"no column {name!r}")
    for row in table.rows:
        if len(row) != len(keys):
            raise ValueError(f"a row of {len(row)} cells under {len(keys)} columns")
