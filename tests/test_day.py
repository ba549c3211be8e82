"""The day has an end: its plan is made once, what is done counts wherever it was done, and then
it says so."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.pieces import NOON, Clock, desk_at, piece_of, tune
from tests.scenes.machines import NOON as FOUR
from tests.scenes.machines import Machine
from trainer.desk import Desk
from trainer.document.lines import as_lines
from trainer.memory.evidence import made
from trainer.practice.drills import to_ask_again
from trainer.practice.exercise import Act
from trainer.practice.session import Session, State
from trainer.record.attempt import Attempt, Outcome, practice_day
from trainer.record.layer import Own, worked_on
from trainer.record.people import DaysOff
from trainer.reports import drilled, today
from trainer.reports.view import ASKED_AGAIN, View

PLAYED = (Act.THROUGH, Act.STOPPED, Act.BROKE_OFF, Act.LOOKED, Act.NOTHING)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def desk(tmp_path: Path, clock: Clock) -> Desk:
    return desk_of(tmp_path / "a.db", clock)


def desk_of(path: Path, clock: Clock, **student: object) -> Desk:
    """A desk with one piece of eight starts, all open to its one student since yesterday."""
    made_ = desk_at(path, Clock(clock() - timedelta(days=1)))
    made_.store.pieces.add(piece_of(tune(32), range(0, 96, 12)), "test")
    who = made_.students.add("K.", **student)
    made_.pieces.set_open(
        who, made_.store.pieces.deck(made_.pieces.find().id), range(1, 9), opened=True
    )
    return Desk(made_.store, clock, made_.new_id, made_.rng)


def view_of(desk: Desk) -> View:
    return desk.views.of(desk.students.find())


def play(desk: Desk, clock: Clock, *acts: Act, more: bool = False) -> Session:
    """A drill from its first call on, through these acts."""
    session = desk.exercises.drill(view_of(desk), more=more)
    for act in acts:
        clock.later(seconds=20)
        session = desk.exercises.act(session, act)
    return session


def left(desk: Desk) -> list[str]:
    return [slot.start for slot in view_of(desk).left.slots]


def page(desk: Desk) -> str:
    return " ".join(as_lines(today.report(view_of(desk))))


def test_the_plan_of_a_day_is_one_plan_whatever_is_played(desk: Desk, clock: Clock) -> None:
    plan = view_of(desk).plan
    assert len(plan.slots) == 8
    play(desk, clock, Act.NOTHING, Act.THROUGH, Act.LOOKED)
    clock.later(hours=5)
    assert view_of(desk).plan == plan


def test_what_is_left_after_leaving_is_what_is_left(desk: Desk, clock: Clock) -> None:
    begun = play(desk, clock, *[Act.THROUGH] * 3, Act.STOP)
    tried = {one.start for one in begun.tries}
    assert len(tried) == 3
    assert set(left(desk)) == {slot.start for slot in view_of(desk).plan.slots} - tried
    assert "5 starts left" in page(desk)
    again = desk.exercises.drill(view_of(desk))
    assert {call.spot.id for call in again.calls} == set(left(desk))


def test_a_miss_that_was_to_be_asked_again_is_kept(desk: Desk, clock: Clock) -> None:
    begun = play(desk, clock, Act.NOTHING, Act.THROUGH, Act.STOP)
    missed = begun.tries[0].start
    assert left(desk)[-1] == missed
    assert view_of(desk).left.slots[-1].why == ASKED_AGAIN
    second = play(desk, clock, *[Act.THROUGH] * 7)
    assert second.state is State.OVER
    assert missed in {one.start for one in second.tries}
    assert left(desk) == []


def test_the_day_ends_and_says_what_comes_tomorrow(desk: Desk, clock: Clock) -> None:
    play(desk, clock, *[Act.THROUGH] * 8)
    view = view_of(desk)
    assert left(desk) == []
    told = page(desk)
    assert "done for today" in told
    assert "8 attempts today." in told
    assert "trainer drill --more" in told
    assert today.tomorrow_words(view) in told
    tomorrow = view.tomorrow
    clock.later(days=1)
    assert view_of(desk).plan == tomorrow  # and so it is


def test_more_is_there_for_whoever_wants_it(desk: Desk, clock: Clock) -> None:
    play(desk, clock, *[Act.THROUGH] * 8)
    session = play(desk, clock, more=True)
    assert session.calls
    assert (session.title, "practice" in session.not_cold) == ("Practice", True)
    play(desk, clock, *[Act.THROUGH] * 3, more=True)
    assert left(desk) == []
    assert "11 attempts today." in page(desk)


@settings(max_examples=10, deadline=None)
@given(
    sittings=st.lists(
        st.lists(st.sampled_from(PLAYED), min_size=1, max_size=6), min_size=1, max_size=12
    )
)
def test_every_day_comes_to_its_end(
    sittings: list[list[Act]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """However the playing goes and however often it is left: what is left never grows but by what
    was missed, and no start of the plan is called more than three times."""
    clock = Clock()
    desk = desk_of(tmp_path_factory.mktemp("day") / "a.db", clock)
    plan = {slot.start for slot in view_of(desk).plan.slots}
    fresh = plan
    for acts in [*sittings, *[[Act.NOTHING] * 30] * 3]:
        before = fresh
        play(desk, clock, *acts, Act.STOP)
        view = view_of(desk)
        fresh = {slot.start for slot in view.left.slots if slot.why != ASKED_AGAIN}
        assert fresh <= before
    counts = [sum(one.start == start for one in view.today) for start in plan]
    assert max(counts) <= 3
    assert left(desk) == []


def test_what_was_tried_on_another_machine_counts(tmp_path: Path) -> None:
    """The same records, and the plan of a day is the same; what one machine did is done."""
    home, away = Machine(tmp_path / "home.db"), Machine(tmp_path / "away.db", zone=1.0)
    home.do("student", "add", "K.")
    desk = desk_at(home.path, Clock(FOUR - timedelta(days=1)))
    desk.store.pieces.add(piece_of(tune(32), range(0, 96, 12)), "test")
    desk.pieces.set_open(
        desk.students.find(),
        desk.store.pieces.deck(desk.pieces.find().id),
        range(1, 9),
        opened=True,
    )
    desk.store.close()
    home.do("deck", "out", 1, str(tmp_path / "d.json"))
    home.do("records", "out", str(tmp_path / "r.json"))
    away.do("deck", "in", str(tmp_path / "d.json"))
    away.do("records", "in", str(tmp_path / "r.json"))
    plans = [{row["id"] for row in one.rows("today")} for one in (home, away)]
    assert plans[0] == plans[1] != set()
    away.do("drill", "--plain", typed="t\nt\nn\nq\n", at=FOUR + timedelta(minutes=5))
    away.do("records", "out", str(tmp_path / "back.json"))
    home.do("records", "in", str(tmp_path / "back.json"))
    later = FOUR + timedelta(hours=1)
    assert home.rows("today", at=later) == away.rows("today", at=later)
    assert len(home.rows("today", at=later)) == len(plans[0]) - 2
    assert "3 attempts so far today." in home.do("today", at=later)


# Days on which nothing is called


def test_an_empty_database_says_one_true_sentence(tmp_path: Path) -> None:
    told = Machine(tmp_path / "a.db").do("today")
    assert told == "Today for me: no piece yet Add a score: `trainer add FILE`."


def test_without_an_open_start_it_says_so(tmp_path: Path) -> None:
    desk = desk_at(tmp_path / "a.db", Clock(FOUR))
    desk.store.pieces.add(piece_of(tune(32), range(0, 96, 12)), "test")
    desk.store.close()
    assert "no start is open yet" in Machine(tmp_path / "a.db").do("today")


def test_a_day_off_says_so_and_what_comes_tomorrow(tmp_path: Path, clock: Clock) -> None:
    day = practice_day(NOON)
    desk = desk_of(tmp_path / "a.db", clock, off=(DaysOff(day, day),))
    told = page(desk)
    assert "a day off" in told
    assert f"Tomorrow: 8 starts, {today.about(view_of(desk).tomorrow.slots)}." in told
    assert "minute" not in told.partition("Tomorrow")[0]


@pytest.mark.parametrize("days", [1, 6, 8, 10, 40])
def test_after_a_time_away_the_first_day_is_smaller_and_kind(
    tmp_path: Path, clock: Clock, days: int
) -> None:
    desk = desk_of(tmp_path / "a.db", clock, minutes=20.0)
    play(desk, clock, *[Act.THROUGH] * 8)
    clock.later(days=days)
    view = view_of(desk)
    usual = 20.0 * 60
    told = page(desk)
    if days <= 7:
        assert view.away == 0
        assert "away" not in told
    else:
        assert view.away == days - 1
        assert f"You were away for {days - 1} days." in told
        assert 0 < view.plan.seconds <= usual / 2
        plan = view.plan
        play(desk, clock, Act.THROUGH)
        assert view_of(desk).plan == plan  # all day long


# Cold is honest


def test_a_drill_after_a_run_through_says_that_it_is_practice(desk: Desk, clock: Clock) -> None:
    view = view_of(desk)
    run = desk.exercises.run(view, desk.pieces.find().id)
    clock.later(minutes=3)
    desk.exercises.act(run, Act.END)
    assert view_of(desk).made_today == 1
    session = play(desk, clock, *[Act.THROUGH] * 2, Act.STOP)
    assert session.title == "Practice"
    assert session.not_cold.startswith("These starts were played today already.")
    told = drilled.report(view_of(desk), session.tries).title
    assert told == "2 starts practised; no attempt counts as cold"


def test_a_run_through_by_accident_takes_nothing_from_the_day(desk: Desk, clock: Clock) -> None:
    run = desk.exercises.run(view_of(desk), desk.pieces.find().id)
    clock.later(seconds=4)
    desk.exercises.act(desk.exercises.act(run, Act.SLIP), Act.STOP)
    session = play(desk, clock, *[Act.THROUGH] * 8)
    assert (session.title, session.not_cold) == ("Cold starts", "")
    view = view_of(desk)
    assert sum(one.cold for one in view.tries) == 8
    assert drilled.report(view, session.tries).title.startswith("8 of 8 starts went through")


def test_what_was_reached_is_told_before_the_drill_and_not_counted(
    desk: Desk, clock: Clock
) -> None:
    run = desk.exercises.run(view_of(desk), desk.pieces.find().id)
    clock.later(seconds=40)
    piece = view_of(desk).pieces[desk.pieces.find().id]
    third = piece.deck.starts[2].onset + 4
    desk.exercises.act(desk.exercises.act(run, Act.SLIP, broke_at=third), Act.STOP)
    session = play(desk, clock, *[Act.THROUGH] * 8)
    assert session.title == "Cold starts"
    assert session.not_cold == (
        "3 of 8 starts were played today already: attempts at them do not count as cold."
    )
    told = drilled.report(view_of(desk), session.tries).title
    assert told == "5 of 5 starts went through at the first attempt; 3 starts practised besides"


@settings(max_examples=12, deadline=None)
@given(
    seconds=st.integers(1, 400),
    phrase=st.none() | st.integers(1, 8),
    end=st.booleans(),
    acts=st.lists(st.sampled_from(PLAYED), max_size=10),
    more=st.booleans(),
)
def test_a_drill_never_says_cold_of_what_does_not_count(
    seconds: int, phrase: int | None, end: bool, acts: list[Act], more: bool,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:  # fmt: skip
    """Whatever was played before: the first attempts at the starts that a drill does not warn of
    count as cold, and those it warns of do not."""
    clock = Clock()
    desk = desk_of(tmp_path_factory.mktemp("cold") / "a.db", clock)
    run = desk.exercises.run(view_of(desk), desk.pieces.find().id)
    clock.later(seconds=seconds)
    at = (
        None
        if phrase is None
        else view_of(desk).decks[desk.pieces.find().id].starts[phrase - 1].onset
    )
    run = desk.exercises.act(run, Act.SLIP, broke_at=at)
    desk.exercises.act(run, Act.END if end else Act.STOP)
    play(desk, clock, *acts, Act.STOP)
    clock.later(minutes=15)
    session = desk.exercises.drill(view_of(desk), more=more)
    warm = session.warm
    while session.call is not None:
        clock.later(minutes=15)
        rests = session.state is State.RESTING
        session = desk.exercises.act(session, Act.RESUME if rests else Act.THROUGH)
    tries = {one.attempt.id: one for one in view_of(desk).tries}
    for attempt in session.tries:
        assert tries[attempt.id].cold == (attempt.start not in warm)


def test_a_run_through_is_one_attempt_whatever_slips_it_has(desk: Desk, clock: Clock) -> None:
    for slips in (0, 1, 3):
        run = desk.exercises.run(view_of(desk), desk.pieces.find().id)
        for _ in range(slips):
            clock.later(seconds=20)
            run = desk.exercises.act(run, Act.SLIP)
        clock.later(seconds=50)
        desk.exercises.act(run, Act.END)
        clock.later(minutes=2)
    assert view_of(desk).made_today == 3


def test_slips_of_a_time_when_they_had_no_seconds_are_counted_too() -> None:
    def record(minute: int, outcome: Outcome, seconds: float | None = None) -> Attempt:
        at = NOON + timedelta(minutes=minute)
        return Attempt(
            f"a{minute}", "p", "d", "r", "s1", "m", at, practice_day(at), outcome,
            drill="run-through", seconds=seconds,
        )  # fmt: skip

    first = [record(1, Outcome.BROKE_OFF), record(2, Outcome.BROKE_OFF)]
    assert made(first) == 1
    assert made([*first, record(3, Outcome.STOPPED, 180)]) <= 2


def test_only_what_a_drill_would_ask_again_is_to_be_asked_again() -> None:
    def tried(n: int, start: str, outcome: Outcome, drill: str = "cold") -> Attempt:
        at = NOON + timedelta(minutes=n)
        return Attempt(
            f"a{n}", "p", "d", "r", start, "m", at, practice_day(at), outcome, drill=drill
        )

    nothing, through = Outcome.NOTHING, Outcome.THROUGH
    log = [tried(1, "a", nothing), tried(2, "b", nothing), tried(3, "a", through)]
    assert to_ask_again(log) == ("b",)
    log += [tried(4, "b", nothing), tried(5, "b", nothing)]
    assert to_ask_again(log) == ()
    assert (
        to_ask_again([tried(1, "a", nothing, "away"), tried(2, "b", nothing, "run-through")]) == ()
    )


# What was worked on


def test_that_a_start_was_worked_on_travels_and_is_never_rewritten(tmp_path: Path) -> None:
    home, away = Machine(tmp_path / "home.db", zone=0.0), Machine(tmp_path / "away.db", zone=0.0)
    desk = desk_of(home.path, Clock(FOUR))
    desk.store.close()
    told = home.do("own", 1, 3, "--worked-on", at=FOUR)
    assert told == "Study, start 3: worked on today. It is called again as usual."
    home.do("own", 1, 3, "--worked-on", at=FOUR + timedelta(days=2))
    home.do("deck", "out", 1, tmp_path / "d.json")
    home.do("records", "out", tmp_path / "r.json")
    away.do("deck", "in", tmp_path / "d.json")
    away.do("records", "in", tmp_path / "r.json")
    logs = []
    for machine in (home, away):
        desk = desk_at(machine.path, Clock(FOUR))
        edits = desk.store.log.layer_edits(desk.students.find().id)
        logs.append(edits)
        assert [edit.what for edit in edits] == ["worked on"] * 2
        assert worked_on(edits) == {edits[0].start: edits[-1].at}
        assert desk.views.of(desk.students.find()).own("deck", edits[0].start) == Own(
            edits[0].start
        )
        desk.store.close()
    assert logs[0] == logs[1]
    assert '"version": 4' in (tmp_path / "r.json").read_text()


@pytest.mark.parametrize("gap", [1, 2, 3, 5, 8, 13])
def test_what_no_longer_holds_is_called_where_there_is_time(
    desk: Desk, clock: Clock, gap: int
) -> None:
    """Without a recital too: no start that a page calls fading or weak is passed over for good."""
    for days in (6, gap):
        play(desk, clock, *[Act.THROUGH] * 8)
        clock.later(days=days)
    view = view_of(desk)
    waits = {held.start for held in view.held_back}
    called = {slot.start for slot in view.plan.slots}
    for start in view.open - waits:
        assert view.verdict(start).band == "holds" or start in called, start
