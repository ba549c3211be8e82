"""Dates as people write them: read whole or refused, never guessed."""

from __future__ import annotations

from contextlib import suppress
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainer.dates import HOW, day_of, in_full
from trainer.errors import TrainerError

TODAY = date(2026, 11, 30)  # a Monday

days = st.dates(date(1, 1, 1), date(9999, 12, 31))
near = st.dates(date(1900, 1, 1), date(2200, 12, 31))


@pytest.mark.parametrize(
    ("text", "ahead", "behind"),
    [
        ("today", "2026-11-30", "2026-11-30"),
        ("Tomorrow", "2026-12-01", "2026-12-01"),
        ("yesterday", "2026-11-29", "2026-11-29"),
        ("4 Jan", "2027-01-04", "2026-01-04"),
        ("Jan 4", "2027-01-04", "2026-01-04"),
        ("the 4th of January", "2027-01-04", "2026-01-04"),
        ("January 4, 2028", "2028-01-04", "2028-01-04"),
        ("4 Jan 28", "2028-01-04", "2028-01-04"),
        ("30 November", "2026-11-30", "2026-11-30"),
        ("3 Sept.", "2027-09-03", "2026-09-03"),
        ("29 Feb", "2028-02-29", "2024-02-29"),
        ("Friday", "2026-12-04", "2026-11-27"),
        ("on Monday", "2026-12-07", "2026-11-23"),
        ("this sun", "2026-12-06", "2026-12-06"),
        ("last Friday", "2026-11-27", "2026-11-27"),
        ("Mon 4 Jan 2027", "2027-01-04", "2027-01-04"),
        ("in 3 weeks", "2026-12-21", "2026-12-21"),
        ("in a fortnight", "2026-12-14", "2026-12-14"),
        ("in three months", "2027-02-28", "2027-02-28"),
        ("2 days ago", "2026-11-28", "2026-11-28"),
        ("a year ago", "2025-11-30", "2025-11-30"),
        ("21/6", "2027-06-21", "2026-06-21"),
        ("6/21/2027", "2027-06-21", "2027-06-21"),
        ("1.1.", "2027-01-01", "2026-01-01"),
        (" 2026-06-21 ", "2026-06-21", "2026-06-21"),
    ],
)
def test_what_people_write(text: str, ahead: str, behind: str) -> None:
    assert day_of(text, TODAY).isoformat() == ahead
    assert day_of(text, TODAY, past=True).isoformat() == behind


@pytest.mark.parametrize(
    "text",
    [
        *("", " ", "soon", "tomorow", "3", "1", "may", "Jan", "4 Jan lunch", "hello tomorrow"),
        *("31 Feb", "30 Feb 2027", "29 Feb 2027", "0 Jan", "2027-02-30", "13/13", "0/0", "21.6.x"),
        *("3 weeks", "in 3 weeks ago", "in -3 days", "in 9999 years", "9999 years ago", "20261218"),
        *("Ju 4", "4 ma", "2026-W01-1", "4 Jan 99999", "26/12/18", "x" * 5000),
    ],
)
def test_what_is_not_a_date(text: str) -> None:
    for past in (False, True):
        with pytest.raises(TrainerError) as error:
            day_of(text, TODAY, past=past)
        assert str(error.value).endswith(f"is not a date; {HOW}.")
        assert len(str(error.value)) < 140


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("4/1/2027", "may be Monday 4 January 2027 or Thursday 1 April 2027; write the month in"),
        ("next Friday", "may be Friday 4 December 2026 or Friday 11 December 2026; write the date"),
        ("Friday 4 Jan", "that day is Monday 4 January 2027"),
    ],
)
def test_what_may_be_two_days_names_both(text: str, says: str) -> None:
    with pytest.raises(TrainerError, match=says):
        day_of(text, TODAY)


@given(days, days, st.booleans())
def test_a_day_in_full_is_read_again(day: date, today: date, past: bool) -> None:
    assert day_of(in_full(day), today, past=past) == day
    assert day_of(day.isoformat(), today, past=past) == day


@given(near, near)
def test_without_a_year_it_is_the_next_such_day_or_the_last(day: date, today: date) -> None:
    text = f"{day.day} {day:%b}"
    ahead, behind = day_of(text, today), day_of(text, today, past=True)
    assert (ahead.day, ahead.month) == (behind.day, behind.month) == (day.day, day.month)
    assert behind <= today <= ahead
    between = (behind + timedelta(n) for n in range(1, (ahead - behind).days))
    assert not any((one.day, one.month) == (day.day, day.month) for one in between)


@given(near, st.integers(0, 6))
def test_a_weekday_is_within_a_week_and_never_today(today: date, which: int) -> None:
    name = f"{date(2024, 1, 1 + which):%A}"
    for past in (False, True):
        found = day_of(name, today, past=past)
        assert found.weekday() == which
        assert 1 <= abs((found - today).days) <= 7
        assert (found < today) == past


@given(st.text(max_size=30))
def test_any_text_is_a_day_or_one_sentence(text: str) -> None:
    with suppress(TrainerError):  # any other error fails
        assert day_of(text, TODAY) <= date.max
