"""Plain text tables from rows, within a width."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.draw.text import Align, cells, clean, cut, fit
from trainer.values import Frozen

_GAP = 2


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
    """The rows under their headings and a rule, every line at most `width` cells.

    Cells are shown as text, None as nothing. The widest text column gives way first; what is
    cut ends in "…". Raises ValueError where a row has another count of cells.
    """
    heads = [Column(column) if isinstance(column, str) else column for column in columns]
    lines = [[clean(head.name) for head in heads]]
    for row in rows:
        if len(row) != len(heads):
            raise ValueError(f"a row of {len(row)} cells under {len(heads)} columns")
        lines.append(["" if cell is None else clean(str(cell)) for cell in row])
    wide = _widths(heads, lines, width)
    drawn = [_line(heads, line, wide, width, ascii) for line in lines]
    rule = (" " * _GAP).join(("-" if ascii else "─") * size for size in wide)
    return [drawn[0], cut(rule, width, ascii=ascii), *drawn[1:]]


def _widths(heads: Sequence[Column], lines: Sequence[Sequence[str]], width: int) -> list[int]:
    wide = [max(1, *(cells(line[i]) for line in lines)) for i in range(len(heads))]
    room = max(len(heads), width - _GAP * (len(heads) - 1))
    while sum(wide) > room:
        texts = [i for i, head in enumerate(heads) if head.align == "left" and wide[i] > 4]
        broad = max(texts or range(len(wide)), key=lambda i: wide[i])
        if wide[broad] == 1:
            break
        wide[broad] -= 1
    return wide


def _line(
    heads: Sequence[Column], line: Sequence[str], wide: Sequence[int], width: int, ascii: bool
) -> str:
    fitted = (
        fit(text, size, head.align, ascii=ascii)
        for text, size, head in zip(line, wide, heads, strict=True)
    )
    return cut((" " * _GAP).join(fitted).rstrip(), width, ascii=ascii)
