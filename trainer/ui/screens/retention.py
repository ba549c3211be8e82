"""Retention: phrase by phrase what holds, the weakest first or in another order."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec.structs import replace
from textual.app import ComposeResult

from trainer.draw.words import BANDS
from trainer.ui.keys import bindings
from trainer.ui.room import Room
from trainer.ui.screens.choose import Choice, ChooseScreen
from trainer.ui.theme import INKS
from trainer.ui.widgets.rows import ListRow, Rows
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said, wrapped

if TYPE_CHECKING:
    from trainer.document.model import Document, Table
    from trainer.memory.model import Band

ALL = 3  # as in the app
DETAIL = 6  # lines below the table
ROOMY = 72  # columns, from which on the join stands in the list; the detail has it always
FIGURES = ("next_try", "join", "the_day", "last_cold", "next_call")
LAST = 9  # of the spare columns


class RetentionScreen(Room):
    ROOM = "retention"
    BINDINGS = bindings("retention")
    DEFAULT_CSS = """
    RetentionScreen > #heads { height: auto; padding: 1 2 0 2; }
    RetentionScreen > #table { padding: 0 2; }
    RetentionScreen > #detail { height: 7; padding: 0 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._deck: str | None = None
        self._sort = "weakest"
        self._only: Band | None = None
        self._at = 0
        self._found: Document | None = None

    def body(self) -> ComposeResult:
        yield Sheet("heads")
        yield Rows("table")
        yield Sheet("detail", fixed=True, under=True)

    def draw(self) -> None:
        app = self.trainer
        app.need(ALL)
        if app.stage >= ALL:
            self._found = self._report()
            self._show(self._found)
        elif self._found is None:
            self.sheet("heads").show([ink("Working it out …", "$faint")])
        self.show_title(*self._title_words())
        self.show_strip()

    def _report(self) -> Document:
        from trainer.reports.retention import report

        only = (self._only,) if self._only else ()
        return report(self.trainer.view, self._deck, sort=self._sort, only=only)

    def _title_words(self) -> tuple[str, str]:
        from trainer.reports.retention import SORTS

        view = self.trainer.view
        whose = f"Retention for {view.student.name}"
        told = [f"only {self._only}"] if self._only else []
        told.append(SORTS[self._sort][0])
        if self._deck:
            return f"{whose}, {view.decks[self._deck].title}", ", ".join(told)
        return whose, ", ".join(["all pieces", *told])

    @property
    def _table(self) -> Table | None:
        return self._found.table if self._found else None

    def _show(self, found: Document) -> None:
        from trainer.document.lines import laid

        table = found.table
        if table is None or not table.rows:
            none = found.notes[0] if self._only else "No start is open or tried yet."
            self.sheet("heads").show([ink(none, "bold")])
            self.query_one(Rows).show([])
            self.sheet("detail").show([])
            return
        self._at = min(self._at, len(table.rows) - 1)
        one_piece = self._deck or len(self.trainer.view.decks) == 1
        shown = table.without("piece") if one_piece else table
        if self.room[0] < ROOMY:
            last = (replace(c, spare=LAST) if c.key == "join" else c for c in shown.columns)
            shown = replace(shown, columns=tuple(last))
        heads, rows = laid(shown, width=self.room[0] - 2, ascii=self.trainer.ascii, deep=1)
        sign = heads[0].index("is")
        lines: list[ListRow] = []
        for at, one in enumerate(rows):
            lines += [ListRow(None, [ink(f"  {one.over}", "bold")])] if one.over else []
            own = [self._line(table, at, line, sign) for line in one.lines]
            lines.append(ListRow(at, own))
        self.sheet("heads").show(ink(f"  {line}", "$faint") for line in heads)
        self.query_one(Rows).show(lines, self._at)
        self.sheet("detail").show(self._detail(table, found.notes))

    def _line(self, table: Table, at: int, line: str, sign: int) -> Line:
        if at == self._at:
            return ink(f"> {line}", "bold $accent")
        style = INKS[str(table.cell(at, "stands"))]
        return row("  ", ink(line).stylize(style, sign, sign + 2))

    def _detail(self, table: Table, notes: Sequence[str]) -> list[Line]:
        """All figures of the chosen start, those too that the table has no room for."""
        from trainer.document.words import cell_word

        cells = dict(zip(table.keys, table.rows[self._at], strict=True))
        told = [
            f"{table.columns[table.at(key)].name} {cell_word(cells[key])}"
            for key in FIGURES
            if cells[key] and table.shown(key)
        ]
        state = str(cells["stands"])
        head = f"Start {cells['start']}, {cells['place']}, {cells['piece']}"
        return [
            row(said(head, "bold"), "  ", ink(state, f"bold {INKS[state]}")),
            *wrapped("; ".join(told), self.room[0]),
            *(line for note in notes for line in wrapped(note, self.room[0], "$faint")),
        ][:DETAIL]

    def action_move(self, by: int) -> None:
        if self._table and self._table.rows:
            self._at = min(max(0, self._at + by), len(self._table.rows) - 1)
            self.draw()

    def on_rows_picked(self, message: Rows.Picked) -> None:
        if message.at == self._at:
            self.action_on_map()
        else:
            self.action_move(message.at - self._at)

    def action_leaf(self, by: int) -> None:
        self.action_move(by * (self.room[1] - DETAIL - 8))

    @property
    def _marked(self) -> str:
        """The id of the marked start, "" where there is none."""
        if self._table is None or not self._table.rows:
            return ""
        return str(self._table.cell(self._at, "id"))

    def _change(self) -> None:
        """Make the list anew as it is wanted now; the mark stays on its start."""
        marked = self._marked
        if self.trainer.stage >= ALL:
            self._found = self._report()
            ids = [row["id"] for row in self._table.named()] if self._table else []
            self._at = ids.index(marked) if marked in ids else 0
        self.draw()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        whole = self.trainer.view.student.level == "advanced"
        does = {
            "sort": self._table is not None,
            "only": self._table is not None,
            "heard": self.trainer.desk.settings.get(self.trainer.view.student, "instrument")
            != "off",
            "log": whole and bool(self._marked),
        }.get(action, True)
        return does and super().check_action(action, parameters)

    def action_sort(self) -> None:
        from trainer.reports.retention import SORTS

        names = list(SORTS)
        self._sort = names[(names.index(self._sort) + 1) % len(names)]
        self._change()

    def action_only(self) -> None:
        """The next band, after the last one all of them again."""
        choices = (None, *BANDS)
        self._only = choices[(choices.index(self._only) + 1) % len(choices)]
        self._change()

    def action_log(self) -> None:
        from trainer.ui.screens.log import LogScreen

        for piece, start in self.trainer.view.starts():
            if start.id == self._marked:
                self.app.push_screen(LogScreen(piece.deck.id, start.id))

    def action_heard(self) -> None:
        from trainer.ui.screens.table import ReportReader

        self.app.push_screen(ReportReader("heard"))

    def action_on_map(self) -> None:
        if self._marked:
            from trainer.ui.screens.map import MapScreen

            self.app.push_screen(MapScreen(self._marked))

    def action_piece(self) -> None:
        decks = list(self.trainer.view.decks.values())
        choices = [Choice("", 0, "all pieces")]
        choices += [Choice(deck.id, n, deck.title) for n, deck in enumerate(decks, 1)]

        def chosen(deck_id: str | None) -> None:
            if deck_id is not None:
                self._deck = deck_id or None
                self._change()

        self.app.push_screen(ChooseScreen("Which piece?", choices, self._deck or ""), chosen)
