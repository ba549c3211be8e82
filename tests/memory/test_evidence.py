from __future__ import annotations

from datetime import datetime, timedelta, timezone

import pytest

from tests.memory.build import attempt, deck
from trainer.deck.model import Former, Start
from trainer.memory.evidence import Try, weigh
from trainer.record.attempt import PAGE, Outcome, Witness

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


@pytest.mark.parametrize("kind", ["run-through", "slip"])
def test_after_playing_the_piece_in_order_nothing_is_cold_that_day(kind: str) -> None:
    log = [
        attempt(0, "s1"),
        attempt(0.01, "s2", drill=kind),
        attempt(0.1, "s4", judge="heard"),
        attempt(0.1, "t1", deck="other"),
        attempt(1, "s4"),
    ]
    assert kinds(weigh(log, DECKS)) == ["cold", "cued", "cued", "cold", "cold"]


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
