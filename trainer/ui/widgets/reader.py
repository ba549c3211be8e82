"""A text longer than its place, scrolled by keys, by the wheel or by a tap on "more below"."""

from __future__ import annotations

from collections.abc import Iterable

from textual.app import ComposeResult
from textual.containers import Container, VerticalScroll
from textual.content import Content
from textual.style import Style

from trainer.ui.widgets.sheet import Line, Sheet, ink

MORE = {-1: "  more above", 1: "  more below"}  # by the way there


def more(way: int) -> Content:
    """The line that says that there is more above (-1) or below (1); a tap on it goes there."""
    line = ink(MORE[way], "$faint")
    return line.stylize(Style.from_meta({"@click": f"screen.further({way})"}))


class Scrolling(VerticalScroll, can_focus=False, inherit_bindings=False):
    """The framework's container, which tells its Reader where it stands."""

    def watch_scroll_y(self, old_value: float, new_value: float) -> None:
        super().watch_scroll_y(old_value, new_value)
        self._tell()

    def watch_virtual_size(self) -> None:
        self._tell()

    def on_resize(self) -> None:
        self._tell()

    def _tell(self) -> None:
        if isinstance(self.parent, Reader):
            below = not self.is_vertical_scroll_end
            self.parent.stands(above=self.scroll_offset.y > 0, below=below)


class Reader(Container, can_focus=False):
    """Lines of which as many are seen as there is room for. No scroll bar: a line in words says
    that there is more, also without colours and with plain signs."""

    DEFAULT_CSS = """
    Reader { layers: text over; height: 1fr; }
    Reader > Scrolling { layer: text; height: 1fr; scrollbar-size: 0 0; }
    Reader > .-more { layer: over; height: 1; display: none; background: $background; }
    Reader > .-above { dock: top; }
    Reader > .-below { dock: bottom; }
    Reader > .-stands { display: block; }
    """

    def __init__(self, name: str) -> None:
        super().__init__()
        self._lines = Sheet(name)
        self._scrolling = Scrolling(self._lines)
        self._marks = {way: Sheet(f"{name}{way}") for way in MORE}
        for way, mark in self._marks.items():
            mark.add_class("-more", "-above" if way < 0 else "-below")

    def compose(self) -> ComposeResult:
        yield self._scrolling
        yield from self._marks.values()

    def show(self, lines: Iterable[Line]) -> None:
        """Show these lines in place of those before; where one stands in them is kept."""
        for way, mark in self._marks.items():
            mark.show([more(way)])
        self._lines.show(lines)

    def stands(self, *, above: bool, below: bool) -> None:
        """Say whether there is more on either side."""
        self._marks[-1].set_class(above, "-stands")
        self._marks[1].set_class(below, "-stands")

    def scroll_lines(self, lines: int) -> None:
        self._scrolling.scroll_relative(y=lines, animate=False, force=True, immediate=True)

    def leaf(self, screens: int) -> None:
        """So many screenfuls on, two lines of the last one still in sight."""
        self.scroll_lines(screens * max(1, self._scrolling.size.height - 2))

    def to_top(self) -> None:
        self._scrolling.scroll_home(animate=False, force=True, immediate=True)
