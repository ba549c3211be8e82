"""The forecast strip: the map's shades over the days to the recital, one line a start."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from trainer.draw.text import cells, clean, cut, fit
from trainer.draw.words import band_of, band_shade, band_sign, percent
from trainer.errors import TrainerError
from trainer.memory.model import Band
from trainer.values import Frozen

_LONGEST = 40  # cells of the shaded part
NARROWEST = 40


class Forecast(Frozen, frozen=True):
    """A start's chances (0-1) day by day, today first and the recital's day last; empty where
    it was never tried. `basis` stands in the place of percentages where tries are few; a `bare`
    one tells no figures at all. `name` stands in the place of the number."""

    number: int
    chances: tuple[float, ...] = ()
    basis: str = ""
    name: str = ""
    bare: bool = False


def _day(day: int) -> str:
    return f"day {day}"


def strips(
    forecasts: Sequence[Forecast],
    *,
    width: int = 80,
    ascii: bool = False,
    day: Callable[[int], str] = _day,
    marks: Mapping[int, str] | None = None,
) -> list[str]:
    """One line a start: "4 ✓  98%  ████▒▒▒  61%~  fading from day 8".

    A cell stands for some days, or a day for some cells; it shows the lowest chance of its
    days. `day` names a day by its number, today being 0. With `marks`, words for some days by
    their number, a last line points these days out. Raises TrainerError where the width is
    under 40 cells.
    """
    if width < NARROWEST:
        raise TrainerError(f"{width} columns are too few for a strip: widen to {NARROWEST}.")
    wide = max((len(one.name) for one in forecasts), default=0)
    heads = [_head(one, max(2, wide), ascii) for one in forecasts]
    tails = [_tail(one, day, ascii) for one in forecasts]
    before = max(map(len, heads), default=0)
    after = min(max(map(len, tails), default=0), width - before - 14)
    room = min(_LONGEST, width - before - after - 4)
    days = max((len(one.chances) for one in forecasts), default=0)
    size = _size(days, room)
    lines = [
        f"{fit(head, before)}  {_shades(one, size, ascii)}  {cut(tail, after, ascii=ascii)}"
        for one, head, tail in zip(forecasts, heads, tails, strict=True)
    ]
    at = {
        before + 2 + next(cell for cell in range(size) if n in _days_of(cell, days, size)): words
        for n, words in (marks or {}).items()
        if 0 <= n < days
    }
    return [*lines, _marked(at, width, ascii)] if at else lines


def _marked(marks: Mapping[int, str], width: int, ascii: bool) -> str:
    """Words under some cells, after their pointer: "▲ 25 Nov    ▲ 18 Dec". Those of the last
    stand before it where there is more room; others go without words where they have none."""
    pointer = "^" if ascii else "▲"
    *others, last = sorted(marks)
    after, before = width - last - 2, last - 1
    words = clean(marks[last])
    if cells(words) <= after or after >= before:
        begin, tail = last, f"{pointer} {cut(words, after, ascii=ascii)}"
    else:
        tail = f"{cut(words, before, ascii=ascii)} {pointer}"
        begin = last + 1 - cells(tail)
    line = ""
    for at in others:
        text = f"{pointer} {clean(marks[at])}"
        text = text if at + cells(text) + 2 <= begin else pointer
        if len(line) <= at and at + cells(text) < begin:
            line = line.ljust(at) + text + " "
    return line.ljust(begin) + tail


def _size(days: int, room: int) -> int:
    """The cells of the shaded part: whole cells a day where there is room for that."""
    return room if not days or days > room else days * (room // days)


def _head(one: Forecast, wide: int, ascii: bool) -> str:
    """The start's number or name in so many cells, and its sign today, with its figure."""
    who = one.name.ljust(wide) if one.name else str(one.number).rjust(wide)
    sign = f"{who} {band_sign(_bands(one)[0], ascii=ascii)}"
    if one.bare:
        return sign
    figure = one.basis or (percent(one.chances[0]) if one.chances else "-" if ascii else "–")
    return f"{sign} {clean(figure):>4}"


def _tail(one: Forecast, day: Callable[[int], str], ascii: bool) -> str:
    bands = _bands(one)
    told = one.chances and not one.basis and not one.bare
    figure = percent(one.chances[-1]) if told else ""
    return f"{figure}{band_sign(bands[-1], ascii=ascii)}  {change_words(one, day)}"


def _bands(one: Forecast) -> list[Band]:
    return [band_of(chance) for chance in one.chances] or ["untried"]


def _shades(one: Forecast, size: int, ascii: bool) -> str:
    days = len(one.chances)
    if not days:
        return band_shade("untried", ascii=ascii) * size
    shades = ""
    for cell in range(size):
        lowest = min(one.chances[day] for day in _days_of(cell, days, size))
        shades += band_shade(band_of(lowest), ascii=ascii)
    return shades


def _days_of(cell: int, days: int, size: int) -> range:
    """The days that a cell of so many stands for."""
    first = cell * days // size
    return range(first, max(first + 1, (cell + 1) * days // size))


def change_words(one: Forecast, day: Callable[[int], str] = _day) -> str:
    """When the start first leaves its band: "fading from day 8", or "holds throughout"."""
    bands = _bands(one)
    if bands[0] == "untried":
        return "not tried cold yet"
    changed = next((i for i, band in enumerate(bands) if band != bands[0]), None)
    return f"{bands[0]} throughout" if changed is None else f"{bands[changed]} from {day(changed)}"


def spoken_strips(forecasts: Sequence[Forecast], *, day: Callable[[int], str] = _day) -> list[str]:
    """The strips in words: "Start 4: holds today, 98%; fading from day 8; 61% at the end." """
    lines = []
    for one in forecasts:
        words = change_words(one, day)
        who = one.name.capitalize() or f"Start {one.number}"
        if not one.chances:
            lines.append(f"{who}: {words}.")
            continue
        today = "" if one.bare else f", {clean(one.basis) or percent(one.chances[0])}"
        end = "" if one.basis or one.bare else f"; {percent(one.chances[-1])} at the end"
        lines.append(f"{who}: {_bands(one)[0]} today{today}; {words}{end}.")
    return lines
