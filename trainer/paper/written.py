"""A document as a page to print."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

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
from trainer.document.words import cell_word
from trainer.paper import html
from trainer.paper.html import Element, el, p, strong
from trainer.paper.page import Paper, Size, document


def written(
    found: Document, *, foot: str = "", size: Size | None = None, paper: Paper | None = None
) -> str:
    """The text of one HTML file that says what the document says."""
    body = [element for block in found.blocks for element in elements(block, found.title)]
    return document(found.title, *body, about=found.aside, foot=foot, size=size, paper=paper)


def elements(block: Block, title: str) -> Iterator[Element]:
    """One block as elements; none where it has nothing to say. A table is captioned with the
    title that it stands under."""
    match block:
        case Section(title=own, blocks=blocks):
            inside = [element for one in blocks for element in elements(one, own)]
            if inside:
                yield html.section(2, own, *inside)
        case Table() if block.rows:
            yield table_of(block, title)
        case Sentence(text=text, lead=lead) if text:
            yield p(strong(f"{lead}: ") if lead else None, text, class_="note" if lead else None)
        case Listing(items=told) | Drawing(words=told):
            listed = html.sentences(told)
            if listed is not None:
                yield listed
        case Rule(count=count):
            yield from (el("div", class_="rule") for _ in range(count))


def table_of(block: Table, caption: str, *, class_: str | None = None) -> Element:
    """The columns that people see, each row named by its first one."""
    shown = [at for at, column in enumerate(block.columns) if not column.hidden]
    heads = [block.columns[at].name for at in shown]
    figures = [at for at, of in enumerate(shown) if block.columns[of].kind == "figure"]
    rows = [[_cell(row[at]) for at in shown] for row in block.rows]
    return html.table(caption, heads, rows, figures=figures, class_=class_)


def _cell(cell: Cell) -> Element | str:
    word = cell_word(cell)
    return html.span("day", word) if isinstance(cell, date) else word
