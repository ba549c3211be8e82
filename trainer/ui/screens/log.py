"""The log: every try, the newest first; of one start, or of all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.ui.keys import bindings
from trainer.ui.screens.page import ReaderScreen
from trainer.ui.widgets.sheet import Line, ink

if TYPE_CHECKING:
    from trainer.reports.view import View


class LogScreen(ReaderScreen):
    """Begins with the tries of one start of a deck, by their ids; without them, with all."""

    ROOM = "log"
    BINDINGS = bindings("log")

    def __init__(self, deck: str = "", start: str = "") -> None:
        super().__init__()
        self._deck = deck
        self._start = start
        self._all = not start
        self._made: tuple[View, bool, int] | None = None  # what the lines were made of
        self._lines: list[Line] = []

    def title_words(self) -> tuple[str, str]:
        view = self.trainer.view
        found = None if self._all else view.find(self._deck, self._start)
        told = f"start {found[1].number}, {found[0].deck.title}" if found else "all pieces"
        return f"Attempts, {told}", view.student.name

    def lines(self, width: int) -> list[Line]:
        view = self.trainer.view
        if self._made is None or self._made[0] is not view or self._made[1:] != (self._all, width):
            self._lines = list(self._read(view, width))
            self._made = view, self._all, width
        return self._lines

    def _read(self, view: View, width: int) -> list[Line]:
        from trainer.reports.attempts import report
        from trainer.reports.table import laid, wrapped

        chosen = (None, None) if self._all else (self._deck, self._start)
        table = report(view, *chosen)
        if not table.rows:
            told = table.notes[0] if self._all else "This start was not tried yet."
            return [ink(line, "bold") for line in wrapped(told, width)]
        heads, rows = laid(table, width=width, ascii=self.trainer.ascii)
        lines: list[Line] = [ink(line, "$faint") for line in heads]
        for found in rows:
            lines += [ink(found.over, "bold")] if found.over else []
            lines += found.lines
        return lines

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        does = action != "all" or bool(self._start)
        return does and super().check_action(action, parameters)

    def action_all(self) -> None:
        self._all, self._top = not self._all, 0
        self.draw()
