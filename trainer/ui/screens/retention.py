"""Retention: phrase by phrase what holds, the weakest first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from msgspec.structs import replace
from textual.app import ComposeResult

from trainer.ui.keys import bindings
from trainer.ui.room import Room, window
from trainer.ui.screens.choose import Choice, ChooseScreen
from trainer.ui.theme import INKS
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said, wrapped

if TYPE_CHECKING:
    from trainer.reports.table import Cell, Table

ALL = 3  # as in the app
DETAIL = 6  # lines below the table
FIGURES = ("next try", "join", "the day", "last cold", "next call")


class RetentionScreen(Room):
    ROOM = "retention"
    BINDINGS = bindings("retention")
    DEFAULT_CSS = """
    RetentionScreen > #table { height: 1fr; padding: 1 2 0 2; }
    RetentionScreen > #detail { height: 7; padding: 0 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._deck: str | None = None
        self._at = 0
        self._table: Table | None = None

    def body(self) -> ComposeResult:
        yield Sheet("table", fixed=True)
        yield Sheet("detail", fixed=True, under=True)

    def draw(self) -> None:
        app = self.trainer
        decks = app.view.decks
        piece = decks[self._deck].title if self._deck else "all pieces"
        self.show_title(f"Retention for {app.view.student.name}", piece)
        app.need(ALL)
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
        one_piece = self._deck or len(self.trainer.view.decks) == 1
        hidden = (*table.hidden, "piece") if one_piece else table.hidden
        shown = replace(table, hidden=hidden, notes=())
        text = as_text(shown, width=self.room[0] - 2, ascii=self.trainer.ascii)
        heads, body = text[2:4], text[4:]
        lines: list[Line] = [ink(f"  {line}", "$faint") for line in heads]
        sign = heads[0].index("is")
        marked = [self._line(table, at, line, sign) for at, line in enumerate(body)]
        height = self.room[1] - 5 - DETAIL - len(heads)
        self.sheet("table").show([*lines, *window(marked, height, self._at)])
        self.sheet("detail").show(self._detail(table))

    def _line(self, table: Table, at: int, line: str, sign: int) -> Line:
        if at == self._at:
            return ink(f"> {line}", "bold $accent")
        style = INKS[str(table.rows[at][table.columns.index("stands")])]
        return row("  ", ink(line).stylize(style, sign, sign + 2))

    def _detail(self, table: Table) -> list[Line]:
        """All figures of the chosen start, those too that the table has no room for."""
        cells = dict(zip(table.columns, table.rows[self._at], strict=True))
        told = [
            f"{name} {_word(cells[name])}"
            for name in FIGURES
            if cells[name] and name not in table.hidden
        ]
        state = str(cells["stands"])
        head = f"Start {cells['start']}, {cells['place']}, {cells['piece']}"
        return [
            row(said(head, "bold"), "  ", ink(state, f"bold {INKS[state]}")),
            *wrapped("; ".join(told), self.room[0]),
            *(line for note in table.notes for line in wrapped(note, self.room[0], "$faint")),
        ][:DETAIL]

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
