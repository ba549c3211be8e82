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


def known(starts: int, *days: float, outcome: Outcome = Outcome.THROUGH) -> Beliefs:
    """What is believed after attempts at all starts so many days ago."""
    log = [attempt(-day + n / 500, f"s{n}", outcome) for day in days for n in range(1, starts + 1)]
    return believe(weigh(log, {}))


DAYS = (20, 17, 13, 9, 6, 3)


def test_enough_time_is_feasible_and_says_what_to_open() -> None:
    found = look(6, 10, 40, extra=6, beliefs=known(6, *DAYS))
    assert found.feasible
    assert found.sentence.startswith("With 10 minutes a day")
    assert found.open_next == ("s7", "s8", "s9")
    assert look(6, 10, 40, extra=1, beliefs=known(6, *DAYS)).open_next == ("s7",)


def test_before_there_is_evidence_it_is_too_early_to_say() -> None:
    assert look(6, 10, 40).early
    assert look(6, 10, 40, beliefs=known(6, 2, 1)).early
    found = look(6, 10, 40, beliefs=known(6, *DAYS))
    assert not found.early
    assert "Too early" in look(6, 10, 40).sentence
    assert not any(letter.isdigit() for letter in look(7, 10, 40).sentence.replace("5 times", ""))


def test_the_range_holds_the_mean_and_stopping_now_holds_less() -> None:
    mixed = [
        attempt(-day + n / 500, f"s{n}", Outcome.THROUGH if (n + day) % 3 else Outcome.NOTHING)
        for day in DAYS
        for n in range(1, 21)
    ]
    found = look(20, 3, 30, beliefs=believe(weigh(mixed, {})))
    assert 0 <= found.low < found.holding < found.high <= 20
    assert found.stopped < found.holding - 1
    assert f"{found.low} to {found.high} of 20 starts" in found.sentence


def test_the_same_beliefs_give_the_same_numbers() -> None:
    beliefs = known(8, *DAYS)
    assert look(8, 4, 20, beliefs=beliefs) == look(8, 4, 20, beliefs=beliefs)


def test_too_little_time_says_what_would_do() -> None:
    beliefs = known(24, 12, 9, 6, 5, 4, outcome=Outcome.LOOKED)
    found = look(24, 1.5, 40, beliefs=beliefs)
    assert not found.feasible
    assert found.open_next == ()
    if found.minutes_wanted is not None:
        assert found.minutes_wanted > 1.5
        assert look(24, found.minutes_wanted, 40, beliefs=beliefs).holding > found.holding


def test_more_time_never_looks_worse() -> None:
    beliefs = known(20, 12, 8, 4, outcome=Outcome.LOOKED)
    held = [look(20, minutes, 30, beliefs=beliefs).holding for minutes in (1, 2, 4, 8, 16)]
    assert all(b >= a - 0.5 for a, b in pairwise(held))
    assert held[-1] > held[0] + 1


def test_holidays_count() -> None:
    off = (DaysOff(TODAY + timedelta(days=16), TODAY + timedelta(days=29)),)
    beliefs = known(20, 8, 4)
    with_holidays = look(20, 3, 30, off=off, beliefs=beliefs)
    without = look(20, 3, 30, beliefs=beliefs)
    assert with_holidays.days == without.days - 14
    assert with_holidays.holding < without.holding


def test_nothing_is_opened_in_the_last_week() -> None:
    assert look(4, 20, 5, extra=4, beliefs=known(4, 8, 6, 4, 2, 1)).open_next == ()


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
    good, bad = (look(8, 2, 20, beliefs=known(8, 9, 5, 2, outcome=kind)) for kind in kinds)
    assert good.holding > bad.holding
    assert good.stopped > bad.stopped


def test_the_pieces_add_up_to_the_whole() -> None:
    found = look(12, 4, 30, beliefs=known(12, *DAYS))
    assert dict(found.by_deck).keys() == {"d"}
    assert sum(held for _, held in found.by_deck) == pytest.approx(found.holding)
