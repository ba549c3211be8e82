from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest
from msgspec.structs import replace

from tests.memory.build import at, attempt, deck, opened
from trainer.memory.evidence import weigh
from trainer.memory.model import believe
from trainer.memory.planner import next_calls, plan
from trainer.record.attempt import Attempt, Outcome, practice_day
from trainer.record.people import DaysOff, FromMemory, ProgrammeItem, Recital, Student
from trainer.record.plan import Plan

STUDENT = Student("p", "P", minutes=4)
DECKS = {"d": deck(12)}
IDS = [start.id for start in DECKS["d"].starts]
RECITAL = Recital("r", "p", "the spring concert", at(20).date(), (ProgrammeItem("d"),))
LOG = [attempt(i / 1000, start) for i, start in enumerate(IDS[:6])] + [
    attempt(1 + i / 1000, start, Outcome.NOTHING if i % 2 else Outcome.THROUGH)
    for i, start in enumerate(IDS[:6])
]
BELIEFS = believe(weigh(LOG, {}))


def test_only_open_starts_within_the_seconds_each_with_its_reason() -> None:
    today = plan(STUDENT, BELIEFS, opened(IDS[:6]), DECKS, (RECITAL,), at(2), 100)
    assert {slot.start for slot in today.slots} <= set(IDS[:6])
    assert 0 < today.seconds <= 100
    assert len({slot.start for slot in today.slots}) == len(today.slots)
    assert all(slot.why.endswith(".") and slot.seconds > 0 for slot in today.slots)
    assert (today.student, today.day) == ("p", practice_day(at(2)))


def test_the_weakest_come_first() -> None:
    today = plan(STUDENT, BELIEFS, opened(IDS[:6]), DECKS, (RECITAL,), at(2), 100)
    assert {slot.start for slot in today.slots} <= {"s2", "s4", "s6"}


def test_a_piece_that_is_not_played_from_memory_is_left_alone() -> None:
    with_music = Recital("r", "p", "c", at(20).date(), (ProgrammeItem("d", "no"),))
    assert plan(STUDENT, BELIEFS, opened(IDS), DECKS, (with_music,), at(2)).slots == ()


def test_no_recital_or_one_that_is_over_still_gives_a_plan() -> None:
    for recitals in ((), (RECITAL,)):
        assert plan(STUDENT, BELIEFS, opened(IDS), DECKS, recitals, at(40)).slots


def test_nothing_open_nothing_called() -> None:
    assert plan(STUDENT, BELIEFS, (), DECKS, (RECITAL,), at(2)).slots == ()
    assert next_calls(STUDENT, BELIEFS, (), DECKS, (RECITAL,), at(2)) == {}


def test_every_open_start_has_a_next_call_after_today() -> None:
    calls = next_calls(STUDENT, BELIEFS, opened(IDS), DECKS, (RECITAL,), at(2))
    today = plan(STUDENT, BELIEFS, opened(IDS), DECKS, (RECITAL,), at(2))
    assert set(calls) == set(IDS)
    for start, call in calls.items():
        assert call.day is not None
        assert call.day > practice_day(at(2))
        if start in {slot.start for slot in today.slots}:
            assert call.since == (call.day - practice_day(at(2))).days
        elif start in IDS[:6]:
            assert call.since == (call.day - practice_day(at(1))).days
        else:
            assert call.since is None


def starts_on(days: float, log: list[Attempt], **fields: Any) -> list[str]:
    """The starts of the plan of one day, after that log."""
    given: dict[str, Any] = {
        "student": STUDENT,
        "openings": opened(IDS),
        "decks": DECKS,
        "recitals": (RECITAL,),
        "seconds": 100.0,
    }
    beliefs = believe(weigh(log, DECKS))
    return [slot.start for slot in plan(beliefs=beliefs, now=at(days), **given | fields).slots]


def drilled(days: Iterable[float], starts: Iterable[str], **fields: Any) -> list[Attempt]:
    return [attempt(d + i / 100, s, **fields) for d in days for i, s in enumerate(starts)]


def test_what_was_tried_cold_today_is_not_called_again_today() -> None:
    done = ["s2", "s4", "s6"]
    log = drilled([0, 1], IDS) + drilled([2], done, outcome=Outcome.NOTHING)
    called = starts_on(2.2, log, seconds=900.0)
    assert set(called) == set(IDS) - set(done)
    assert starts_on(2.2, log + drilled([2.1], set(IDS) - set(done)), seconds=900.0) == []


def test_a_start_not_called_for_long_comes_whatever_it_is_worth() -> None:
    # s1 holds for months; s2 and s3 fail day by day and would take all the seconds.
    log = drilled([0, 2, 6, 14], ["s1"]) + drilled(
        range(14, 30), ["s2", "s3"], outcome=Outcome.NOTHING
    )
    far = Recital("r", "p", "c", at(60).date(), (ProgrammeItem("d"),))
    called = {"openings": opened(["s1", "s2", "s3"]), "recitals": (far,), "seconds": 70.0}
    assert "s1" not in starts_on(16, [a for a in log if a.at < at(16)], **called)
    assert "s1" in starts_on(30, log, **called)


def test_the_day_itself_is_a_short_warm_up_of_the_weakest() -> None:
    log = drilled([0, 1, 3, 7, 12, 18], IDS[:10]) + drilled(
        [19], ["s3", "s5"], outcome=Outcome.NOTHING
    )
    beliefs = believe(weigh(log, DECKS))
    today = plan(STUDENT, beliefs, opened(IDS), DECKS, (RECITAL,), at(20), 600)
    called = [slot.start for slot in today.slots]
    assert set(called[:2]) == {"s3", "s5"}
    assert today.seconds < 160  # two minutes and the rest of a try, of ten minutes given
    assert not {"s11", "s12"} & set(called)  # nothing is tried for the first time today
    assert all("spring concert" in slot.why for slot in today.slots)


def test_a_recital_that_is_over_leaves_only_what_is_worth_its_seconds() -> None:
    sure = drilled([0, 1, 3, 7, 15, 30, 31, 32, 33, 34], IDS)
    assert len(starts_on(34.9, sure, seconds=3600.0)) == 0
    assert len(starts_on(35, sure, seconds=3600.0)) < len(IDS)
    assert len(starts_on(80, sure, seconds=3600.0)) == len(IDS)


def test_missed_days_leave_no_debt() -> None:
    log = drilled([0, 1, 3], IDS)
    later = Recital("r", "p", "c", at(60).date(), (ProgrammeItem("d"),))
    for days in (4, 8, 25):
        beliefs = believe(weigh(log, DECKS))
        today = plan(STUDENT, beliefs, opened(IDS), DECKS, (later,), at(days))
        assert today.seconds <= STUDENT.minutes * 60


def test_minutes_by_weekday_and_days_off() -> None:
    # at(0) is a Monday.
    week = Student("p", "P", week=(2, 4, 4, 4, 4, 8, 0), off=(DaysOff(at(7).date(), at(8).date()),))
    beliefs = believe(weigh(drilled([-2, -1], IDS), DECKS))

    def seconds(days: float) -> float:
        return plan(week, beliefs, opened(IDS), DECKS, (RECITAL,), at(days)).seconds

    assert 0 < seconds(0) <= 120 < seconds(1) <= 240 < seconds(5) <= 480
    assert seconds(6) == seconds(7) == seconds(8) == 0
    assert seconds(9) > 0
    calls = next_calls(week, beliefs, opened(IDS), DECKS, (RECITAL,), at(5))
    assert not {at(6).date(), at(7).date(), at(8).date()} & {c.day for c in calls.values()}


def test_two_look_alikes_are_not_begun_on_one_day() -> None:
    kin = {"s1": frozenset(["s2"]), "s2": frozenset(["s1"])}
    assert {"s1", "s2"} <= set(starts_on(0, [], seconds=900.0))
    assert len({"s1", "s2"} & set(starts_on(0, [], seconds=900.0, kin=kin))) == 1


def test_an_optional_piece_counts_less() -> None:
    two = {"d": deck(6), "e": deck(6, "e", "t")}
    log = drilled([0, 1, 3], two["d"].route) + drilled([0.2, 1.2, 3.2], two["e"].route, deck="e")
    both = (*opened(two["d"].route), *opened(two["e"].route, "e"))

    def of_d(by_heart: FromMemory) -> int:
        items = ProgrammeItem("d", by_heart), ProgrammeItem("e")
        evening = Recital("r", "p", "c", at(20).date(), items)
        called = starts_on(6, log, decks=two, openings=both, recitals=(evening,), seconds=130.0)
        return sum(start.startswith("s") for start in called)

    assert of_d("yes") > of_d("optional") >= of_d("no") == 0


def test_a_join_that_fails_is_called_before_one_that_holds() -> None:
    log = drilled([0, 1, 3, 6], IDS[:8])
    broken = [replace(a, outcome=Outcome.BROKE_OFF) if a.start in IDS[5:8] else a for a in log]
    openings = opened(IDS[:8])
    assert set(starts_on(9, broken, openings=openings)[:3]) == set(IDS[5:8])


def test_the_next_calls_are_kept_if_all_goes_as_expected() -> None:
    """Steady enough to be believed: after today's drill, most starts come when it was said."""
    log = drilled([0, 1, 3], IDS)
    said = next_calls(STUDENT, believe(weigh(log, DECKS)), opened(IDS), DECKS, (RECITAL,), at(4))
    today = starts_on(4, log, seconds=None)
    log += drilled([4], today)
    now = next_calls(STUDENT, believe(weigh(log, DECKS)), opened(IDS), DECKS, (RECITAL,), at(4.2))
    off = [abs((a.day - b.day).days) for s, a in said.items() if a.day and (b := now[s]).day]
    assert len(off) == len(IDS)
    assert sum(days <= 1 for days in off) >= 9


def test_one_start_two_starts_and_a_recital_in_two_years() -> None:
    far = Recital("r", "p", "c", at(730).date(), (ProgrammeItem("d"),))
    for n in (1, 2):
        few = {"d": deck(n)}
        log = drilled([0, 1], few["d"].route)
        called = starts_on(3, log, decks=few, openings=opened(few["d"].route), recitals=(far,))
        assert 1 <= len(called) <= n


@pytest.mark.parametrize(("minutes", "most"), [(4.0, 240), (8.0, 300), (20.0, 600)])
def test_the_day_before_a_recital_is_light(minutes: float, most: float) -> None:
    """Common practice, no source: half the usual time, a short drill as it is."""
    student = Student("p", "P", minutes=minutes)
    log = drilled([0, 1, 3, 7, 12], IDS) + drilled([18], IDS, outcome=Outcome.NOTHING)
    usual, eve = (
        plan(student, believe(weigh(log, DECKS)), opened(IDS), DECKS, (RECITAL,), at(days)).seconds
        for days in (18.9, 19)
    )
    assert usual == 0 or usual <= minutes * 60
    assert 0 < eve <= most


def test_thousands_of_starts_are_planned_within_the_seconds() -> None:
    many = {"d": deck(2000)}
    log = drilled([0, 1], many["d"].route[:500])
    called = starts_on(3, log, decks=many, openings=opened(many["d"].route), seconds=480.0)
    assert 10 <= len(called) == len(set(called)) <= 30


KIN = {"s1": frozenset(["s2"]), "s2": frozenset(["s1"])}
STUCK_LOG = drilled(range(12), ["s1"], outcome=Outcome.NOTHING) + drilled(
    range(12), ["s3", "s5", "s7", "s9"]
)


def plan_of(days: float, log: list[Attempt], **fields: Any) -> Plan:
    """The plan of one day, after that log."""
    worked_on = fields.pop("worked_on", None)
    given: dict[str, Any] = {"openings": opened(IDS), "recitals": (RECITAL,), "seconds": 900.0}
    beliefs = believe(weigh(log, {}), worked_on)
    return plan(STUDENT, beliefs, decks=DECKS, now=at(days), **given | fields)


def test_what_is_held_back_is_named_with_its_reason() -> None:
    looks_like = plan_of(0, [], kin=KIN)
    assert [(one.start, one.why) for one in looks_like.held_back] == [
        ("s2", "One look-alike at a time: start 1 is new today.")
    ]
    late = plan_of(16, drilled([0, 1, 3, 6, 10], IDS[:4]), seconds=100.0)
    assert {one.start for one in late.held_back} == set(IDS[4:])
    assert all("week before the spring concert" in one.why for one in late.held_back)


def test_a_stuck_start_is_called_once_a_week_until_it_was_worked_on() -> None:
    soon, later = plan_of(12, STUCK_LOG), plan_of(18.1, STUCK_LOG)
    [held] = [one for one in soon.held_back if one.start == "s1"]
    assert "take it apart" in held.why
    assert "s1" not in {slot.start for slot in soon.slots}
    [slot] = [slot for slot in later.slots if slot.start == "s1"]
    assert "take it apart" in slot.why
    lifted = plan_of(12, STUCK_LOG, worked_on={"s1": at(11.5)})
    assert "s1" in {slot.start for slot in lifted.slots}
    assert "s1" not in {one.start for one in lifted.held_back}


def test_what_is_safe_is_called_safe_and_may_still_be_called() -> None:
    log = drilled([0, 1, 3, 7, 12, 17], IDS[:6]) + drilled(
        [16, 17.5], IDS[6:], outcome=Outcome.NOTHING
    )
    today = plan_of(18, log)
    assert {slot.start for slot in today.slots if slot.safe} == set(IDS[:6])
    assert not any(slot.safe for slot in today.slots if slot.start in IDS[6:])


def test_the_reasons_differ_where_they_differ() -> None:
    log = (
        drilled([0, 1, 3, 7, 12], ["s1"])
        + drilled([12], ["s2"])
        + drilled([10, 12], ["s3"], outcome=Outcome.NOTHING)
        + drilled([0, 1, 3], ["s4"])
        + drilled([0, 1, 3, 7, 12], ["s5"], outcome=Outcome.BROKE_OFF)
    )
    why = {slot.start: slot.why for slot in plan_of(13, log).slots}
    assert why["s2"].startswith("It has held once")
    assert why["s3"] == "It did not hold the last 2 times."
    assert why["s4"] == "It was last tried cold 10 days ago."
    assert why["s6"] == "It has not been tried cold yet."
    assert len({why[start] for start in IDS[:6]}) == 6


def test_nothing_is_begun_before_what_was_begun_holds() -> None:
    """Six starts that fail day after day, and six that were never tried."""
    log = [
        attempt(day + i / 1000, start, Outcome.NOTHING)
        for day in (0, 1)
        for i, start in enumerate(IDS[:6])
    ]
    today = plan(STUDENT, believe(weigh(log, {})), opened(IDS), DECKS, (RECITAL,), at(2), 260)
    called = [slot.start for slot in today.slots]
    assert set(called[:6]) == set(IDS[:6])  # the new ones only after them
    assert 6 < len(called) < 12
    waits = {held.start: held.why for held in today.held_back}
    assert waits.keys() == set(IDS) - set(called)
    assert set(waits.values()) == {"Nothing new until more of what was begun holds."}
    log += [attempt(day + i / 1000, start) for day in (2, 3, 4) for i, start in enumerate(IDS[:6])]
    today = plan(STUDENT, believe(weigh(log, {})), opened(IDS), DECKS, (RECITAL,), at(5), 260)
    assert set(IDS[6:]) & {slot.start for slot in today.slots[:4]}
    assert today.held_back == ()
