"""The forecast strip: the map's shades over the days to the recital, one line a start."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from trainer.draw.text import clean, cut, fit
from trainer.draw.words import band_of, band_shade, band_sign, percent
from trainer.errors import TrainerError
from trainer.memory.model import Band
from trainer.values import Frozen

_LONGEST = 40  # cells of the shaded part
_NARROWEST = 40


class Forecast(Frozen, frozen=True):
    """A start's chances (0-1) day by day, today first and the recital's day last; empty where
    it was never tried. `basis` stands in the place of percentages where tries are few."""

    number: int
    chances: tuple[float, ...] = ()
    basis: str = ""


def _day(day: int) -> str:
    return f"day {day}"


def strips(
    forecasts: Sequence[Forecast],
    *,
    width: int = 80,
    ascii: bool = False,
    day: Callable[[int], str] = _day,
) -> list[str]:
    """One line a start: "4 ✓  98%  ████▒▒▒  61%~  fading from day 8".

    A cell stands for some days, or a day for some cells; it shows the lowest chance of its
    days. `day` names a day by its number, today being 0. Raises TrainerError where the width
    is under 40 cells.
    """
    if width < _NARROWEST:
        raise TrainerError(f"{width} columns are too few for a strip: widen to {_NARROWEST}.")
    heads = [_head(one, ascii) for one in forecasts]
    tails = [_tail(one, day, ascii) for one in forecasts]
    before = max(map(len, heads), default=0)
    after = min(max(map(len, tails), default=0), width - before - 14)
    room = min(_LONGEST, width - before - after - 4)
    days = max((len(one.chances) for one in forecasts), default=0)
    size = _size(days, room)
    return [
        f"{fit(head, before)}  {_shades(one, size, ascii)}  {cut(tail, after, ascii=ascii)}"
        for one, head, tail in zip(forecasts, heads, tails, strict=True)
    ]


def _size(days: int, room: int) -> int:
    """The cells of the shaded part: whole cells a day where there is room for that."""
    return room if not days or days > room else days * (room // days)


def _head(one: Forecast, ascii: bool) -> str:
    """The start's number and sign today, with its figure."""
    figure = one.basis or (percent(one.chances[0]) if one.chances else "-" if ascii else "–")
    return f"{one.number:>2} {band_sign(_bands(one)[0], ascii=ascii)} {clean(figure):>4}"


def _tail(one: Forecast, day: Callable[[int], str], ascii: bool) -> str:
    bands = _bands(one)
    figure = percent(one.chances[-1]) if one.chances and not one.basis else ""
    return f"{figure}{band_sign(bands[-1], ascii=ascii)}  {change_words(one, day)}"


def _bands(one: Forecast) -> list[Band]:
    return [band_of(chance) for chance in one.chances] or ["untried"]


def _shades(one: Forecast, size: int, ascii: bool) -> str:
    days = len(one.chances)
    if not days:
        return band_shade("untried", ascii=ascii) * size
    shades = ""
    for cell in range(size):
        first = cell * days // size
        last = max(first + 1, (cell + 1) * days // size)
        shades += band_shade(band_of(min(one.chances[first:last])), ascii=ascii)
    return shades


def change_words(one: Forecast, day: Callable[[int], str] = _day) -> str:
    """When the start first leaves its band: "fading from day 8", or "holds throughout"."""
    bands = _bands(one)
    if bands[0] == "untried":
        return "no cold try yet"
    changed = next((i for i, band in enumerate(bands) if band != bands[0]), None)
    return f"{bands[0]} throughout" if changed is None else f"{bands[changed]} from {day(changed)}"


def spoken_strips(forecasts: Sequence[Forecast], *, day: Callable[[int], str] = _day) -> list[str]:
    """The strips in words: "Start 4: holds today, 98%; fading from day 8; 61% at the end." """
    lines = []
    for one in forecasts:
        band = _bands(one)[0]
        if not one.chances:
            lines.append(f"Start {one.number}: {change_words(one)}.")
            continue
        today = clean(one.basis) or percent(one.chances[0])
        end = "" if one.basis else f"; {percent(one.chances[-1])} at the end"
        words = change_words(one, day)
        lines.append(f"Start {one.number}: {band} today, {today}; {words}{end}.")
    return lines
