"""Rehearsing slips: what is called, what is recorded, and what that is worth."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.pieces import desk_at, piece_of, tune
from trainer.errors import TrainerError
from trainer.memory.evidence import SLIP as IN_ORDER
from trainer.memory.evidence import weigh
from trainer.practice import slip as slips
from trainer.practice.exercise import TABLES, Act, Action, Record, step
from trainer.practice.slip import Rehearsal, SlipCall, SlipState
from trainer.record.attempt import Attempt, Outcome, Retraction, standing

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
DECK = piece_of(tune(16), [0, 12, 24, 36]).deck
CALLS = (
    SlipCall("deck-s2", 2, "b. 5", ("deck-s3",), 8.0),
    SlipCall("deck-s1", 1, "b. 1", ("deck-s2",), 6.0),
)
FIRST = Rehearsal("p", "m", "deck", "r", CALLS, NOON)


def done(rehearsal: Rehearsal, *acts: Act, start: str = "") -> slips.Step:
    """The acts one after the other, a second each; the records of the last."""
    records: tuple[Record, ...] = ()
    for count, act in enumerate(acts):
        at = NOON + timedelta(seconds=count)
        rehearsal, records = step(rehearsal, Action(act, at, (f"{act}{count}",), start))
    return rehearsal, records


REACHED = {
    (Act.NEXT,): (Outcome.THROUGH, "deck-s3"),
    (Act.OTHER, Act.CHOOSE): (Outcome.STOPPED, "deck-s4"),
    (Act.NONE,): (Outcome.BROKE_OFF, ""),
}


@pytest.mark.parametrize("acts", REACHED, ids=lambda acts: acts[-1].value)
def test_one_key_records_where_it_went_on(acts: tuple[Act, ...]) -> None:
    after, (made,) = done(FIRST, Act.BEGIN, Act.INTERRUPT, *acts, start="deck-s4")
    assert isinstance(made, Attempt)
    assert (made.outcome, made.elsewhere) == REACHED[acts]
    assert (made.start, made.drill) == ("deck-s2", "slip")
    assert made.seconds == 1 + len(acts)
    assert after.call == CALLS[1]


def test_after_the_last_call_it_is_over_and_an_undo_calls_it_again() -> None:
    acts = (Act.BEGIN, Act.INTERRUPT, Act.NEXT) * 2
    over, _ = done(FIRST, *acts)
    assert over.over
    back, (record,) = done(over, Act.UNDO)
    assert isinstance(record, Retraction)
    assert record.attempt == over.tries[-1].id
    assert back.call == CALLS[1]
    assert back.state is SlipState.CALLING


@given(st.lists(st.sampled_from(list(Act)), max_size=30))
def test_the_rehearsal_shows_what_stands_in_the_log(acts: list[Act]) -> None:
    now, log = FIRST, list[Record]()
    for count, act in enumerate(acts):
        action = Action(act, NOON + timedelta(seconds=count), (f"{count}",), "deck-s4")
        before = now
        now, made = step(now, action)
        log += made
        if not before.allows(act):
            assert (now, made) == (before, ())
        assert now.over or now.call is not None
    attempts = tuple(one for one in log if isinstance(one, Attempt))
    stands = standing(attempts, tuple(one for one in log if isinstance(one, Retraction)))
    assert stands == now.tries


@given(st.integers(1, 100), st.none() | st.floats(30, 240), st.integers())
def test_an_interruption_falls_within_the_phrase(
    quarters: int, tempo: float | None, seed: int
) -> None:
    seconds = slips.wait(Fraction(0), Fraction(quarters), tempo, Random(seed)) - slips.READY
    whole = max(slips.SHORTEST, quarters * 60 / (tempo or slips.USUAL_TEMPO))
    assert seconds + 1e-9 >= slips.SHORTEST
    assert seconds <= whole + 1e-9


def test_what_a_rehearsal_is_worth() -> None:
    """Where it went on is no confusion, and the join was not heard: it was interrupted."""
    acts = (Act.BEGIN, Act.INTERRUPT, Act.OTHER, Act.CHOOSE)
    _, (made,) = done(FIRST, *acts, start="deck-s4")
    assert isinstance(made, Attempt)
    assert made.drill == IN_ORDER
    (one,) = weigh([made], {"deck": DECK})
    assert one.confused == ""
    assert (one.held("start"), one.held("join")) == (True, None)


def test_the_starts_are_called_in_turn_and_none_straight_after_what_leads_to_it(
    tmp_path: Path,
) -> None:
    desk = desk_at(tmp_path / "a.db")
    desk.store.pieces.add(piece_of(tune(32), range(0, 96, 12)), "test")
    view = desk.views.of(desk.students.find())
    made = desk.exercises.rehearsal(view, "deck", times=7)
    order = [call.start for call in made.calls]
    assert sorted(order) == [f"deck-s{n}" for n in range(1, 8)]  # the last one leads nowhere
    for before, after in zip(made.calls, made.calls[1:], strict=False):
        assert after.start not in before.following
    desk.pieces.set_open(desk.students.find(), view.decks["deck"], [2], opened=True)
    opened = desk.exercises.rehearsal(desk.views.of(desk.students.find()), "deck", times=3)
    assert {call.start for call in opened.calls} == {"deck-s2"}


def test_a_piece_of_one_start_has_no_way_on(tmp_path: Path) -> None:
    desk = desk_at(tmp_path / "a.db")
    desk.store.pieces.add(piece_of(tune(8), [0]), "test")
    with pytest.raises(TrainerError, match="none to go on to"):
        desk.exercises.rehearsal(desk.views.of(desk.students.find()), "deck")


def test_every_state_is_reached() -> None:
    assert {row.to for row in TABLES[Rehearsal].values()} == set(SlipState)
