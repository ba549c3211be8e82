"""Retention: phrase by phrase what holds, the weakest first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec.structs import replace
from textual.app import ComposeResult

from trainer.draw.words import BANDS, band_sign
from trainer.ui.keys import bindings
from trainer.ui.room import Room, window
from trainer.ui.screens.choose import Choice, ChooseScreen
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said, wrapped

if TYPE_CHECKING:
    from trainer.reports.table import Cell, Table

ALL = 3  # as in the app
DETAIL = 5  # lines below the table
# What the table shows from which width on; the chosen start's other figures stand below it.
NARROW = ("piece", "start", "place", "stands", "now")
WIDE = (*NARROW, "join", "recital day", "last cold", "next call")
WIDE_FROM = 150


class RetentionScreen(Room):
    ROOM = "retention"
    BINDINGS = bindings("retention")
    CSS = """
    RetentionScreen > #table { height: 1fr; padding: 1 2 0 2; }
    RetentionScreen > #detail { height: 5; padding: 0 2; border-top: solid $panel; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._deck: str | None = None
        self._at = 0
        self._table: Table | None = None

    def body(self) -> ComposeResult:
        yield Sheet("table", fixed=True)
        yield Sheet("detail", fixed=True)

    def draw(self) -> None:
        app = self.trainer
        decks = app.view.decks
        piece = decks[self._deck].title if self._deck else "all pieces"
        self.show_title(f"Retention for {app.view.student.name}", piece)
        if app.stage >= ALL:
            from trainer.reports.retention import report

            self._table = report(app.view, self._deck)
            self._show(self._table)
        elif self._table is None:
            self.sheet("table").show([ink("Working it out …", "$faint")])
        self.show_strip()

    def _show(self, table: Table) -> None:
        from trainer.reports.table import as_text

        if not table.rows:
            self.sheet("table").show([ink("No start is open yet, and none was tried.", "bold")])
            self.sheet("detail").show([])
            return
        self._at = min(self._at, len(table.rows) - 1)
        columns: tuple[str, ...] = WIDE if self.room[0] >= WIDE_FROM else NARROW
        if self._deck or len(self.trainer.view.decks) == 1:
            columns = columns[1:]
        hidden = tuple(name for name in table.columns if name not in columns)
        signed = replace(table, rows=tuple(self._signed(table, one) for one in table.rows))
        text = as_text(
            replace(signed, hidden=hidden, notes=()),
            width=self.room[0] - 2,
            ascii=self.trainer.ascii,
        )
        heads, body = text[2:4], text[4:]
        lines: list[Line] = [ink(f"  {line}", "$faint") for line in heads]
        marked = [self._line(at, line) for at, line in enumerate(body)]
        height = self.room[1] - 4 - DETAIL - len(heads)
        self.sheet("table").show([*lines, *window(marked, height, self._at)])
        self.sheet("detail").show(self._detail(table))

    def _line(self, at: int, line: str) -> Line:
        chosen = at == self._at
        mark = "> " if chosen else "  "
        return ink(mark + line, "bold $accent" if chosen else "")

    def _signed(self, table: Table, cells: tuple[Cell, ...]) -> tuple[Cell, ...]:
        """The row with its band's sign beside its word."""
        at = table.columns.index("stands")
        word = str(cells[at])
        sign = next((band_sign(b, ascii=self.trainer.ascii) for b in BANDS if b == word), "")
        return (*cells[:at], f"{sign} {word}", *cells[at + 1 :])

    def _detail(self, table: Table) -> list[Line]:
        """The other figures of the chosen start, and what all figures are."""
        cells = dict(zip(table.columns, table.rows[self._at], strict=True))
        names = [n for n in WIDE if n not in NARROW and n not in table.hidden]
        words = [f"{name} {_word(cells[name])}" for name in names if cells[name] is not None]
        head = f"Start {cells['start']}, {cells['place']}"
        found: list[Line] = [row(said(head, "bold"))]
        found += wrapped("; ".join(words), self.room[0])
        return found + [line for note in table.notes[:1] for line in self._note(note)]

    def _note(self, note: str) -> list[Line]:
        return wrapped(note, self.room[0], "$faint")

    def action_move(self, by: int) -> None:
        if self._table and self._table.rows:
            self._at = min(max(0, self._at + by), len(self._table.rows) - 1)
            self.draw()

    def action_leaf(self, by: int) -> None:
        self.action_move(by * (self.room[1] - DETAIL - 8))

    def action_on_map(self) -> None:
        if self._table and self._table.rows:
            from trainer.ui.screens.map import MapScreen

            start = str(self._table.rows[self._at][self._table.columns.index("id")])
            self.app.push_screen(MapScreen(start))

    def action_piece(self) -> None:
        decks = list(self.trainer.view.decks.values())
        choices = [Choice("", 0, "all pieces")]
        choices += [Choice(deck.id, n, deck.title) for n, deck in enumerate(decks, 1)]

        def chosen(deck_id: str | None) -> None:
            if deck_id is not None:
                self._deck, self._at, self._table = deck_id or None, 0, None
                self.draw()

        self.app.push_screen(ChooseScreen("Which piece?", choices, self._deck or ""), chosen)


def _word(cell: Cell) -> str:
    from datetime import date

    return f"{cell.day} {cell:%b}" if isinstance(cell, date) else str(cell)
