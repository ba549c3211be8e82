"""The one screen for a document: its blocks from top to bottom, made in another thread. The rows
of a table that open something are a list, with a mark that moves; Enter opens the marked one.

Where there are several documents they are pages, side by side under their names.
"""

from __future__ import annotations

import re
from abc import abstractmethod
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, ClassVar, NamedTuple

from textual.app import ComposeResult
from textual.content import Content
from textual.message import Message

from trainer.draw.text import cells, clean
from trainer.draw.words import BAND_SIGNS
from trainer.reports.registry import REPORTS
from trainer.ui.keys import bindings
from trainer.ui.room import Room
from trainer.ui.theme import INKS
from trainer.ui.widgets.rows import ListRow, Rows
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, wrapped

if TYPE_CHECKING:
    from trainer.document.model import Block, Document, Table
    from trainer.reports.view import View

SIGNS = {sign: band for band, sign in BAND_SIGNS.items()}
SIGN = re.compile(rf"(?<!\S)[{re.escape(''.join(SIGNS))}](?!\S)")
TOLD = 3  # lines for the marked row in full


class Made(Message):
    """A document was made; or what went wrong."""

    def __init__(self, basis: Basis, document: Document | None, error: str = "") -> None:
        super().__init__()
        self.basis, self.document, self.error = basis, document, error


class Basis(NamedTuple):
    """What a document is made of: a view, and what the screen chose."""

    view: View
    chosen: tuple[object, ...]

    def same(self, other: Basis | None) -> bool:
        return other is not None and self.view is other.view and self.chosen == other.chosen

    def follows(self, before: Basis) -> bool:
        """Whether what was made of the one before may stand until this one is made: it is of the
        same student, and of the same page or start, which is chosen first."""
        whose = self.view.student.id, before.view.student.id
        return whose[0] == whose[1] and self.chosen[:1] == before.chosen[:1]


class ReportScreen(Room):
    """Shows documents; a subclass says which. `PAGES` are their names where there are several;
    `STAGE` is what the app has to have worked out before."""

    PAGES: ClassVar[tuple[str, ...]] = ()
    STAGE: ClassVar[int] = 0
    DEFAULT_CSS = f"""
    ReportScreen > #pages {{ height: 2; padding: 1 2 0 2; display: none; }}
    ReportScreen > #told {{ height: {TOLD + 1}; padding: 0 2; display: none; }}
    ReportScreen.-wide.-high > #pages.-has, ReportScreen.-wide.-high > #told.-has {{
        display: block; }}
    """

    def __init__(self) -> None:
        super().__init__()
        self._page = 0
        self._asked: Basis | None = None
        self._found: Document | None = None
        self._shown: tuple[Document, int] | None = None  # what the rows are of, and their width
        self._rows: list[ListRow] = []
        self._opening: list[tuple[Table, int]] = []  # the rows that can be marked
        self._left_out = False  # whether a table has no room for all of its columns
        self._at = 0

    # What a subclass says

    @abstractmethod
    def document(self, view: View) -> Document:
        """The document of the page. It is called in another thread and touches no widget."""

    def chosen(self) -> tuple[object, ...]:
        """What the document rests on besides the view."""
        return (self._page,)

    def title_words(self) -> tuple[str, str]:
        found = self._found
        return (found.title, found.aside) if found else ("Working it out …", "")

    @property
    def pages(self) -> tuple[str, ...]:
        return self.PAGES

    # What is shown

    @property
    def width(self) -> int:
        """Columns for the document."""
        return self.room[0]

    def body(self) -> ComposeResult:
        yield Sheet("pages", fixed=True)
        yield Rows("document")
        yield Sheet("told", fixed=True, under=True)

    def draw(self) -> None:
        self._request()
        if self._found and self._shown != (self._found, self.width):
            self._read(self._found, self.width)
        waiting = [ListRow(None, [ink("Working it out …", "$faint")])]
        shown = [self._marked_row(one) for one in self._rows] if self._found else waiting
        self.show_title(*self.title_words())
        self._show_pages()
        self._show_told()
        self.show_strip()
        self.query_one(Rows).show(shown, self._at if self._opening else None)

    def _request(self) -> None:
        """Have the document made, where it is not there yet."""
        app = self.trainer
        if app.stage < self.STAGE:
            app.need(self.STAGE)
            return
        basis = Basis(app.view, self.chosen())
        if basis.same(self._asked):
            return
        if self._asked and not basis.follows(self._asked):
            self._found = None
        self._asked = basis
        self.run_worker(lambda: self._make(basis), thread=True, exclusive=True, group="report")

    def _make(self, basis: Basis) -> None:
        self.post_message(Made(basis, self.document(basis.view)))

    def on_made(self, message: Made) -> None:
        if not message.basis.same(self._asked):
            return
        if message.error:
            self.say(message.error)
        else:
            marked = self.marked
            self._found = message.document
            self.query_one(Rows).begin_anew()
            if self._found:
                self._read(self._found, self.width)
            ids = [str(table.cell(n, table.opens)) for table, n in self._opening]
            self._at = ids.index(marked) if marked in ids else 0
        self.redraw()

    def _read(self, found: Document, width: int) -> None:
        self._rows, self._opening, self._left_out = [], [], False
        for piece in read(found, width, ascii=self.trainer.ascii):
            if isinstance(piece, tuple):
                table, n, lines = piece
                self._rows.append(ListRow(len(self._opening), lines))
                self._opening.append((table, n))
                self._left_out |= n == 0 and lacks(table, self._rows[-2].lines)
            elif self._rows and self._rows[-1].at is None:
                self._rows[-1] = ListRow(None, [*self._rows[-1].lines, *piece])
            else:
                self._rows.append(ListRow(None, piece))
        self._shown = found, width

    def _marked_row(self, one: ListRow) -> ListRow:
        if one.at is None:
            return one
        if one.at != self._at:
            return ListRow(one.at, [row("  ", line) for line in one.lines])
        lines = [f"{' ' if n else '>'} {line}" for n, line in enumerate(one.lines)]
        return ListRow(one.at, [ink(line, "bold $accent") for line in lines])

    def _show_pages(self) -> None:
        names = enumerate(self.pages if self._found is None or self.turns else ())
        tabs = [
            ink(f"[{name}]", "bold $accent") if at == self._page else ink(f" {name} ")
            for at, name in names
        ]
        self.sheet("pages").set_class(bool(tabs), "-has").show([row(*tabs)] if tabs else [])

    def _show_told(self) -> None:
        """The marked row in full, where its table leaves something out."""
        from trainer.document.lines import row_words

        lines: list[Line] = []
        if self._opening:
            table, n = self._opening[self._at]
            if self._left_out:
                lines = wrapped(row_words(table, table.rows[n], spoken=True), self.room[0])[:TOLD]
        self.sheet("told").set_class(bool(lines), "-has").show(lines)

    # What is done

    @property
    def marked(self) -> str:
        """The id of what the marked row opens, "" where none is marked."""
        if not self._opening:
            return ""
        table, n = self._opening[self._at]
        return str(table.cell(n, table.opens))

    @property
    def turns(self) -> bool:
        """Whether there are other pages to turn to."""
        return len(self.pages) > 1

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        does = {"open": bool(self.marked), "turn": self.turns}.get(action, True)
        return does and super().check_action(action, parameters)

    def action_move(self, by: int) -> None:
        """Mark another row; where there is none that way, scroll."""
        to = min(max(0, self._at + by), len(self._opening) - 1)
        if not self._opening or to == self._at:
            self.query_one(Rows).scroll_by(by)
            return
        self._at = to
        self.draw()

    def action_leaf(self, by: int) -> None:
        self.action_move(by * max(1, self.query_one(Rows).scrollable_content_region.height - 2))

    def action_turn(self, by: int) -> None:
        self._page, self._at = (self._page + by) % len(self.pages), 0
        self.draw()

    def on_rows_picked(self, message: Rows.Picked) -> None:
        if message.at == self._at:
            self.action_open()
        else:
            self.action_move(message.at - self._at)

    def action_open(self) -> None:
        """Show the start of the marked row on its map, or the piece."""
        from trainer.ui.screens.map import MapScreen

        for piece, start in self.trainer.view.starts():
            if self.marked in (start.id, piece.deck.id):
                self.app.push_screen(MapScreen(start.id))
                return


class ReportReader(ReportScreen):
    """Any report of the registry, by its name."""

    ROOM = "report"
    BINDINGS = bindings("report")

    def __init__(self, name: str, deck: str | None = None) -> None:
        super().__init__()
        self._report, self._deck = REPORTS[name], deck

    def document(self, view: View) -> Document:
        return self._report(view, self._deck)


# A document as lines of a screen

Opening = tuple["Table", int, list[Line]]  # a table, the number of a row, and its lines


def read(document: Document, width: int, *, ascii: bool) -> Iterator[list[Line] | Opening]:
    """The blocks as lines, and each row that opens something by itself. A title too long for the
    top of the screen stands here again."""
    from trainer.document.model import Sentence, Table

    title = clean("; ".join(filter(None, (document.title, document.aside))))
    lines: list[Line] = []
    if cells(title) > width - 2:
        lines = list(wrapped(title, width, "bold"))
    before: Block | None = None
    for block in document.blocks:
        close = isinstance(block, Sentence) and isinstance(before, Sentence)
        if isinstance(block, Table) and block.opens and block.rows:
            heads, rows = _opening(block, width, ascii)
            yield [*lines, *[""] * bool(lines or before), *heads]
            for over, opening in rows:
                if over:
                    yield [ink(over, "bold")]
                yield opening
            lines, before = [], block
        elif made := block_lines(block, width, ascii=ascii, first=before is None):
            lines += made if close or not (lines or before) else ["", *made]
            before = block
    if lines:
        yield lines


def _opening(block: Table, width: int, ascii: bool) -> tuple[list[Line], list[tuple[str, Opening]]]:
    from trainer.document.lines import laid

    heads, rows = laid(block, width=width - 2, ascii=ascii)
    indent = 2 if rows[0].over else 0  # the mark stands in its place
    found: list[tuple[str, Opening]] = [
        (one.over, (block, n, [signed(line[indent:]) for line in one.lines]))
        for n, one in enumerate(rows)
    ]
    heads = [line[indent:] for line in heads]
    return [ink(f"  {line}", "$faint") for line in heads], found


def lacks(table: Table, heads: Sequence[Line]) -> bool:
    """Whether a spare column does not stand in the headings."""
    told = " ".join(map(str, heads))
    return any(one.spare and not one.hidden and one.name not in told for one in table.columns)


def block_lines(block: Block, width: int, *, ascii: bool, first: bool = False) -> list[Line]:
    """One block; a sentence that stands `first` is the answer, the others are set back."""
    from trainer.document.lines import block_lines as plain_lines
    from trainer.document.lines import laid
    from trainer.document.model import Drawing, Section, Sentence, Table
    from trainer.ui.screens.map import colour_bands

    match block:
        case Table() if block.rows:
            heads, rows = laid(block, width=width, ascii=ascii)
            lines: list[Line] = [ink(line, "$faint") for line in heads]
            for found in rows:
                lines += [ink(found.over, "bold")] if found.over else []
                lines += map(signed, found.lines)
            return lines
        case Section(title=title, blocks=blocks):
            inside = [ln for one in blocks for ln in block_lines(one, width - 2, ascii=ascii)]
            told = [row("  ", line) for line in inside]
            return [*wrapped(title, width, "bold"), *told] if told else []
        case Drawing():
            return [colour_bands(line, ascii=ascii) for line in block.draw(width, ascii)]
        case Sentence(text=text):
            return list(wrapped(text, width, "bold" if first else "$faint")) if text else []
    return [signed(line) for line in plain_lines(block, width=width, ascii=ascii)]


def signed(line: str) -> Content:
    """A line with each sign that says how a start stands in its colour."""
    content = ink(line)
    for found in SIGN.finditer(line):
        content = content.stylize(INKS[SIGNS[found[0]]], *found.span())
    return content
