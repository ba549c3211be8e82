"""Run-throughs: what they put into the log, and what that is worth."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.pieces import piece_of, tune
from trainer.memory.evidence import RUN as IN_ORDER
from trainer.memory.evidence import weigh
from trainer.memory.model import believe
from trainer.practice import run as runs
from trainer.practice.exercise import TABLES, Act, Action, step
from trainer.practice.run import Run, RunState
from trainer.record.attempt import Attempt, Outcome, Retraction, standing

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
DECK = piece_of(tune(16), [0, 12, 24, 36]).deck
RUN = Run("p", "m", DECK, NOON)


def done(run: Run, act: Act, *, later: float = 0, name: str = "a", **more: object) -> runs.Step:
    at = NOON + timedelta(seconds=later)
    return step(run, Action(act, at, (name, f"{name}'", f"{name}''"), **more))  # type: ignore[arg-type]


def only(step: runs.Step) -> tuple[Run, Attempt]:
    run, (made,) = step
    assert isinstance(made, Attempt)
    return run, made


def test_a_clean_run_is_through() -> None:
    run, end = only(done(RUN, Act.END, later=180))
    assert (end.outcome, end.start, end.seconds) == (Outcome.THROUGH, "deck-s1", 180)
    assert run.over
    assert done(run, Act.END) == (run, ())


def test_a_slip_that_is_told_after_the_end_takes_back_that_it_was_through() -> None:
    run, end = only(done(RUN, Act.END, later=180, name="e"))
    run, (slip, back, told) = done(run, Act.SLIP, later=240, broke_at=Fraction(20))
    assert isinstance(back, Retraction)
    assert isinstance(told, Attempt)
    assert (back.attempt, told.amends, told.outcome) == ("e", "e", Outcome.STOPPED)
    assert (told.at, told.seconds) == (end.at, 180)
    assert (run.slips, run.end) == ((slip,), told)
    assert run.over
    run, records = done(run, Act.SLIP, later=250, name="b", broke_at=Fraction(30))
    assert (len(run.slips), len(records)) == (2, 1)


def test_a_slip_names_the_phrase_that_broke_and_where_it_went_on() -> None:
    run, slip = only(done(RUN, Act.SLIP, broke_at=Fraction(20), start="deck-s4"))
    assert (slip.start, slip.elsewhere, slip.outcome) == ("deck-s2", "deck-s4", Outcome.BROKE_OFF)
    _, end = only(done(run, Act.END))
    assert end.outcome is Outcome.STOPPED


def test_a_hesitation_is_no_slip_and_breaks_no_phrase() -> None:
    run, waited = only(done(RUN, Act.HESITATE, broke_at=Fraction(20)))
    assert (waited.start, waited.outcome) == ("deck-s2", Outcome.STOPPED)
    assert waited.broke_at == 20
    (one,) = weigh([waited], {"deck": DECK})
    assert (one.held("start"), one.held("join"), one.cold) == (True, True, False)
    ended, end = only(done(run, Act.END))
    assert end.outcome is Outcome.THROUGH
    assert ended.hesitations == (waited,)
    back, _ = done(run, Act.UNDO)
    assert back.hesitations == ()


def test_a_slip_may_be_told_afterwards() -> None:
    """One key at the slip, its place after the end; the log keeps both, one of them stands."""
    run, first = only(done(RUN, Act.SLIP, later=10, name="a"))
    run, _ = only(done(run, Act.SLIP, later=30, name="b"))
    run, _ = only(done(run, Act.END, later=60, name="e"))
    run, (back, told) = done(
        run, Act.TELL, later=90, name="c", which=0, broke_at=Fraction(20), start="deck-s3"
    )
    assert isinstance(back, Retraction)
    assert isinstance(told, Attempt)
    assert (back.attempt, told.amends, told.at) == ("a", "a", first.at)
    assert [runs.is_told(slip) for slip in run.slips] == [True, False]
    assert run.over
    assert done(run, Act.TELL, which=2) == (run, ())


def test_a_run_that_is_given_up_says_nothing_of_the_rest() -> None:
    run, records = done(RUN, Act.STOP)
    assert run.over
    assert records == ()
    again, records = done(run, Act.UNDO)
    assert (again, records) == (RUN, ())  # it goes on
    run, _ = only(done(RUN, Act.SLIP))
    run, _ = done(run, Act.STOP)
    assert run.end is None


@pytest.mark.parametrize(
    ("broke_at", "resumed", "phrase"),
    [(None, "deck-s3", "deck-s2"), (None, "", "deck-s1"), (Fraction(0), "", "deck-s1")],
)
def test_what_is_not_said_is_inferred(broke_at: Fraction | None, resumed: str, phrase: str) -> None:
    assert runs.phrase_of(DECK, broke_at, resumed) == phrase


ACTS = st.lists(st.sampled_from(list(Act)), max_size=20)


@given(ACTS)
def test_the_run_shows_what_stands_in_the_log(acts: list[Act]) -> None:
    run, log = RUN, list[Attempt | Retraction]()
    for count, act in enumerate(acts):
        before = run
        run, made = done(run, act, later=count, name=f"{count}", start="deck-s3")
        if not before.allows(act):
            assert (run, made) == (before, ())
        else:
            assert run.state is TABLES[Run][before.state, act].to
        log += made
    attempts = tuple(one for one in log if isinstance(one, Attempt))
    stands = standing(attempts, tuple(one for one in log if isinstance(one, Retraction)))
    shown = (*run.slips, *run.hesitations, run.end)
    assert {one.id for one in stands} == {one.id for one in shown if one}


def test_the_kind_is_the_one_that_the_memory_knows() -> None:
    assert runs.RUN == IN_ORDER


def test_where_it_went_on_is_no_confusion() -> None:
    _, slip = only(done(RUN, Act.SLIP, broke_at=Fraction(20), start="deck-s4"))
    (one,) = weigh([slip], {"deck": DECK})
    assert one.confused == ""
    assert not one.cold
    assert (one.held("start"), one.held("join")) == (True, False)


def test_a_slip_of_which_nothing_is_told_is_evidence_of_no_start() -> None:
    _, slip = only(done(RUN, Act.SLIP))
    tries = weigh([slip], {"deck": DECK})
    assert (tries[0].held("start"), tries[0].held("join")) == (None, None)
    beliefs = believe(tries)
    assert all(beliefs.trace(start.id) is None for start in DECK.starts)


def test_the_seconds_of_a_whole_piece_are_not_those_of_a_try() -> None:
    _, end = only(done(RUN, Act.END, later=180))
    assert believe(weigh([end], {"deck": DECK})).spent == {}


def test_every_state_is_reached_and_has_a_way_out() -> None:
    assert {row.to for row in TABLES[Run].values()} == set(RunState)
    assert {state for state, _ in TABLES[Run]} == set(RunState)
