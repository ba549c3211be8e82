"""A cell in words, for people who read and for people who listen."""

from __future__ import annotations

import re
from datetime import date

from trainer.document.model import Cell, Standing
from trainer.draw.text import clean
from trainer.draw.words import BAND_SIGNS, percent
from trainer.memory.model import FIGURES_FROM, Retention


def cell_word(cell: Cell, *, spoken: bool = False) -> str:
    """The cell on one line, "" for None. To be `spoken`, without signs and short forms."""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, date):
        return f"{cell.day} {cell:%B}" if spoken else day_word(cell)
    if isinstance(cell, Retention):
        return chance_word(cell, spoken=spoken)
    if isinstance(cell, Standing):
        stands = cell.band if spoken else BAND_SIGNS[cell.band]
        return f"{stands}{',' if spoken else ''} stuck" if cell.stuck else stands
    return "" if cell is None else clean(str(cell))


def chance_word(found: Retention, *, spoken: bool = False) -> str:
    """ "2 of 2" under three attempts, then "92%", or "92% 81-97" with a range; "" without any."""
    if found.chance is None:
        return ""
    if found.tries < FIGURES_FROM:
        return f"{found.held} of {found.tries}"
    text = f"{percent(found.chance)[:-1]} percent" if spoken else percent(found.chance)
    if found.low is None or found.high is None:
        return text
    between = " to " if spoken else "-"
    ends = f"{100 * found.low:.0f}{between}{100 * found.high:.0f}"
    return f"{text}, from {ends}" if spoken else f"{text} {ends}"


_FULL = {f"{month:%b}": f"{month:%B}" for month in (date(2026, n, 1) for n in range(1, 13))}
_BARS = {"b": "bar", "bb": "bars", "m": "measure", "mm": "measures"}
_BAR = re.compile(r"\b(bb?|mm?)\. (\d+)(?:-(\d+))?")
_DAY = re.compile(rf"\b(\d{{1,2}}) ({'|'.join(_FULL)})\b")
_END = re.compile(r"(?<=[a-z0-9)\]][.?!]) (?=[A-Z])")  # initials end no sentence


def in_full(text: str) -> list[str]:
    """A text to listen to, a sentence a row: bars and days in full ("bar 13", "1 December"), no
    rules of dashes."""
    if not text.strip("─━-= "):
        return []
    text = _BAR.sub(lambda m: f"{_BARS[m[1]]} {m[2]}{f' to {m[3]}' if m[3] else ''}", text)
    text = _DAY.sub(lambda m: f"{m[1]} {_FULL[m[2]]}", text)
    return _END.split(text.strip())


def day_word(day: date) -> str:
    """A day in the short form of the tables: "7 Mar"."""
    return f"{day.day} {day:%b}"
