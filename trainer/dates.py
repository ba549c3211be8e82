"""Dates as people write them: today, tomorrow, Friday, 4 Jan, in 3 weeks, 2026-12-18.

A date is read whole or refused, and never guessed. Measured in November 2026: parsedatetime 2.6
and dateparser 1.2 both take 4/1 and 04.01.2027 for 1 April, both pass over a weekday that is
wrong ("Friday 4 Jan" of 2027, a Monday), the first passes over words that it does not know
("4 Jan lunch"), the second makes a day of "1"; the platform reads only ISO 8601. Hence this.

Where no year is given it is the one of the next such day, or of the last one where days gone by
are meant. Figures alone (4/1) are taken where only one day can be meant.
"""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Iterator
from datetime import date, timedelta

from trainer.errors import TrainerError

_DAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_MONTHS = (
    *("january", "february", "march", "april", "may", "june", "july", "august", "september"),
    *("october", "november", "december"),
)
_NEAR = {"today": 0, "tomorrow": 1, "yesterday": -1, "the day after tomorrow": 2}
_COUNTS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_UNITS = {"day": 1, "week": 7, "fortnight": 14}
_SPAN = re.compile(
    rf"(in )?(\d{{1,4}}|an?|{'|'.join(_COUNTS)}) (day|week|fortnight|month|year)s?( ago)?"
)
_NAMED = re.compile(r"(?:the )?(\d{1,2})(?:st|nd|rd|th)?(?: of)? ([a-z]{3,})\.?(?: (\d{4}|\d\d))?")
_TURNED = re.compile(r"([a-z]{3,})\.? (?:the )?(\d{1,2})(?:st|nd|rd|th)?(?: (\d{4}|\d\d))?")
_FIGURES = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-]?(\d{4})?")
_WEEKDAY = re.compile(r"(?:(on|this|next|last|coming) )?([a-z]{3,})")
HOW = "write it as 4 Jan, Friday, in 3 weeks or 2026-06-21"


def day_of(text: str, today: date, *, past: bool = False) -> date:
    """The day that a text names, seen from `today`; `past` where days gone by are meant. Raises
    TrainerError for a text that names no day, or may name several."""
    said = " ".join(text.casefold().replace(",", " ").split())
    try:
        found = _iso(said) or _near(said, today) or _written(said, today, past)
    except (ValueError, OverflowError):  # no calendar has it
        found = None
    if found is None:
        raise TrainerError(f"{text.strip()[:40]!r} is not a date; {HOW}.")
    return found


def in_full(day: date) -> str:
    """ "Friday 4 December 2026", which `day_of` reads again."""
    return f"{_DAYS[day.weekday()].capitalize()} {day.day} {_month(day)} {day.year:04}"


def near_by(day: date) -> str:
    """ "Friday 4 December", where the year goes without saying."""
    return f"{_DAYS[day.weekday()].capitalize()} {day.day} {_month(day)}"


def _month(day: date) -> str:
    return _MONTHS[day.month - 1].capitalize()


def _iso(said: str) -> date | None:
    return date.fromisoformat(said) if re.fullmatch(r"\d{4}-\d\d-\d\d", said) else None


def _near(said: str, today: date) -> date | None:
    """A day told by how far it is from today."""
    if said in _NEAR:
        return today + timedelta(_NEAR[said])
    match = _SPAN.fullmatch(said)
    if match is None or bool(match[1]) == bool(match[4]):
        return None
    word = match[2]
    count = int(word) if word.isdecimal() else _COUNTS.index(word) + 1 if word in _COUNTS else 1
    count = -count if match[4] else count
    if match[3] in _UNITS:
        return today + timedelta(count * _UNITS[match[3]])
    months = today.year * 12 + today.month - 1 + count * (12 if match[3] == "year" else 1)
    year, month = divmod(months, 12)
    last = monthrange(year, month + 1)[1]  # a month from 31 January is the last of February
    return date(year, month + 1, min(today.day, last))


def _written(said: str, today: date, past: bool) -> date | None:
    """A weekday, or a day of a month, with its weekday or without."""
    match = _WEEKDAY.fullmatch(said)
    if match and (weekday := _one(match[2], _DAYS)) is not None:
        return _weekday(match[1] or "", weekday, today, past)
    first, _, rest = said.partition(" ")
    weekday = _one(first.rstrip("."), _DAYS) if rest else None
    days = _dates(said if weekday is None else rest, today, past)
    if len(days) > 1:
        readings = " or ".join(in_full(day) for day in days)
        raise TrainerError(f"{said!r} may be {readings}; write the month in letters.")
    if days and weekday is not None and days[0].weekday() != weekday:
        raise TrainerError(f"{said!r} is not a date: that day is {in_full(days[0])}.")
    return days[0] if days else None


def _one(word: str, names: tuple[str, ...]) -> int | None:
    """Which of the names a word is, or begins, from its third letter on; from 0."""
    beginning = "sep" if word == "sept" else word
    return next((i for i, name in enumerate(names) if name.startswith(beginning)), None)


def _weekday(which: str, weekday: int, today: date, past: bool) -> date:
    """The next day of that name after today, or the last one before it."""
    ahead = today + timedelta((weekday - today.weekday() - 1) % 7 + 1)
    behind = today - timedelta((today.weekday() - weekday - 1) % 7 + 1)
    if which == "next":
        later = ahead + timedelta(7)
        raise TrainerError(
            f"'next {_DAYS[weekday].capitalize()}' may be {in_full(ahead)} or {in_full(later)};"
            " write the date."
        )
    if which == "last" or (past and which in ("", "on")):
        return behind
    return ahead


def _dates(said: str, today: date, past: bool) -> list[date]:
    """The days that the text of a date may mean."""
    if iso := _iso(said):
        return [iso]
    if match := _NAMED.fullmatch(said):
        number, name, year = match.groups()
    elif match := _TURNED.fullmatch(said):
        name, number, year = match.groups()
    else:
        match = _FIGURES.fullmatch(said)
        return sorted(set(_of_figures(match, today, past))) if match else []
    month = _one(name, _MONTHS)
    return [] if month is None else [_in_year(int(number), month + 1, year, today, past)]


def _of_figures(match: re.Match[str], today: date, past: bool) -> Iterator[date]:
    """Day and month in either order."""
    one, other, year = match.groups()
    for day, month in ((int(one), int(other)), (int(other), int(one))):
        try:
            yield _in_year(day, month, year, today, past)
        except ValueError:
            continue


def _in_year(day: int, month: int, year: str | None, today: date, past: bool) -> date:
    """The day of that year, else the next one from today on, or the last one up to today. Raises
    ValueError where there is none."""
    if year is not None:
        return date(int(year) + (2000 if len(year) == 2 else 0), month, day)
    if not 1 <= day <= monthrange(2000, month)[1]:
        raise ValueError(f"month {month} has no day {day}")
    step = -1 if past else 1
    for there in range(today.year, today.year + 9 * step, step):  # 29 February may be 8 years off
        if day <= monthrange(there, month)[1]:
            found = date(there, month, day)
            if found == today or (found < today) == past:
                return found
    raise AssertionError("a leap year comes in any eight")
