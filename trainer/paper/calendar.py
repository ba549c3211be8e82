"""A student's way to the recital as an iCalendar file (RFC 5545): days, not hours.

Every event keeps its UID, also where the recital's day is moved: a calendar that takes the file
in again moves its events rather than doubling them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, timedelta

from trainer.errors import TrainerError
from trainer.paper.html import plain
from trainer.record.people import Recital
from trainer.reports import countdown, readiness
from trainer.reports.view import View
from trainer.score.cite import counted
from trainer.values import Frozen

LONGEST = 75  # octets of a line, its end not counted (RFC 5545, 3.1)


class Event(Frozen, frozen=True):
    """Something that fills one day. `uid` is global."""

    uid: str
    day: date
    summary: str
    description: str = ""


def events(view: View) -> tuple[Event, ...]:
    """The recitals to come; for the next one its stages that are not over, and the drills of its
    last two weeks. Raises TrainerError where no recital is set."""
    if view.recital is None:
        raise TrainerError(readiness.NO_RECITAL)
    coming = sorted((one for one in view.recitals if one.day >= view.day), key=lambda one: one.day)
    found = [_recital(view, one) for one in coming]
    return (*found, *_stages(view, view.recital), *_drills(view, view.recital))


def calendar(found: Sequence[Event], now: datetime) -> str:
    """The text of the file. `now` is the aware instant at which it is made."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//trainer//calendar//EN"]
    stamp = now.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    for event in found:
        lines += [
            "BEGIN:VEVENT",
            f"UID:{_text(event.uid)}",
            f"DTSTAMP:{stamp}",
            f"DTSTART;VALUE=DATE:{event.day:%Y%m%d}",
            f"DTEND;VALUE=DATE:{event.day + timedelta(days=1):%Y%m%d}",
            f"SUMMARY:{_text(event.summary)}",
            *([f"DESCRIPTION:{_text(event.description)}"] if event.description else []),
            "TRANSP:TRANSPARENT",
            "END:VEVENT",
        ]
    lines.append("END:VCALENDAR")
    return "".join(f"{_folded(line)}\r\n" for line in lines)


def _recital(view: View, one: Recital) -> Event:
    titles = [view.decks[item.deck].title for item in one.programme if item.deck in view.decks]
    return Event(f"{one.id}-recital", one.day, f"{one.name} ({view.student.name})",
                 ", ".join(titles))  # fmt: skip


def _stages(view: View, coming: Recital) -> Iterator[Event]:
    found = readiness.of_next(view)
    for stage in found[1].stages if found else ():
        day = coming.day - timedelta(days=stage.days)
        if day >= view.day:
            name = f"{stage.name.capitalize()}: {coming.name} ({view.student.name})"
            yield Event(f"{coming.id}-stage-{stage.days}", day, name, stage.asks)


def _drills(view: View, coming: Recital) -> Iterator[Event]:
    """A day's drill with its minutes and the starts that are likely to be called."""
    found = countdown.last_days(view)
    for told in found.table.named() if found.table else ():
        day = told["date"]
        if told["starts"] and isinstance(day, date):
            what = "Warm-up" if day == coming.day else "Drill"
            yield Event(
                f"{coming.id}-drill-{(coming.day - day).days}",
                day,
                f"{what}, {counted(float(str(told['minutes'])), 'minute')} ({view.student.name})",
                f"Likely starts: {told['called']}. {countdown.RUN_ON}",
            )


def _text(text: str) -> str:
    """A value of the type TEXT (RFC 5545, 3.3.11), on one line and without controls."""
    kept = plain(text).strip()
    for sign in ("\\", ";", ","):
        kept = kept.replace(sign, f"\\{sign}")
    return kept


def _folded(line: str) -> str:
    """The line in parts of at most 75 octets; each part after the first begins with a blank,
    and no letter is cut in two."""
    parts = [""]
    size = 0
    for letter in line:
        octets = len(letter.encode())
        if size + octets > LONGEST:
            parts.append(" ")
            size = 1
        parts[-1] += letter
        size += octets
    return "\r\n".join(parts)
