"""The drill's state machine: what is recorded, and that nothing recorded is lost."""

from datetime import UTC, datetime, timedelta
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from trainer.practice.exercise import TABLES, Act, Action, Record, step
from trainer.practice.order import Spot
from trainer.practice.session import Call, Session, State, begin, picture
from trainer.record.attempt import LONGEST, PAGE, Attempt, Outcome, Retraction, Witness, standing

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

    def do(
        self,
        act: Act,
        *,
        seconds: float = 30,
        start: str = "",
        heard: Witness | None = None,
        broke_at: Fraction | None = None,
        latency: float = 2.5,
    ) -> Session:
        """`heard` brings a latency, a tempo and hands with it."""
        self.now += timedelta(seconds=seconds)
        self.made += 2
        ids = (f"id{self.made}", f"id{self.made + 1}")
        action = Action(act, self.now, ids, start, broke_at, heard)
        if heard:
            action = replace(action, latency=latency, tempo=66.0, hands="right")
        self.session, records = step(self.session, action)
        self.log.extend(records)
        return self.session

    def hears(self, outcome: Outcome, **fields: Any) -> Session:
        return self.do(Act.HEARD, heard=Witness(outcome, **fields))

    @property
    def standing(self) -> tuple[Attempt, ...]:
        attempts = tuple(r for r in self.log if isinstance(r, Attempt))
        retractions = tuple(r for r in self.log if isinstance(r, Retraction))
        return standing(attempts, retractions)


def test_a_call_that_stood_for_days_is_no_try_of_days() -> None:
    player = Player()
    player.do(Act.THROUGH, seconds=3 * LONGEST)
    player.do(Act.RESUME)
    player.do(Act.HEARD, seconds=3 * LONGEST, heard=Witness(Outcome.THROUGH), latency=2 * LONGEST)
    assert [(one.seconds, one.latency) for one in player.standing] == [
        (LONGEST, None),
        (LONGEST, LONGEST),
    ]


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


def test_a_wrong_key_put_right_at_once_is_the_same_try() -> None:
    """With undo as with amend: it was made when it was made, and its page was not yet shown."""
    for acts in ([Act.UNDO], [Act.AMEND], [Act.UNDO, Act.PAUSE, Act.RESUME]):
        player = Player()
        player.do(Act.HINT)
        made = player.do(Act.THROUGH).last
        assert made is not None
        for act in acts:
            player.do(act)
        player.do(Act.NOTHING)
        player.do(Act.THROUGH)
        first, second = player.standing
        assert first == replace(made, id=first.id, outcome=Outcome.NOTHING, amends=made.id)
        assert second.hints == ()


def test_a_wrong_key_is_put_right_twice_over() -> None:
    player = Player()
    player.do(Act.THROUGH)
    player.do(Act.UNDO)
    player.do(Act.STOPPED)
    player.do(Act.UNDO)
    player.do(Act.LOOKED)
    assert [(one.outcome, one.hints) for one in player.standing] == [(Outcome.LOOKED, ())]


def test_elsewhere_puts_right_too() -> None:
    player = Player()
    player.do(Act.NOTHING)
    player.do(Act.UNDO)
    player.do(Act.ELSEWHERE)
    player.do(Act.CHOOSE, start="s3")
    assert [(one.elsewhere, one.hints) for one in player.standing] == [("s3", ())]


@pytest.mark.parametrize("count", [2, 3])
def test_a_try_whose_next_call_was_answered_is_made_anew_with_its_page_seen(count: int) -> None:
    player = Player()
    player.do(Act.HINT)
    for _ in range(count):
        player.do(Act.THROUGH)
    for _ in range(count):
        player.do(Act.UNDO)
    for _ in range(count):
        player.do(Act.STOPPED)
    hints = [one.hints for one in player.standing]
    assert hints == [(*HINTS[:1], PAGE), *[(PAGE,)] * (count - 1)]


def test_what_is_played_anew_after_an_undo_is_another_try_with_the_page_seen() -> None:
    player = Player()
    player.do(Act.THROUGH)
    player.do(Act.UNDO)
    player.hears(Outcome.THROUGH)
    assert player.standing[0].hints == (PAGE,)
    player = Player()
    player.do(Act.THROUGH)
    player.do(Act.UNDO)
    player.do(Act.HINT)
    player.do(Act.THROUGH)
    assert player.standing[0].hints == (*HINTS[:1], PAGE)


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
    assert shown.count(">") == len(TABLES[Session])


witnesses = st.builds(
    Witness, st.sampled_from(list(Outcome)), st.sampled_from(["", "s2"]), wrong=st.integers(0, 9)
)


@given(
    st.lists(
        st.one_of(
            st.tuples(st.sampled_from(list(Act)), st.none() | witnesses),
            st.tuples(st.just(Act.HEARD), witnesses),
            st.tuples(st.sampled_from([Act.RESUME, Act.AGAIN, Act.AMEND]), st.none()),
        ),
        max_size=60,
    ),
    st.integers(0, 6),
)
def test_any_acts_keep_log_and_session_in_step(
    acts: list[tuple[Act, Witness | None]], count: int
) -> None:
    """What the session shows as standing is exactly what a replay of the log gives, and what was
    heard of a try is never lost or lent to another."""
    player = Player(count)
    for act, heard in acts:
        before, was = len(player.log), player.session
        session = player.do(act, start="s2" if act is Act.CHOOSE else "", heard=heard)
        assert len(player.log) >= before
        if session.state is State.TOLD and was.state not in (State.TOLD, State.CHOOSING_TOLD):
            assert (act, was.state) == (Act.HEARD, State.CALLING)
            assert heard is not None
    attempts = {r.id: r for r in player.log if isinstance(r, Attempt)}
    for one in attempts.values():
        assert one.judge == "self" or one.heard is not None
        if one.judge == "heard" and one.heard:
            assert one.outcome is one.heard.outcome
        if one.amends:
            assert one.judge == "self"
            assert attempts[one.amends].heard == one.heard
            assert attempts[one.amends].latency == one.latency
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


def test_a_heard_try_is_recorded_at_once_and_told() -> None:
    player = Player()
    heard = Witness(Outcome.BROKE_OFF, broke_at=Fraction(7, 2), wrong=1, notes=20, sure=0.9)
    session = player.do(Act.HEARD, heard=heard)
    assert session.state is State.TOLD
    (one,) = player.standing
    assert (one.outcome, one.broke_at, one.heard) == (heard.outcome, heard.broke_at, heard)
    assert (one.judge, one.latency, one.tempo, one.hands) == ("heard", 2.5, 66.0, "right")
    assert one.seconds == 30


def test_time_counts_from_the_next_call() -> None:
    """However long the player looks at what was heard."""
    player = Player()
    player.hears(Outcome.THROUGH)
    session = player.do(Act.RESUME, seconds=3600)
    assert session.state is State.CALLING
    assert session.call is not None
    assert session.call.number == 2
    player.do(Act.THROUGH, seconds=12)
    assert [one.seconds for one in player.standing] == [30, 12]
    assert [one.judge for one in player.standing] == ["heard", "self"]
    assert player.standing[1].heard is None


def test_nothing_heard_records_nothing() -> None:
    player = Player()
    before = player.session
    assert player.do(Act.HEARD) is before
    assert player.log == []


def test_the_player_overrules_what_was_heard() -> None:
    player = Player()
    heard = Witness(Outcome.STOPPED, wrong=3, notes=20)
    player.do(Act.HEARD, heard=heard)
    session = player.do(Act.THROUGH, seconds=40)
    assert (session.state, session.position) == (State.TOLD, 1)
    (one,) = player.standing
    assert (one.outcome, one.judge, one.amends) == (Outcome.THROUGH, "self", "id2")
    assert (one.heard, one.latency, one.tempo, one.hands) == (heard, 2.5, 66.0, "right")
    assert one.at == NOON + timedelta(seconds=30)
    assert len(player.log) == 3  # both are kept, and what took the first back
    session = player.do(Act.RESUME)
    assert (session.state, session.since) == (State.CALLING, player.now)


@pytest.mark.parametrize("broke_at", [None, Fraction(3)])
def test_to_say_the_same_confirms_it(broke_at: Fraction | None) -> None:
    player = Player()
    player.hears(Outcome.BROKE_OFF, broke_at=Fraction(3))
    assert player.do(Act.BROKE_OFF, broke_at=broke_at).state is State.TOLD
    assert len(player.log) == 1
    assert player.standing[0].judge == "heard"


def test_a_place_of_ones_own_counts() -> None:
    player = Player()
    player.hears(Outcome.BROKE_OFF, broke_at=Fraction(3))
    player.do(Act.BROKE_OFF, broke_at=Fraction(5))
    assert player.standing[0].broke_at == 5
    assert player.standing[0].heard == Witness(Outcome.BROKE_OFF, broke_at=Fraction(3))


@pytest.mark.parametrize(("start", "judge"), [("s3", "heard"), ("s4", "self"), ("", "self")])
def test_elsewhere_over_what_was_heard(start: str, judge: str) -> None:
    player = Player()
    player.hears(Outcome.ELSEWHERE, elsewhere="s3")
    assert player.do(Act.ELSEWHERE).state is State.CHOOSING_TOLD
    assert player.do(Act.CANCEL).state is State.TOLD
    player.do(Act.ELSEWHERE)
    assert player.do(Act.CHOOSE, start=start).state is State.TOLD
    (one,) = player.standing
    assert (one.outcome, one.elsewhere, one.judge) == (Outcome.ELSEWHERE, start, judge)
    assert one.heard is not None
    assert one.heard.elsewhere == "s3"


def test_amending_later_keeps_what_was_heard() -> None:
    player = Player()
    player.hears(Outcome.THROUGH)
    player.do(Act.RESUME)
    player.do(Act.AMEND)
    player.do(Act.LOOKED)
    (one,) = player.standing
    assert (one.outcome, one.judge) == (Outcome.LOOKED, "self")
    assert one.heard == Witness(Outcome.THROUGH)


@pytest.mark.parametrize("after", [[], [Act.RESUME], [Act.AGAIN], [Act.STOP]])
def test_undo_takes_a_heard_try_back(after: list[Act]) -> None:
    player = Player()
    before = player.session.calls
    player.hears(Outcome.NOTHING)
    for act in after:
        player.do(act)
    session = player.do(Act.UNDO)
    assert (session.state, session.calls, session.position) == (State.CALLING, before, 0)
    assert player.standing == ()
    assert len(player.log) == 2


def test_again_calls_the_same_start_at_once_and_keeps_the_order() -> None:
    player = Player()
    player.hears(Outcome.THROUGH)
    session = player.do(Act.AGAIN)
    assert session.state is State.CALLING
    assert [call.number for call in session.calls] == [1, 1, 2, 3, 4]
    assert session.position == 1
    player.hears(Outcome.STOPPED)
    session = player.do(Act.RESUME)
    assert session.call is not None
    assert session.call.number == 2
    assert [one.start for one in player.standing] == ["s1", "s1"]


def test_again_outlasts_a_correction_of_the_try_before() -> None:
    player = Player()
    player.hears(Outcome.THROUGH)
    player.do(Act.AGAIN)
    player.do(Act.AMEND)
    session = player.do(Act.STOPPED)
    assert [call.number for call in session.calls] == [1, 1, 2, 3, 4]
    assert session.position == 1
    assert player.do(Act.THROUGH).call == session.calls[2]


def test_again_after_the_last_call_goes_on() -> None:
    player = Player(1)
    assert player.hears(Outcome.THROUGH).state is State.TOLD
    assert player.do(Act.AGAIN).state is State.CALLING
    player.hears(Outcome.THROUGH)
    assert player.do(Act.RESUME).state is State.OVER


def test_a_heard_miss_comes_again_and_overruling_it_takes_that_back() -> None:
    player = Player(6)
    assert len(player.hears(Outcome.NOTHING).calls) == 7
    assert len(player.do(Act.THROUGH).calls) == 6


def test_a_key_decides_where_what_was_heard_is_unsure() -> None:
    player = Player()
    unsure = Witness(Outcome.STOPPED, sure=0.3)
    assert player.do(Act.THROUGH, heard=unsure).state is State.CALLING
    (one,) = player.standing
    assert (one.outcome, one.judge, one.heard, one.latency) == (
        Outcome.THROUGH,
        "self",
        unsure,
        2.5,
    )


def test_a_rest_waits_until_the_player_was_told() -> None:
    player = Player(4, drilled=24 * 60 + 45)
    assert player.hears(Outcome.THROUGH).state is State.TOLD
    assert player.do(Act.RESUME).state is State.RESTING
    assert player.do(Act.RESUME).state is State.CALLING
