"""Rows that people choose from: with the arrows, by a number, by a click or a tap."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from textual.content import Content
from textual.events import Click
from textual.message import Message
from textual.strip import Strip
from textual.visual import Visual
from textual.widgets import OptionList
from textual.widgets.option_list import Option

from trainer.ui.widgets.reader import MORE
from trainer.ui.widgets.sheet import Line, ink, joined, showable


class ListRow(NamedTuple):
    """One or more lines; `at` is what a click on them gives, None for a heading."""

    at: int | None
    lines: Sequence[Line]


class Rows(OptionList, can_focus=False, inherit_bindings=False):
    """The framework's list; the mark, and how it looks, are in the lines that it is given. A
    click on a row tells its screen, which marks it, or takes it where it is marked already."""

    DEFAULT_CSS = """
    Rows, Rows:focus { width: 100%; height: 1fr; border: none; padding: 1 2 0 2;
        background: $background;
        scrollbar-size: 0 0; text-wrap: nowrap; text-overflow: ellipsis; }
    Rows > .option-list--option, Rows > .option-list--option-highlighted,
    Rows > .option-list--option-disabled {
        padding: 0; color: $foreground; background: $background; text-style: none; }
    Rows > .option-list--option-hover { background: $panel; }
    """

    class Picked(Message):
        """A row was clicked."""

        def __init__(self, at: int) -> None:
            super().__init__()
            self.at = at

    def __init__(self, id: str) -> None:
        super().__init__(id=id, markup=False)
        self.plain = False  # whether only ASCII signs can be shown
        self._rows: list[ListRow] = []
        self._shown: list[Content] = []
        self._top = 0  # the line that was scrolled to, where no row is marked

    def show(self, rows: Sequence[ListRow], at: int | None = None) -> None:
        """Show these rows in place of those before, with row `at` in sight."""
        self._rows = list(rows)
        shown = [joined(showable(row.lines, plain=self.plain)) for row in rows]
        if len(shown) != len(self._shown):
            self.set_options(
                Option(text, disabled=row.at is None) for row, text in zip(rows, shown, strict=True)
            )
        else:
            for n, (text, before) in enumerate(zip(shown, self._shown, strict=True)):
                if text != before:
                    self.replace_option_prompt_at_index(n, text)
        if shown != self._shown:
            self._shown = shown
            found = [n for n, row in enumerate(rows) if row.at == at and at is not None]
            self.highlighted = found[0] if found else None
            self.scroll_to_highlight()

    def scroll_by(self, lines: int) -> None:
        """Scroll, and come back to there after another size."""
        self._top = round(min(max(0, self.scroll_y + lines), self.max_scroll_y))
        self.scroll_to(y=self._top, animate=False, force=True, immediate=True)

    def begin_anew(self) -> None:
        """The next rows are of something else: show them from the top."""
        self._top = 0

    def scroll_to_highlight(self, top: bool = False) -> None:  # noqa: ARG002
        """Put the marked row into the middle, if it is not seen from the top."""
        if self.is_mounted:
            at = self.highlighted or 0
            ends = [text.plain.count("\n") + 1 for text in self._shown[: at + 1]]
            self.call_after_refresh(self._centre, sum(ends[:at]), sum(ends))

    def _centre(self, line: int, end: int) -> None:
        height = self.scrollable_content_region.height
        y = 0 if end < height else line - height // 2
        if self.highlighted is None:
            y = self._top
        self.scroll_to(y=max(0, y), animate=False, force=True, immediate=True)

    def on_resize(self) -> None:
        self.scroll_to_highlight()

    def render_line(self, y: int) -> Strip:
        """A line of a row; in place of the first or last one, that there is more."""
        way = self._way(y)
        if not way:
            return super().render_line(y)
        line, width = ink(MORE[way], "$faint"), self.scrollable_content_region.width
        return Visual.to_strips(self, line, width, 1, self.visual_style, pad=True)[0]

    def _way(self, y: int) -> int:
        """-1 for the line that says "more above", 1 for "more below", 0 for a row's."""
        if y == 0 and self.scroll_offset.y > 0:
            return -1
        last = self.scrollable_content_region.height - 1
        return int(y == last and self.scroll_offset.y < self.max_scroll_y)

    async def _on_click(self, event: Click) -> None:
        way = self._way(event.y - self.gutter.top)
        option = event.style.meta.get("option")
        if way:
            lines = self.scrollable_content_region.height - 2
            self.scroll_relative(y=way * lines, animate=False, force=True, immediate=True)
        elif option is not None and self._rows[option].at is not None:
            self.post_message(self.Picked(self._rows[option].at))
