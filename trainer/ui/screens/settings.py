"""Settings: how things are named and shown, and when there is a drill."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from textual.app import ComposeResult

from trainer.draw.text import cells, cut
from trainer.ui.keys import bindings
from trainer.ui.room import Room, window
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said, wrapped

if TYPE_CHECKING:
    from trainer.record.people import Student
    from trainer.reports.settings import Setting

DETAIL = 6  # lines below the list


class SettingsScreen(Room):
    ROOM = "settings"
    BINDINGS = bindings("settings")
    DEFAULT_CSS = """
    SettingsScreen > #settings { height: 1fr; padding: 1 2 0 2; }
    SettingsScreen > #detail { height: 7; padding: 0 2; }
    """

    def __init__(self) -> None:
        super().__init__()
        self._at = 0

    def body(self) -> ComposeResult:
        yield Sheet("settings", fixed=True)
        yield Sheet("detail", fixed=True, under=True)

    @property
    def _settings(self) -> list[Setting]:
        from trainer.reports.settings import SETTINGS

        return list(SETTINGS.values())

    @property
    def _student(self) -> Student:
        return self.trainer.view.student

    def draw(self) -> None:
        desk, student = self.trainer.desk, self._student
        self.show_title(f"Settings for {student.name}")
        wide = max(cells(one.title) for one in self._settings)
        lines: list[Line] = []
        for at, one in enumerate(self._settings):
            here = at == self._at
            style = "bold $accent" if here else ""
            now = cut(desk.setting(student, one.name), self.room[0] - wide - 4)
            head = f"{'>' if here else ' '} {one.title:{wide}}  "
            lines.append(row(ink(head, style or "$faint"), said(now, style)))
        self.sheet("settings").show(window(lines, self.room[1] - DETAIL - 5, self._at))
        self.sheet("detail").show(self._detail())
        self.show_strip()

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

    def action_change(self) -> None:
        """Ask for the new value of the marked setting."""
        ask(self, self._student, self._settings[self._at].name, self._answered)

    def _answered(self, text: str | None) -> None:
        if not text:
            return
        one, app = self._settings[self._at], self.trainer
        with self.minding():
            student = app.desk.change_setting(self._student, one.name, text)
            if one.name == "colours":
                from trainer.reports.settings import THEMES

                app.theme = THEMES[app.desk.setting(student, one.name)]
            app.go_on_as(student)
        self.draw()


def ask(room: Room, student: Student, name: str, answered: Callable[[str | None], None]) -> None:
    """Ask for a new value of one setting of a student."""
    from trainer.record.attempt import practice_day
    from trainer.reports.settings import setting
    from trainer.ui.screens.ask import AskScreen
    from trainer.ui.screens.choose import Choice, ChooseScreen

    one = setting(name)
    now = room.trainer.desk.setting(student, name)
    title = f"{one.title[0].upper()}{one.title[1:]}"
    if one.values:
        choices = [Choice(value, n, value) for n, value in enumerate(one.values, 1)]
        room.app.push_screen(ChooseScreen(f"{title} for {student.name}?", choices, now), answered)
    else:
        today = practice_day(room.trainer.desk.clock())
        check = partial(one.taken, student, today=today)
        asked = AskScreen(f"{title}: now {now}", one.asks, check)
        room.app.push_screen(asked, answered)
