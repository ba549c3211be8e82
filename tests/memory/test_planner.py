from __future__ import annotations

from tests.memory.build import at, attempt, deck, opened
from trainer.memory.evidence import weigh
from trainer.memory.model import believe
from trainer.memory.planner import next_calls, plan
from trainer.record.attempt import Outcome, practice_day
from trainer.record.people import ProgrammeItem, Recital, Student

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
