"""A number in large digits, to be read from the instrument."""

from __future__ import annotations

# Three columns and five rows a digit, row by row.
_DOTS = {
    "0": "### #.# #.# #.# ###",
    "1": ".#. ##. .#. .#. ###",
    "2": "### ..# ### #.. ###",
    "3": "### ..# .## ..# ###",
    "4": "#.# #.# ### ..# ..#",
    "5": "### #.. ### ..# ###",
    "6": "### #.. ### #.# ###",
    "7": "### ..# ..# .#. .#.",
    "8": "### #.# ### #.# ###",
    "9": "### #.# ### ..# ###",
}
_HALVES = {"..": " ", "#.": "▀", ".#": "▄", "##": "█"}


def large(number: int, *, ascii: bool = False) -> list[str]:
    """The number in five lines, six cells a digit and two between them."""
    full = "##" if ascii else "██"
    return [
        "  ".join("".join(full if dot == "#" else "  " for dot in line) for line in digits)
        for digits in zip(*(_DOTS[digit].split() for digit in str(number)), strict=True)
    ]


def small(number: int) -> list[str]:
    """The number in three lines of half blocks, three cells a digit and one between them."""
    lines = []
    for top in (0, 2, 4):
        line = []
        for digit in str(number):
            rows = [*_DOTS[digit].split(), "..."]
            pairs = zip(rows[top], rows[top + 1], strict=True)
            line.append("".join(_HALVES[upper + lower] for upper, lower in pairs))
        lines.append(" ".join(line))
    return lines
