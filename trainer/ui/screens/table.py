"""A report to be read: its rows and its notes, made once for a view and a width."""

from __future__ import annotations

from abc import abstractmethod
from typing import TYPE_CHECKING

from textual.message import Message

from trainer.draw.text import PLAIN
from trainer.reports.registry import REPORTS
from trainer.ui.keys import bindings
from trainer.ui.screens.page import ReaderScreen
from trainer.ui.widgets.sheet import Line, ink, wrapped

if TYPE_CHECKING:
    from trainer.document.model import Block, Document
    from trainer.reports.view import View


class ReportScreen(ReaderScreen):
    """Shows a report; a subclass says which, and `anew` when it is another one."""

    def __init__(self) -> None:
        super().__init__()
        self._made: tuple[View, int] | None = None  # what the lines were made of
        self._lines: list[Line] = []

    @abstractmethod
    def document(self, view: View) -> Document: ...

    def anew(self) -> None:
        self._made = None
        self.reader.to_top()
        self.draw()

    def lines(self, width: int) -> list[Line]:
        view = self.trainer.view
        if self._made is None or self._made[0] is not view or self._made[1] != width:
            self._lines = list(self._read(view, width))
            self._made = view, width
        return self._lines

    def _read(self, view: View, width: int) -> list[Line]:
        return document_lines(self.document(view), width, ascii=self.trainer.ascii)


class Made(Message):
    """A report was made of a view."""

    def __init__(self, view: View, document: Document) -> None:
        super().__init__()
        self.view = view
        self.document = document


class ReportReader(ReportScreen):
    """Any report of the registry, by its name; it is made in another thread."""

    ROOM = "report"
    BINDINGS = bindings("report")

    def __init__(self, name: str, deck: str | None = None) -> None:
        super().__init__()
        self._report, self._deck = REPORTS[name], deck
        self._asked: View | None = None
        self._document: Document | None = None

    def title_words(self) -> tuple[str, str]:
        return self._report.title, self.trainer.view.student.name

    def draw(self) -> None:
        view, report, deck = self.trainer.view, self._report, self._deck
        if self._asked is not view:
            self._asked, self._document = view, None

            def make() -> None:
                self.post_message(Made(view, report(view, deck)))

            self.run_worker(make, thread=True, exclusive=True, group="report")
        super().draw()

    def on_made(self, message: Made) -> None:
        if message.view is self._asked:
            self._document, self._made = message.document, None
            self.redraw()

    def document(self, view: View) -> Document:  # noqa: ARG002
        from trainer.document.model import Document

        return self._document or Document(self._report.name, "Working it out …", ())

    def _read(self, view: View, width: int) -> list[Line]:
        found = self.document(view)
        title = "; ".join(filter(None, (found.title, found.aside)))
        return [*wrapped(title, width, "bold"), "", *super()._read(view, width)]


def document_lines(document: Document, width: int, *, ascii: bool) -> list[Line]:
    """The blocks of a document as lines of a screen; where there are only sentences, in bold."""
    from trainer.document.model import Section, Sentence

    alone = not document.rows and not any(isinstance(b, Section) for b in document.blocks)
    lines: list[Line] = []
    before = None
    for block in document.blocks:
        made = _block_lines(block, width, ascii, "bold" if alone else "$accent")
        if made:
            close = isinstance(block, Sentence) and isinstance(before, Sentence)
            lines += made if close or not lines else ["", *made]
            before = block
    return lines


def _block_lines(block: Block, width: int, ascii: bool, note: str) -> list[Line]:
    from trainer.document.lines import block_lines, laid
    from trainer.document.model import Section, Sentence, Table

    match block:
        case Table() if block.rows:
            heads, rows = laid(block, width=width, ascii=ascii)
            lines: list[Line] = [ink(line, "$faint") for line in heads]
            for found in rows:
                lines += [ink(found.over, "bold")] if found.over else []
                lines += found.lines
            return lines
        case Section(title=title):
            inside = list(block_lines(block, width=width, ascii=ascii))[
                len(wrapped(title, width)) :
            ]
            told = (line.translate(PLAIN) if ascii else line for line in inside)
            return [*wrapped(title, width, "bold"), *map(ink, told)] if inside else []
        case Sentence(text=text):
            return list(wrapped(text, width, note)) if text else []
    return list(block_lines(block, width=width, ascii=ascii))
