"""The calendar file, read back by a small reader of RFC 5545 and by the library icalendar."""

from __future__ import annotations

import re
from dataclasses import replace as with_fields
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.memory.build import at
from tests.paper.build import DAY, HOSTILE, practice, study, view_of
from trainer.errors import TrainerError
from trainer.paper.calendar import LONGEST, Event, calendar, events
from trainer.paper.html import plain
from trainer.record.people import Recital
from trainer.reports.view import View

NOW = datetime(2026, 3, 22, 18, 30, 5, tzinfo=UTC)
PIECE = study("a", "Air, slow; in G")


def view(**fields: int) -> View:
    return view_of([PIECE], practice(PIECE), **fields)  # type: ignore[arg-type]


def lines_of(text: str) -> list[str]:
    """Content lines unfolded (3.1); every line ends in CR LF and has at most 75 octets."""
    assert text.endswith("\r\n")
    raw = text[:-2].split("\r\n")
    assert not any("\n" in line or "\r" in line for line in raw)
    assert all(len(line.encode()) <= LONGEST for line in raw)
    return "\r\n".join(raw).replace("\r\n ", "").split("\r\n")


def unescaped(value: str) -> str:
    """A value of the type TEXT (3.3.11)."""
    assert not re.search(r"(?<!\\)(?:\\\\)*[;,]", value), f"a bare sign: {value}"
    return re.sub(r"\\([\\;,nN])", lambda found: found[1].replace("n", "\n"), value)


def read(text: str) -> list[dict[str, str]]:
    """The events of a file, each as a mapping from property to value."""
    lines = lines_of(text)
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-1] == "END:VCALENDAR"
    found: list[dict[str, str]] = []
    inside = False
    head = []
    for line in lines[1:-1]:
        if line in ("BEGIN:VEVENT", "END:VEVENT"):
            assert inside is (line == "END:VEVENT")
            inside = not inside
            found += [{}] if inside else []
        elif inside:
            name, _, value = line.partition(":")
            assert re.fullmatch(r"[A-Z-]+(;VALUE=DATE)?", name)
            assert name not in found[-1]
            found[-1][name] = value
        else:
            head.append(line)
    assert "VERSION:2.0" in head
    assert any(line.startswith("PRODID:") for line in head)
    return found


def test_every_day_of_the_way_is_an_event() -> None:
    now = view(recital=30)
    found = read(calendar(events(now), NOW))
    assert now.recital is not None
    concert = now.recital.day
    days = {one["DTSTART;VALUE=DATE"] for one in found}
    for ahead in (0, 1, 7, 14, 28):
        assert f"{concert - timedelta(days=ahead):%Y%m%d}" in days
    drills = [one for one in found if "-drill-" in one["UID"]]
    assert len(drills) == 15
    for one in found:
        begin = datetime.strptime(one["DTSTART;VALUE=DATE"], "%Y%m%d")
        end = datetime.strptime(one["DTEND;VALUE=DATE"], "%Y%m%d")
        assert end - begin == timedelta(days=1)
        assert one["DTSTAMP"] == "20260322T183005Z"
        assert unescaped(one["SUMMARY"]).endswith("(M.)")
    told = unescaped(next(one["DESCRIPTION"] for one in found if one["UID"].endswith("recital")))
    assert told == "Air, slow; in G"


def test_events_keep_their_uids_when_the_day_is_moved() -> None:
    one, other = view(recital=30), view(recital=33)
    names = [[event.uid for event in events(each)] for each in (one, other)]
    assert names[0] == names[1]
    assert len(set(names[0])) == len(names[0])
    days = [[event.day for event in events(each)] for each in (one, other)]
    assert all((b - a).days == 3 for a, b in zip(*days, strict=True))


def test_what_is_over_is_not_in_it() -> None:
    now = view(recital=5)
    assert all(event.day >= now.day for event in events(now))


def test_a_second_recital_has_its_day_and_no_second_drill() -> None:
    now = view(recital=5)
    later = Recital("r2", "p", "Exam", now.day + timedelta(days=40))
    found = events(with_fields(now, recitals=(*now.recitals, later)))
    assert [event.uid for event in found if event.uid.startswith("r2")] == ["r2-recital"]


def test_a_day_off_has_no_drill() -> None:
    now = view(recital=10)
    week = tuple(0.0 if day == 6 else 8.0 for day in range(7))
    found = events(with_fields(now, student=replace(now.student, week=week)))
    drills = [event.day for event in found if "-drill-" in event.uid]
    assert drills
    assert all(day.weekday() != 6 for day in drills)


def test_without_a_recital_there_is_no_calendar() -> None:
    with pytest.raises(TrainerError, match="recital set"):
        events(view_of([PIECE], recital=None))


@given(st.one_of(st.text(max_size=200), st.sampled_from([HOSTILE, "a\r\nEND:VEVENT", "é" * 80])))
def test_any_text_comes_back_as_it_is(text: str) -> None:
    event = Event("u", date(2026, 3, 22), f"a{text}b", f"c{text}d")
    (found,) = read(calendar((event,), NOW))
    assert unescaped(found["SUMMARY"]) == plain(f"a{text}b")
    assert unescaped(found["DESCRIPTION"]) == plain(f"c{text}d")


def test_the_library_reads_the_same() -> None:
    icalendar = pytest.importorskip("icalendar")
    now = view_of([PIECE], practice(PIECE), name=HOSTILE, concert="é" * 60 + "; a, b\\n")
    made = events(now)
    parsed = icalendar.Calendar.from_ical(calendar(made, NOW))
    assert not parsed.errors
    found = list(parsed.walk("VEVENT"))
    assert [str(one["UID"]) for one in found] == [event.uid for event in made]
    assert [one["DTSTART"].dt for one in found] == [event.day for event in made]
    assert [str(one["SUMMARY"]) for one in found] == [plain(event.summary) for event in made]
    told = [str(one.get("DESCRIPTION", "")) for one in found]
    assert told == [plain(event.description) for event in made]
    assert not any(one.errors for one in found)
    assert at(DAY).date() <= min(one["DTSTART"].dt for one in found)
