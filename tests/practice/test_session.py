"""The drill's state machine: what is recorded, and that nothing recorded is lost."""

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from trainer.practice.order import Spot
from trainer.practice.session import (
    TABLE,
    Act,
    Action,
    Call,
    Record,
    Session,
    State,
    begin,
    picture,
    step,
)
from trainer.record.attempt import Attempt, Outcome, Retraction, standing

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
HINTS = ("key and count", "first hand position")


def calls(count: int) -> tuple[Call, ...]:
    return tuple(
        Call(Spot(f"s{n}"), "deck", "rev", "Piece", n, f"b. {8 * n + 1}", HINTS)
        for n in range(1, count + 1)
    )


class Player:
    """Plays acts into a session, thirty seconds apart, and keeps the log."""

    def __init__(self, count: int = 4, drilled: float = 0.0) -> None:
        self.now = NOON
        self.session: Session = begin(
            "student", "machine", "cold", calls(count), NOON, drilled=drilled
        )
        self.log: list[Record] = []
        self.made = 0

    def do(self, act: Act, *, seconds: float = 30, start: str = "") -> Session:
        self.now += timedelta(seconds=seconds)
        self.made += 2
        ids = (f"id{self.made}", f"id{self.made + 1}")
        self.session, records = step(self.session, Action(act, self.now, ids, start))
        self.log.extend(records)
        return self.session

    @property
    def standing(self) -> tuple[Attempt, ...]:
        attempts = tuple(r for r in self.log if isinstance(r, Attempt))
        retractions = tuple(r for r in self.log if isinstance(r, Retraction))
        return standing(attempts, retractions)


def test_one_act_records_and_calls_the_next() -> None:
    player = Player()
    session = player.do(Act.THROUGH)
    assert session.call is not None
    assert session.call.number == 2
    assert [a.outcome for a in player.standing] == [Outcome.THROUGH]
    assert player.standing[0].seconds == 30
    assert player.standing[0].latency is None


def test_elsewhere_asks_which() -> None:
    player = Player()
    assert player.do(Act.ELSEWHERE).state is State.CHOOSING
    assert player.log == []
    player.do(Act.CHOOSE, start="s3")
    assert (player.standing[0].outcome, player.standing[0].elsewhere) == (Outcome.ELSEWHERE, "s3")


def test_amend_takes_back_and_corrects() -> None:
    player = Player()
    player.do(Act.THROUGH)
    player.do(Act.AMEND)
    session = player.do(Act.STOPPED)
    assert session.state is State.CALLING
    assert session.call is not None
    assert session.call.number == 2
    assert [a.outcome for a in player.standing] == [Outcome.STOPPED]
    assert player.standing[0].amends == "id2"
    assert player.standing[0].at == NOON + timedelta(seconds=30)  # when it was played


def test_undo_calls_the_same_start_again() -> None:
    player = Player()
    player.do(Act.THROUGH)
    session = player.do(Act.UNDO)
    assert session.call is not None
    assert session.call.number == 1
    assert player.standing == ()
    assert len(player.log) == 2  # the log only grows


def test_hints_are_recorded_with_the_try_and_not_with_the_next() -> None:
    player = Player()
    player.do(Act.HINT)
    player.do(Act.HINT)
    player.do(Act.HINT)  # there is no third
    player.do(Act.THROUGH)
    player.do(Act.THROUGH)
    assert [a.hints for a in player.standing] == [HINTS, ()]


def test_a_pause_does_not_count() -> None:
    player = Player()
    player.do(Act.PAUSE, seconds=10)
    player.do(Act.RESUME, seconds=500)
    player.do(Act.PAUSE, seconds=10)
    player.do(Act.RESUME, seconds=500)
    player.do(Act.THROUGH, seconds=5)
    assert player.standing[0].seconds == 25


def test_a_missed_start_comes_again_and_amending_the_miss_takes_that_back() -> None:
    player = Player(6)
    assert len(player.do(Act.NOTHING).calls) == 7
    player.do(Act.AMEND)
    assert len(player.do(Act.THROUGH).calls) == 6


def test_a_start_comes_again_twice_at_most() -> None:
    player = Player(6)
    while player.session.state is State.CALLING:
        player.do(Act.NOTHING)
    assert max(sum(c.number == n for c in player.session.calls) for n in range(1, 7)) <= 3


def test_a_rest_is_offered_after_25_minutes() -> None:
    player = Player(4, drilled=24 * 60 + 45)
    assert player.do(Act.THROUGH).state is State.RESTING
    assert player.do(Act.RESUME).state is State.CALLING
    assert player.do(Act.THROUGH).state is State.CALLING


def test_stopping_keeps_all_and_amending_does_not_reopen() -> None:
    player = Player()
    player.do(Act.THROUGH)
    assert player.do(Act.STOP).state is State.OVER
    player.do(Act.AMEND)
    assert player.do(Act.LOOKED).state is State.OVER
    assert [a.outcome for a in player.standing] == [Outcome.LOOKED]
    assert player.do(Act.UNDO).state is State.CALLING


def test_a_drill_without_calls_is_over() -> None:
    assert Player(0).session.state is State.OVER


def test_the_picture_shows_every_row() -> None:
    shown = picture()
    assert shown.count(">") == len(TABLE)


@given(st.lists(st.sampled_from(list(Act)), max_size=60), st.integers(0, 6))
def test_any_acts_keep_log_and_session_in_step(acts: list[Act], count: int) -> None:
    """What the session shows as standing is exactly what a replay of the log gives."""
    player = Player(count)
    for act in acts:
        before = len(player.log)
        player.do(act, start="s2" if act is Act.CHOOSE else "")
        assert len(player.log) >= before
    shown = sorted(a.id for a in player.session.tries)
    assert shown == sorted(a.id for a in player.standing)
    assert 0 <= player.session.position <= len(player.session.calls)
    assert player.session.position == len(player.session.tries)


def test_the_progress_says_what_is_asked_again() -> None:
    player = Player(8)
    assert player.session.progress == "1 of 8"
    assert player.do(Act.THROUGH).progress == "2 of 8"
    assert player.do(Act.NOTHING).progress == "3 of 9, 1 asked again"
    assert player.do(Act.LOOKED).progress == "4 of 10, 2 asked again"
    assert player.do(Act.UNDO).progress == "3 of 9, 1 asked again"
    player.do(Act.AMEND)
    assert player.do(Act.THROUGH).progress == "3 of 8"
    while player.session.state is State.CALLING:
        player.do(Act.THROUGH)
    assert player.session.progress == "8 of 8"
