"""Settings: how things are named and shown, and when there is a drill."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import TYPE_CHECKING

from textual.app import ComposeResult

from trainer.draw.text import cells, cut
from trainer.ui.keys import bindings
from trainer.ui.room import Room
from trainer.ui.widgets.rows import ListRow, Rows
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said, wrapped

if TYPE_CHECKING:
    from trainer.record.people import Student
    from trainer.reports.settings import Setting

DETAIL = 6  # lines below the list


class SettingsScreen(Room):
    ROOM = "settings"
    BINDINGS = bindings("settings")
    DEFAULT_CSS = """
    SettingsScreen > #detail { height: 7; padding: 0 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._at = 0

    def body(self) -> ComposeResult:
        yield Rows("settings")
        yield Sheet("detail", fixed=True, under=True)

    @property
    def _settings(self) -> list[Setting]:
        return [one for group in self._groups.values() for one in group]

    @property
    def _groups(self) -> dict[str, list[Setting]]:
        """Where no instrument is set, what is only for its owner is left out."""
        from trainer.reports.settings import OFF, grouped

        instrument = self.trainer.desk.settings.get(self._student, "instrument")
        return grouped(instrument=instrument != OFF)

    @property
    def _student(self) -> Student:
        return self.trainer.view.student

    def draw(self) -> None:
        self.show_title(f"Settings for {self._student.name}")
        self._at = min(self._at, len(self._settings) - 1)
        self.query_one(Rows).show(list(self._rows()), self._at)
        self.sheet("detail").show(self._detail())
        self.show_strip()

    def _rows(self) -> Iterator[ListRow]:
        """The settings under the headings of their groups, each as it stands now."""
        wide = max(cells(one.title) for one in self._settings)
        at = 0
        for head, group in self._groups.items():
            yield ListRow(None, [ink(head, "bold")])
            for one in group:
                style = "bold $accent" if at == self._at else ""
                mark = ">" if at == self._at else " "
                name = ink(f"{mark} {one.title:{wide}}  ", style or "$faint")
                yield ListRow(at, [row(name, self._value(one, self.room[0] - wide - 4, style))])
                at += 1

    def _value(self, one: Setting, width: int, style: str) -> Line:
        """How a setting stands, in brackets among its choices where there is room for them."""
        now = self.trainer.desk.settings.get(self._student, one.name)
        ways = " ".join(f"[{way}]" if way == now else f" {way} " for way in one.values)
        if not one.values or cells(ways) > width:
            return said(cut(now, width), style)
        before, chosen, after = ways.partition(f"[{now}]")
        return row(ink(before, "$faint"), ink(chosen, style), ink(after, "$faint"))

    def _detail(self) -> list[Line]:
        from trainer.reports.settings import off_in_full

        one = self._settings[self._at]
        lines: list[Line] = [ink(one.title[0].upper() + one.title[1:], "bold")]
        lines += wrapped(one.meaning, self.room[0])
        if one.name == "off" and self._student.off:
            lines += wrapped(off_in_full(self._student), self.room[0])
        if one.values:
            lines += wrapped(f"One of: {', '.join(one.values)}.", self.room[0])
        whose = f"For {self._student.name} alone." if one.alone else "For everyone here."
        return [*lines, said(whose, "$faint")][:DETAIL]

    def action_move(self, by: int) -> None:
        self._at = min(max(0, self._at + by), len(self._settings) - 1)
        self.draw()

    def on_rows_picked(self, message: Rows.Picked) -> None:
        if message.at == self._at:
            self.action_change()
        else:
            self.action_move(message.at - self._at)

    def action_change(self) -> None:
        """Ask for the new value of the marked setting."""
        ask(self, self._student, self._settings[self._at].name, self._answered)

    def _answered(self, text: str | None) -> None:
        if not text:
            return
        one, app = self._settings[self._at], self.trainer
        with self.minding():
            student = app.desk.settings.change(self._student, one.name, text)
            if one.name == "colours":
                from trainer.reports.settings import THEMES

                app.theme = THEMES[app.desk.settings.get(student, one.name)]
            app.go_on_as(student)
        self.draw()


def ask(room: Room, student: Student, name: str, answered: Callable[[str | None], None]) -> None:
    """Ask for a new value of one setting of a student."""
    from trainer.record.attempt import practice_day
    from trainer.reports.settings import setting
    from trainer.ui.screens.ask import AskScreen
    from trainer.ui.screens.choose import Choice, ChooseScreen

    one = setting(name)
    now = room.trainer.desk.settings.get(student, name)
    title = f"{one.title[0].upper()}{one.title[1:]}"
    if one.values:
        choices = [Choice(value, n, value) for n, value in enumerate(one.values, 1)]
        room.app.push_screen(ChooseScreen(f"{title} for {student.name}?", choices, now), answered)
    else:
        today = practice_day(room.trainer.desk.clock())
        check = partial(one.taken, student, today=today)
        asked = AskScreen(f"{title}: now {now}", one.asks, check)
        room.app.push_screen(asked, answered)
