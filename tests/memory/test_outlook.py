"""The outlook: whether the minutes will do, and what would."""

from datetime import timedelta
from itertools import pairwise

import pytest
from msgspec.structs import replace

from tests.memory.build import at, attempt, deck, opened
from trainer.memory.evidence import weigh
from trainer.memory.model import Beliefs, believe
from trainer.memory.outlook import Outlook, outlook
from trainer.record.attempt import Outcome, practice_day
from trainer.record.people import DaysOff, ProgrammeItem, Recital, Student

NOW = at(0)
TODAY = practice_day(NOW)


def look(
    starts: int, minutes: float, days: int, *, extra: int = 0, beliefs: Beliefs | None = None,
    **fields: object,
) -> Outlook:  # fmt: skip
    """The outlook of a student with so many open starts, `extra` closed ones, and a recital."""
    piece = deck(starts + extra)
    student = replace(Student("p", "P", minutes=minutes), **fields)
    recital = Recital("r", "p", "Concert", TODAY + timedelta(days=days), (ProgrammeItem("d"),))
    ids = [start.id for start in piece.starts[:starts]]
    found = outlook(student, beliefs or believe(()), opened(ids), {"d": piece}, (recital,), NOW)
    assert found is not None
    return found


def test_enough_time_is_feasible_and_says_what_to_open() -> None:
    found = look(6, 10, 40, extra=6)
    assert found.feasible
    assert found.sentence.startswith("With 10 minutes a day about")
    assert found.can_open > 0
    assert found.open_next[0] == "s7"
    assert len(found.open_next) <= 3


def test_too_little_time_says_so_and_what_would_do() -> None:
    found = look(24, 1.5, 40)
    assert not found.feasible
    assert "only" in found.sentence
    assert found.minutes_wanted is not None
    assert found.minutes_wanted > 1.5
    assert look(24, found.minutes_wanted, 40).feasible
    assert found.can_open == 0


def test_more_time_never_looks_worse() -> None:
    held = [look(20, minutes, 30).holding for minutes in (1, 2, 4, 8, 16)]
    assert all(b >= a - 0.3 for a, b in pairwise(held))
    assert held[-1] > held[0] + 2


def test_fewer_starts_are_carried_by_the_same_minutes() -> None:
    found = look(24, 2.5, 40)
    if found.fewer:
        assert found.fewer <= 12
        assert str(found.fewer) in found.sentence or found.fewer == 1


def test_holidays_count() -> None:
    off = (DaysOff(TODAY + timedelta(days=16), TODAY + timedelta(days=29)),)
    with_holidays, without = look(20, 3, 30, off=off), look(20, 3, 30)
    assert with_holidays.days == without.days - 14
    assert with_holidays.holding < without.holding


def test_nothing_is_opened_in_the_last_week() -> None:
    tries = [attempt(-k, f"s{n}") for n in range(1, 5) for k in (8, 6, 4, 2, 1)]
    beliefs = believe(weigh(tries, {"d": deck(8)}))
    found = look(4, 20, 5, extra=4, beliefs=beliefs)
    assert found.open_next == ()
    assert found.can_open == 0


def test_without_open_starts_it_says_so() -> None:
    found = look(0, 8, 30, extra=4)
    assert "No start" in found.sentence
    assert found.open_next == ("s1", "s2", "s3")


@pytest.mark.parametrize("days", [0, -3])
def test_a_recital_that_is_over_or_today_has_none(days: int) -> None:
    piece = deck(4)
    recital = Recital("r", "p", "Concert", TODAY + timedelta(days=days), (ProgrammeItem("d"),))
    assert outlook(Student("p", "P"), believe(()), (), {"d": piece}, (recital,), NOW) is None


def test_a_failing_log_looks_worse_than_a_holding_one() -> None:
    kinds = Outcome.THROUGH, Outcome.NOTHING
    logs = [[attempt(-k, f"s{n}", kind) for n in range(1, 9) for k in (9, 5, 2)] for kind in kinds]
    good, bad = (
        look(8, 2, 20, beliefs=believe(weigh(log, {"d": deck(8)}))).holding for log in logs
    )
    assert good > bad


def test_no_more_starts_are_advised_than_there_are() -> None:
    found = look(6, 10, 40, extra=2)
    assert found.can_open == 2
    assert found.open_next == ("s7", "s8")


def test_the_pieces_add_up_to_the_whole() -> None:
    found = look(12, 4, 30)
    assert dict(found.by_deck).keys() == {"d"}
    assert sum(held for _, held in found.by_deck) == pytest.approx(found.holding)


def test_where_only_the_days_off_are_in_the_way_it_says_so() -> None:
    off = (DaysOff(TODAY + timedelta(days=10), TODAY + timedelta(days=37)),)
    found = look(28, 5, 40, off=off)
    assert not found.feasible
    assert found.without_off is not None
    assert found.without_off > found.holding + 3
    if not found.minutes_wanted and not found.fewer:
        assert "if the days off were practised too" in found.sentence
    assert look(28, 5, 40).without_off is None
