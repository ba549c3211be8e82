"""Lines of text on the screen. Nothing in them is markup: what comes from a score, a deck or a
person is shown as it is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from textual.content import Content
from textual.widgets import Static

from trainer.draw.text import PLAIN, cells, clean, cut

Line = Content | str


class Sheet(Static, inherit_bindings=False):
    """A block of lines. A `fixed` one has its height from the screen, so that new lines need
    no new layout; one `under` another is set apart from it by a line."""

    DEFAULT_CSS = """
    Sheet { text-wrap: nowrap; text-overflow: ellipsis; }
    """

    def __init__(self, id: str, *, fixed: bool = False, under: bool = False) -> None:
        super().__init__(id=id, markup=False, classes="-under" if under else None)
        self._fixed = fixed
        self.plain = False  # whether only ASCII signs can be shown
        self._lines: list[Line] = []

    @property
    def line_count(self) -> int:
        return len(self._lines)

    def show(self, lines: Iterable[Line]) -> None:
        """Show these lines in place of those before. No control character passes, wherever
        a line comes from."""
        lines = showable(lines, plain=self.plain)
        if lines != self._lines:
            same_height = self._fixed or len(lines) == len(self._lines)
            self._lines = lines
            self.update(joined(lines), layout=not same_height)


def showable(lines: Iterable[Line], *, plain: bool) -> list[Line]:
    """The lines without a control character; with `plain` in ASCII signs only."""
    shown = [line if str(line).isprintable() else _printable(line) for line in lines]
    if plain:
        return [_with_text(line, str(line).translate(PLAIN)) for line in shown]
    return shown


def _printable(line: Line) -> Content:
    """The line with a blank for what a terminal might obey."""
    return _with_text(line, "".join(c if c.isprintable() else " " for c in str(line)))


def _with_text(line: Line, text: str) -> Content:
    """A text of the same length in the styles of the line."""
    return Content(text, [] if isinstance(line, str) else list(line.spans))


def ink(text: str, style: str = "") -> Content:
    """A text in a style; `$accent`, `$faint`, `$holds` and so on are the theme's colours."""
    return Content.styled(text, style) if style else Content(text)


def said(text: str, style: str = "") -> Content:
    """A text that comes from outside, cleaned of control characters."""
    return ink(clean(text), style)


def row(*parts: Line) -> Content:
    """One line from its parts."""
    return Content("").join(parts)


def joined(lines: Sequence[Line]) -> Content:
    return Content("\n").join(lines)


def ends(left: str, right: str, width: int) -> tuple[str, str]:
    """Two texts for the ends of a line: the right one is kept, the left one cut."""
    right = cut(clean(right), max(0, width - 8))
    left = cut(clean(left), max(0, width - cells(right) - 2))
    return left, " " * (width - cells(left) - cells(right)) + right


def wrapped(text: str, width: int, style: str = "", *, indent: str = "") -> list[Line]:
    """A sentence in lines of at most `width` cells, those after the first indented."""
    import textwrap

    broken = textwrap.wrap(clean(text), max(6, width), subsequent_indent=indent)
    return [ink(line, style) for line in broken]
