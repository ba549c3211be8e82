from __future__ import annotations

from datetime import datetime, timedelta, timezone
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.memory.build import attempt, deck
from trainer.deck.model import Former, Start
from trainer.memory.evidence import Try, not_cold, weigh
from trainer.record.attempt import PAGE, Attempt, Outcome, Witness

MINUTE = 1 / 1440
DECKS = {"d": deck(5)}


def kinds(tries: tuple[Try, ...]) -> list[str]:
    return [
        "cold" if t.cold else "cued" * t.cued + "+" * (t.cued and t.repeat) + "repeat" * t.repeat
        for t in tries
    ]


def test_first_try_of_the_day_is_cold_and_the_next_a_repeat() -> None:
    log = [attempt(0), attempt(2 * MINUTE), attempt(1)]
    assert kinds(weigh(log, DECKS)) == ["cold", "repeat", "cold"]


def test_a_try_after_its_page_was_shown_is_a_repeat() -> None:
    log = [attempt(0, hints=("harmony",)), attempt(1, hints=("harmony", PAGE)), attempt(2)]
    assert kinds(weigh(log, DECKS)) == ["cold", "repeat", "cold"]


def test_order_of_arrival_and_duplicates_change_nothing() -> None:
    log = [attempt(0), attempt(MINUTE, "s3"), attempt(1), attempt(2, "s3")]
    assert weigh([log[2], log[0], log[3], log[1], log[0]], DECKS) == weigh(log, DECKS)


def test_just_after_the_phrase_before_is_cued() -> None:
    log = [attempt(0, "s1"), attempt(MINUTE, "s2"), attempt(2 * MINUTE, "s4")]
    assert kinds(weigh(log, DECKS)) == ["cold", "cued", "cold"]


def test_the_phrase_before_rings_for_minutes_only() -> None:
    log = [attempt(0, "s1"), attempt(0.1, "s2")]
    assert kinds(weigh(log, DECKS)) == ["cold", "cold"]


def test_what_was_begun_instead_cues_what_follows_it() -> None:
    log = [
        attempt(0, "s5", Outcome.ELSEWHERE, elsewhere="s1"),
        attempt(MINUTE, "s2"),
    ]
    tries = weigh(log, DECKS)
    assert kinds(tries) == ["cold", "cued"]
    assert tries[0].confused == "s1"


def run(days: float, start: str, outcome: Outcome, seconds: float, **fields: Any) -> Attempt:
    """A record of a run-through that began at `days`, as it is logged after so many seconds."""
    when = days + seconds / 86400
    return attempt(when, start, outcome, drill="run-through", seconds=seconds, **fields)


def cold_after(*log: Attempt, starts: int = 5) -> list[str]:
    """The starts that are still cold in the hours after these records."""
    later = [attempt(0.2 + 0.02 * n, f"s{n}") for n in reversed(range(1, starts + 1))]
    tries = weigh([*log, *later], {"d": deck(starts)})[-starts:]
    found = sorted(one.start for one in tries if one.cold)
    known = {f"s{n}" for n in range(1, starts + 1)}
    assert set(found) == known - not_cold(log, {"d": deck(starts)})
    return found


SLIP, END = Outcome.BROKE_OFF, Outcome.STOPPED
BAR_OF_3 = Fraction(20)  # a place in the third phrase


def test_after_a_run_through_to_the_end_nothing_of_the_piece_is_cold_that_day() -> None:
    assert cold_after(run(0, "s1", Outcome.THROUGH, 90)) == []
    other = attempt(0.2, "t1", deck="other")
    tries = weigh([run(0, "s1", Outcome.THROUGH, 90), other, attempt(1, "s4")], DECKS)
    assert kinds(tries) == ["cued", "cold", "cold"]


def test_a_run_through_cues_only_what_it_reached() -> None:
    assert cold_after(run(0, "s3", SLIP, 40, broke_at=BAR_OF_3)) == ["s4", "s5"]


def test_what_was_left_out_after_a_slip_stays_cold() -> None:
    slip = run(0, "s2", SLIP, 30, broke_at=Fraction(12), elsewhere="s5")
    assert cold_after(slip) == ["s3", "s4"]
    assert cold_after(slip, run(0, "s1", END, 60)) == ["s3", "s4"]


def test_two_slips_of_one_run_through_reach_what_lies_between() -> None:
    first = run(0, "s1", SLIP, 10, broke_at=Fraction(4), elsewhere="s2")
    second = run(0, "s4", SLIP, 50, broke_at=Fraction(28))
    assert cold_after(first, second) == ["s5"]


def test_a_run_through_that_began_by_accident_cues_nothing() -> None:
    """One slip, at a place of which nothing was said, and stop."""
    assert cold_after(run(0, "s1", SLIP, 4)) == ["s1", "s2", "s3", "s4", "s5"]
    before = replace(run(0, "s1", SLIP, 4), seconds=None)  # as slips were logged before
    assert cold_after(before) == ["s1", "s2", "s3", "s4", "s5"]


def test_a_long_run_through_that_stopped_nobody_knows_where_may_have_reached_all() -> None:
    assert cold_after(run(0, "s1", SLIP, 300)) == []


def test_an_untold_slip_of_a_run_through_to_the_end_changes_nothing() -> None:
    assert cold_after(run(0, "s1", SLIP, 4), run(0, "s1", END, 90)) == []


def test_a_second_run_through_begins_at_the_beginning() -> None:
    first = run(0, "s1", SLIP, 10, broke_at=Fraction(4), elsewhere="s4")
    second = run(0.01, "s3", SLIP, 40, broke_at=BAR_OF_3)
    assert cold_after(first, second) == ["s5"]


def test_going_on_after_a_slip_cues_the_phrase_and_the_next() -> None:
    assert cold_after(attempt(0, "s2", drill="slip")) == ["s1", "s4", "s5"]
    missed = attempt(0, "s2", Outcome.ELSEWHERE, drill="slip", elsewhere="s5")
    assert cold_after(missed) == ["s1", "s4"]


@given(st.data())
def test_a_run_through_never_cues_a_phrase_that_lies_after_all_it_reached(
    data: st.DataObject,
) -> None:
    """Slips in the order of the piece, then given up: what lies beyond the last place stays cold,
    and what broke is not."""
    phrases = data.draw(
        st.lists(st.integers(1, 8), min_size=1, max_size=4, unique=True).map(sorted)
    )
    log = [
        run(0, f"s{n}", SLIP, 10.0 * k, broke_at=Fraction(8 * n - 4))
        for k, n in enumerate(phrases, 1)
    ]
    cold = set(cold_after(*log, starts=9))
    assert {f"s{n}" for n in range(phrases[-1] + 1, 10)} == cold


@pytest.mark.parametrize("judge", ["heard", "teacher"])
def test_a_witnessed_try_is_evidence_after_a_self_judged_one(judge: str) -> None:
    log = [
        attempt(0),
        attempt(0.1, judge=judge),
        attempt(0.12, judge=judge),
        attempt(0.13),
    ]
    assert kinds(weigh(log, DECKS)) == ["cold", "cold", "repeat", "repeat"]


def test_what_is_heard_after_a_miss_and_the_page_is_a_repeat() -> None:
    """`nothing` is never heard: the player's key says it, and the page is seen."""
    log = [attempt(0, outcome=Outcome.NOTHING), attempt(MINUTE, judge="heard")]
    assert kinds(weigh(log, DECKS)) == ["cold", "repeat"]
    by_teacher = [log[0], attempt(MINUTE, judge="teacher")]
    assert kinds(weigh(by_teacher, DECKS)) == ["cold", "cold"]


def test_an_overruled_try_was_heard_all_the_same() -> None:
    log = [attempt(0, heard=Witness(Outcome.STOPPED)), attempt(MINUTE, judge="heard")]
    assert kinds(weigh(log, DECKS)) == ["cold", "repeat"]


@pytest.mark.parametrize(
    ("said", "sure", "confused"), [("", 0.9, "s4"), ("", 0.7, ""), ("s2", 0.9, "s2")]
)
def test_a_confusion_that_was_heard_counts_where_the_player_says_otherwise(
    said: str, sure: float, confused: str
) -> None:
    heard = Witness(Outcome.ELSEWHERE, elsewhere="s4", sure=sure)
    outcome = Outcome.ELSEWHERE if said else Outcome.THROUGH
    (one,) = weigh([attempt(0, outcome=outcome, elsewhere=said, heard=heard)], DECKS)
    assert one.confused == confused


def test_the_practice_day_is_the_one_that_was_recorded() -> None:
    east = timezone(timedelta(hours=9))
    # 02:30 belongs to the evening before; 04:00 is a new day.
    first = attempt(0, when=datetime(2026, 3, 3, 2, 30, tzinfo=east), id="x")
    second = attempt(0, when=datetime(2026, 3, 3, 4, 0, tzinfo=east), id="y")
    assert kinds(weigh([first, second], DECKS)) == ["cold", "cold"]


def test_an_amended_attempt_counts_once() -> None:
    first = attempt(0, outcome=Outcome.NOTHING)
    log = [first, attempt(MINUTE, amends=first.id)]
    assert [(t.cold, t.held()) for t in weigh(log, DECKS)] == [(True, True)]


def test_a_merged_start_leaves_its_tries_to_its_heir_and_a_split_one_lends() -> None:
    merged = deck(
        3,
        former=(
            Former("old", 9, deck(3).starts[0].onset, "merged", "mid"),
            Former("mid", 8, deck(3).starts[0].onset, "merged", "s2"),
        ),
        starts=(*deck(3).starts, Start("s4", 4, deck(4).starts[3].onset, parent="mid")),
    )
    tries = weigh([attempt(0, "old"), attempt(MINUTE, "s2")], {"d": merged})
    assert [t.start for t in tries] == ["s2", "s2"]
    assert kinds(tries) == ["cold", "repeat"]
    assert tries[0].lent == ("s4",)


def test_merges_in_a_circle_end() -> None:
    onset = deck(1).starts[0].onset
    circle = deck(
        1, former=(Former("a", 2, onset, "merged", "b"), Former("b", 3, onset, "merged", "a"))
    )
    assert weigh([attempt(0, "a")], {"d": circle})[0].start in {"a", "b"}


def test_a_drill_kind_observes_what_it_asks_for() -> None:
    (joins,) = weigh([attempt(0, drill="joins")], DECKS)
    (away,) = weigh([attempt(0, drill="away")], DECKS)
    assert (joins.held("start"), joins.held("join")) == (None, True)
    assert (away.held("start"), away.held("join")) == (True, None)


def test_no_log_no_tries() -> None:
    assert weigh([], DECKS) == ()


@pytest.mark.parametrize("drill", ["away", "blocks"])
def test_what_does_not_play_the_phrase_as_it_goes_is_told_apart(drill: str) -> None:
    (one,) = weigh([attempt(0, drill=drill)], DECKS)
    assert one.apart
    assert not one.cold
    assert one.held("join") is None
    (usual,) = weigh([attempt(0)], DECKS)
    assert not usual.apart
