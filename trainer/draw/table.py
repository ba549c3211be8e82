"""Plain text tables from rows, within a width."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest

from trainer.draw.text import Align, cells, clean, cut, fit
from trainer.values import Frozen

GAP = 2


class Column(Frozen, frozen=True):
    """A column's heading; figures are aligned to the right and shortened last."""

    name: str
    align: Align = "left"


def text_table(
    columns: Sequence[Column | str],
    rows: Sequence[Sequence[object]],
    *,
    width: int = 80,
    ascii: bool = False,
) -> list[str]:
    """The rows under their headings and a rule, a line each, every line at most `width` cells.

    Cells are shown as text, None as nothing. The widest text column gives way first; what is
    cut ends in "…". Raises ValueError where a row has another count of cells.
    """
    heads, body = laid_out(columns, rows, width=width, ascii=ascii)
    return [*heads, *(line for lines in body for line in lines)]


def laid_out(
    columns: Sequence[Column | str],
    rows: Sequence[Sequence[object]],
    *,
    width: int = 80,
    ascii: bool = False,
    deep: int = 1,
) -> tuple[list[str], list[list[str]]]:
    """As `text_table`, the headings with their rule and the lines of each row apart.

    A row takes up to `deep` lines (the headings one more): where one line does not do, text is
    broken at spaces, in two lines if that will do, before anything is cut.
    """
    heads = [Column(column) if isinstance(column, str) else column for column in columns]
    lines = [[clean(head.name) for head in heads]]
    for row in rows:
        if len(row) != len(heads):
            raise ValueError(f"a row of {len(row)} cells under {len(heads)} columns")
        lines.append(["" if cell is None else clean(str(cell)) for cell in row])
    wide = _widths(heads, lines, width, deep)
    names = _lines(heads, lines[0], wide, width, ascii, deep + (deep > 1))
    rule = (" " * GAP).join(("-" if ascii else "─") * size for size in wide)
    body = [_lines(heads, line, wide, width, ascii, deep) for line in lines[1:]]
    return [*names, cut(rule, width, ascii=ascii)], body


def _widths(
    heads: Sequence[Column], lines: Sequence[Sequence[str]], width: int, deep: int
) -> list[int]:
    """The columns' widths: as wide as their text; where there is no room for that, the text
    columns are broken in two lines, the broadest first, and no more of them than need be; then
    the broadest are cut."""
    columns = range(len(heads))
    wide = [max(1, *(cells(line[i]) for line in lines)) for i in columns]
    texts = [i for i in columns if heads[i].align == "left"]
    room = max(len(heads), width - GAP * (len(heads) - 1))
    if deep > 1 and sum(wide) > room:
        for i in sorted(texts, key=lambda i: -wide[i]):
            in_two = max(1, *(_in_two(line[i]) for line in lines))
            wide[i] = max(in_two, min(wide[i], wide[i] - (sum(wide) - room)))
    while sum(wide) > room:
        able = [i for i in texts if wide[i] > 4] or list(columns)
        broad = max(able, key=lambda i: wide[i])
        if wide[broad] == 1:
            break
        wide[broad] -= 1
    return wide


def _in_two(text: str) -> int:
    """The cells that a text needs in two lines, broken at the best of its spaces."""
    whole = cells(text)
    best, left = whole, -1
    for word in text.split(" "):
        left += 1 + cells(word)
        best = min(best, max(left, whole - left - 1))
    return best


def _broken(text: str, size: int, deep: int) -> list[str]:
    """A cell in at most `deep` lines; the last one may be too long."""
    lines: list[str] = []
    for word in text.split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and (cells(longer) <= size or len(lines) == deep):
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _lines(
    heads: Sequence[Column],
    row: Sequence[str],
    wide: Sequence[int],
    width: int,
    ascii: bool,
    deep: int,
) -> list[str]:
    broken = [_broken(text, size, deep) for text, size in zip(row, wide, strict=True)]
    drawn = []
    for parts in zip_longest(*broken, fillvalue=""):
        fitted = (
            fit(text, size, head.align, ascii=ascii)
            for text, size, head in zip(parts, wide, heads, strict=True)
        )
        drawn.append(cut((" " * GAP).join(fitted).rstrip(), width, ascii=ascii))
    return drawn
