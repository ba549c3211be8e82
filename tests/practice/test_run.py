"""Run-throughs and slip rehearsals: what they put into the log."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.pieces import piece_of, tune
from trainer.memory.evidence import weigh
from trainer.practice import run as runs
from trainer.practice.run import Run
from trainer.record.attempt import Attempt, Outcome, Retraction, standing

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
DECK = piece_of(tune(16), [0, 12, 24, 36]).deck
RUN = Run("p", "m", DECK, NOON)


def test_a_clean_run_is_through() -> None:
    run, (end,) = runs.finish(RUN, NOON + timedelta(minutes=3), "e")
    assert isinstance(end, Attempt)
    assert (end.outcome, end.start, end.seconds) == (Outcome.THROUGH, "deck-s1", 180)
    assert run.over
    assert runs.slip(run, NOON, "x") == (run, ())


def test_a_slip_names_the_phrase_that_broke_and_where_it_went_on() -> None:
    run, (slip,) = runs.slip(RUN, NOON, "a", broke_at=Fraction(20), resumed="deck-s4")
    assert isinstance(slip, Attempt)
    assert (slip.start, slip.elsewhere, slip.outcome) == ("deck-s2", "deck-s4", Outcome.BROKE_OFF)
    _, (end,) = runs.finish(run, NOON, "e")
    assert isinstance(end, Attempt)
    assert end.outcome is Outcome.STOPPED


@pytest.mark.parametrize(
    ("broke_at", "resumed", "phrase"),
    [(None, "deck-s3", "deck-s2"), (None, "", "deck-s1"), (Fraction(0), "", "deck-s1")],
)
def test_what_is_not_said_is_inferred(broke_at: Fraction | None, resumed: str, phrase: str) -> None:
    assert runs.phrase_of(DECK, broke_at, resumed) == phrase


@given(st.lists(st.sampled_from(["slip", "undo", "finish"]), max_size=20))
def test_the_run_shows_what_stands_in_the_log(acts: list[str]) -> None:
    run, log = RUN, list[Attempt | Retraction]()
    for count, act in enumerate(acts):
        at, new_id = NOON + timedelta(seconds=count), f"{count}"
        match act:
            case "slip":
                run, made = runs.slip(run, at, new_id, resumed="deck-s3")
            case "undo":
                run, made = runs.undo(run, at, new_id)
            case _:
                run, made = runs.finish(run, at, new_id)
        log += made
    stands = standing(
        tuple(one for one in log if isinstance(one, Attempt)),
        tuple(one for one in log if isinstance(one, Retraction)),
    )
    assert {one.id for one in stands} == {one.id for one in (*run.slips, run.end) if one}


def test_where_it_went_on_is_no_confusion() -> None:
    _, (slip,) = runs.slip(RUN, NOON, "a", broke_at=Fraction(20), resumed="deck-s4")
    assert isinstance(slip, Attempt)
    (one,) = weigh([slip], {"deck": DECK})
    assert one.confused == ""
    assert not one.cold


@given(st.integers(1, 100), st.none() | st.floats(30, 240), st.integers())
def test_an_interruption_falls_within_the_phrase(
    quarters: int, tempo: float | None, seed: int
) -> None:
    seconds = runs.interruption(Fraction(0), Fraction(quarters), tempo, Random(seed))
    assert 2 <= seconds <= max(2.0, quarters * 60 / (tempo or runs.SLOWEST))


@pytest.mark.parametrize(
    ("resumed", "outcome"),
    [("deck-s3", Outcome.THROUGH), ("deck-s4", Outcome.STOPPED), (None, Outcome.BROKE_OFF)],
)
def test_a_slip_rehearsal_records_where_it_went_on(resumed: str | None, outcome: Outcome) -> None:
    made = runs.rehearsed(
        DECK, DECK.starts[1], resumed,
        student="p", machine="m", at=NOON, new_id="a", seconds=20,
    )  # fmt: skip
    assert (made.outcome, made.drill, made.elsewhere) == (outcome, "slip", resumed or "")
