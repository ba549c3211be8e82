"""The desk: what is kept and what follows from it, together."""

import dataclasses
from datetime import timedelta
from pathlib import Path
from random import Random

import pytest
from msgspec.structs import replace

from tests.pieces import Clock, desk_at, lines_of, piece_of, tune
from trainer.deck import edit
from trainer.deck.model import Piece, identity
from trainer.desk import Desk
from trainer.document.model import Document
from trainer.errors import TrainerError
from trainer.memory.cache import same, to_remember
from trainer.practice.exercise import Act
from trainer.practice.order import total
from trainer.practice.session import Session, State
from trainer.record.attempt import Outcome, practice_day
from trainer.record.log import Written
from trainer.reports import drilled
from trainer.reports.registry import REPORTS


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def desk(tmp_path: Path, clock: Clock) -> Desk:
    """A desk with one piece of eight starts, all open to its one student."""
    made = desk_at(tmp_path / "a.db", clock)
    made.store.pieces.add(piece_of(tune(32), range(0, 96, 12)), "test")
    entry = made.pieces.find()
    made.pieces.set_open(
        made.students.find(), made.store.pieces.deck(entry.id), range(1, 9), opened=True
    )
    return made


def drill(desk: Desk, clock: Clock, acts: list[Act]) -> Session:
    session = desk.exercises.drill(desk.views.of(desk.students.find()))
    for act in acts:
        clock.later(seconds=30)
        session = desk.exercises.act(session, act)
    return session


def test_a_new_database_has_a_student(desk: Desk) -> None:
    assert desk.students.find().name == "me"
    assert desk.students.find() == desk.students.find("me")


def test_with_several_students_one_must_be_named_or_chosen(desk: Desk) -> None:
    desk.students.find()
    other = desk.students.add("K.", level="child")
    with pytest.raises(TrainerError, match="several students"):
        desk.students.find()
    desk.students.choose(other)
    assert desk.students.find() == other
    with pytest.raises(TrainerError, match="already"):
        desk.students.add("K.")


def test_a_drill_calls_only_open_starts_uncued(desk: Desk, clock: Clock) -> None:
    deck = desk.store.pieces.deck(desk.pieces.find().id)
    desk.pieces.set_open(desk.students.find(), deck, [3], opened=False)
    session = drill(desk, clock, [])
    assert sorted(call.number for call in session.calls) == [1, 2, 4, 5, 6, 7, 8]
    assert total([call.spot for call in session.calls], None) == 0


def test_what_was_done_is_kept_before_the_next_call(desk: Desk, clock: Clock) -> None:
    session = drill(desk, clock, [Act.THROUGH, Act.NOTHING, Act.AMEND, Act.LOOKED, Act.UNDO])
    kept = desk.views.of(desk.students.find()).attempts
    assert [one.outcome for one in kept] == [Outcome.THROUGH]
    assert kept == session.tries
    assert len(desk.store.log.attempts(desk.students.find().id)) == 3  # the log only grows


def test_the_first_call_of_a_second_drill_is_not_cued_by_the_first(
    desk: Desk, clock: Clock
) -> None:
    for _ in range(6):
        first = drill(desk, clock, [Act.THROUGH, Act.STOP])
        second = drill(desk, clock, [])
        assert total([call.spot for call in second.calls], first.calls[0].spot) == 0


def test_a_miss_is_still_a_miss_when_the_third_try_works(desk: Desk, clock: Clock) -> None:
    session = drill(desk, clock, [Act.NOTHING])
    missed = session.tries[0].start
    while session.state is State.CALLING:
        clock.later(seconds=30)
        session = desk.exercises.act(session, Act.THROUGH)
    assert [one.outcome.start_held for one in session.tries if one.start == missed] == [False, True]
    view = desk.views.of(desk.students.find())
    found = view.retention(missed)
    assert (found.tries, found.held) == (1, 0)
    clock.later(days=1)
    tomorrow = desk.views.of(desk.students.find())
    assert missed in [slot.start for slot in tomorrow.plan.slots]


def test_history_follows_the_id_through_edits(desk: Desk, clock: Clock) -> None:
    deck_id = desk.pieces.find().id
    session = drill(desk, clock, [Act.THROUGH, Act.STOP])
    tried = session.tries[0].start
    desk.pieces.edit(deck_id, lambda p: edit.renumber(p, 11), "renumber")
    clock.later(days=1)
    view = desk.views.of(desk.students.find())
    assert view.retention(tried).tries == 1
    found = view.find(deck_id, tried)
    assert found is not None
    assert found[1].number >= 11


def test_the_practice_day_is_that_of_the_place_and_turns_at_three(desk: Desk, clock: Clock) -> None:
    clock.now = clock.now.replace(hour=23, minute=50)
    drill(desk, clock, [Act.THROUGH])
    clock.later(hours=2)
    drill(desk, clock, [Act.THROUGH])
    clock.later(hours=2)
    drill(desk, clock, [Act.THROUGH])
    days = [one.day for one in desk.views.of(desk.students.find()).attempts]
    assert days[0] == days[1]
    assert days[2] - days[1] == timedelta(days=1)


@pytest.mark.parametrize("name", list(REPORTS))
@pytest.mark.parametrize("width", [60, 80, 120])
def test_every_report_fits_its_width_empty_and_full(
    desk: Desk, clock: Clock, tmp_path: Path, name: str, width: int
) -> None:
    drill(desk, clock, [Act.THROUGH, Act.NOTHING, Act.STOPPED])
    empty = desk_at(tmp_path / "b.db", clock)
    for one in (desk, empty):
        lines = lines_of(REPORTS[name](one.views.of(one.students.find()), None), width)
        assert lines[0]
        assert max(len(line) for line in lines) <= width


def test_a_child_sees_no_chances(desk: Desk, clock: Clock) -> None:
    child = desk.students.add("K.", level="child")
    desk.students.choose(child)
    deck = desk.store.pieces.deck(desk.pieces.find().id)
    desk.pieces.set_open(child, deck, [1, 2, 3, 4], opened=True)
    for _ in range(4):
        drill(desk, clock, [Act.THROUGH] * 4)
        clock.later(days=1)
    view = desk.views.of(child)
    text = "\n".join(lines_of(REPORTS["retention"](view, None)))
    assert "%" not in text
    assert " of " not in text


def test_beliefs_are_remembered_only_where_it_saves_time(desk: Desk, clock: Clock) -> None:
    student = desk.students.find()
    drill(desk, clock, [Act.THROUGH] * 3)
    desk.views.remember(desk.views.of(student))
    assert desk.store.caches.beliefs(student.id) is None
    deck = desk.store.pieces.deck(desk.pieces.find().id)
    for _ in range(200):
        clock.later(minutes=1)
        desk.attempts.add(desk.views.of(student), deck, 1 + clock.now.minute % 8, Outcome.THROUGH)
    desk.views.remember(desk.views.of(student))
    assert desk.store.caches.beliefs(student.id) is None  # the day is not over
    clock.later(days=1)
    view = desk.views.of(student)
    desk.views.remember(view)
    assert desk.store.caches.beliefs(student.id) is not None
    again = desk.views.of(student)
    assert same(again.beliefs, view.beliefs)
    assert "attempts" not in again.log.__dict__  # the log was not read for it


def test_a_view_does_not_change(desk: Desk, clock: Clock) -> None:
    """What is played while a view is looked at is not in it, however late it is asked."""
    student = desk.students.find()
    drill(desk, clock, [Act.THROUGH] * 2)
    view, plain = desk.views.of(student), desk.views.of(student)
    known = (plain.attempts, plain.basis, plain.today, plain.beliefs)
    deck = desk.store.pieces.deck(desk.pieces.find().id)
    desk.attempts.add(view, deck, 7, Outcome.NOTHING)
    desk.attempts.take_back(known[0][0])
    assert (view.attempts, view.basis, view.today) == known[:3]
    assert same(view.beliefs, known[3])
    after = desk.views.of(student)
    assert after.basis != view.basis
    assert len(after.attempts) == 2


def test_a_correction_of_today_leaves_kept_beliefs_standing(desk: Desk, clock: Clock) -> None:
    student = desk.students.find()
    drill(desk, clock, [Act.THROUGH] * 4)
    clock.later(days=1)
    view = desk.views.of(student)
    kept = to_remember(view.log, view.decks, view._onward, view._settled, view._before_today)
    assert kept
    desk.views.keep_beliefs(student, kept)
    drill(desk, clock, [Act.THROUGH, Act.AMEND, Act.NOTHING])
    now = desk.views.of(student)
    assert now._onward.kept == kept
    assert same(now.beliefs, dataclasses.replace(now, log=Written(now.attempts), kept=None).beliefs)
    old = now.attempts[0]
    desk.store.log.append(replace(old, id=desk.new_id(), at=clock.now, day=now.day, amends=old.id))
    assert desk.views.of(student)._onward.kept is None


@pytest.mark.parametrize("seed", range(12))
def test_beliefs_gone_on_with_are_the_replayed_ones_whatever_happens(
    desk: Desk, clock: Clock, seed: int
) -> None:
    """Days of tries; some are taken back, some arrive late; beliefs are kept now and then."""
    rng = Random(seed)
    student = desk.students.find()
    deck = desk.store.pieces.deck(desk.pieces.find().id)
    gone_on = 0
    for _ in range(12):
        clock.later(days=rng.choice((0.2, 1, 1, 3)))
        view = desk.views.of(student)
        for _ in range(rng.randrange(12)):
            clock.later(seconds=40)
            desk.attempts.add(view, deck, rng.randint(1, 8), rng.choice(list(Outcome)))
        tries = desk.views.of(student).attempts
        if tries and rng.random() < 0.15:
            desk.attempts.take_back(rng.choice(tries))
        if tries and rng.random() < 0.15:
            late = rng.choice(tries)
            at = late.at - timedelta(hours=1)
            desk.store.log.append(replace(late, id=desk.new_id(), at=at, day=practice_day(at)))
        view = desk.views.of(student)
        plain = dataclasses.replace(view, log=Written(view.attempts), kept=None)  # replays
        assert same(view.beliefs, plain.beliefs)
        assert view.today == plain.today
        assert view.tried_today == plain.tried_today
        gone_on += view._onward.kept is not None
        onward = view._onward
        if kept := to_remember(view.log, view.decks, onward, view._settled, view._before_today):
            desk.views.keep_beliefs(student, kept)
    assert gone_on


def test_a_plan_is_kept_for_today_and_tomorrow(desk: Desk, clock: Clock) -> None:
    student = desk.students.find()
    drill(desk, clock, [Act.THROUGH] * 3)
    view = desk.views.of(student)
    desk.views.remember(view)
    assert desk.views.of(student).plan == view.plan
    clock.later(days=1)
    kept = desk.views.of(student)
    assert kept.plan.day == kept.day != view.plan.day
    assert "beliefs" not in kept.__dict__  # nothing was worked out for it
    assert {slot.start for slot in kept.plan.slots} <= kept.open
    desk.attempts.add(kept, desk.store.pieces.deck(desk.pieces.find().id), 1, Outcome.NOTHING)
    after = desk.views.of(student)
    assert after.plan.day == after.day
    assert "_settled" in after.__dict__  # made anew, and as it was in the morning
    assert after.plan == kept.plan
    clock.later(days=5)
    assert desk.views.of(student).plan.day == practice_day(clock.now)
    desk.store.caches.keep_plans(student.id, "{}")
    assert desk.views.of(student).plan.slots
    desk.views.remember(after)
    desk.store.caches.drop()
    assert desk.store.caches.plans(student.id) is None


def test_a_deck_that_copies_another_is_planned_and_called(desk: Desk, clock: Clock) -> None:
    """Its starts have the ids of the first one's, and so their attempts too."""
    piece = desk.store.pieces.get(desk.pieces.find().id)
    score = replace(piece.score, title="Copy")
    copy = replace(piece.deck, id="copy", title="Copy", score=identity(score))
    desk.store.pieces.add(Piece(copy, score), "test")
    drill(desk, clock, [Act.THROUGH] * 3)
    clock.later(days=3)
    view = desk.views.of(desk.students.find())
    twice = [
        start.id for deck in view.decks.values() for start in deck.starts if start.id in view.open
    ]
    assert len(twice) == 2 * len(set(twice))
    assert view.plan.slots
    for name, report in REPORTS.items():
        assert lines_of(report(view, None)), name


def test_sentences_of_a_list_are_kept_whole(desk: Desk) -> None:
    """Where a sentence does not fit beside its row it stands below it, broken and not cut."""
    why = "the opening of bar 1 returns here, a dynamic is written here, and all voices rest"
    row = ("Study", 1, "upbeat to b. 12", True, why, "", "id")
    full = REPORTS["starts"](desk.views.of(desk.students.find()), None)
    assert isinstance(full, Document)
    assert full.table is not None
    table = replace(full.table, rows=(row, (*row[:4], "short", "", "id")))
    found = replace(full, blocks=(table,))
    for width in (60, 80, 200):
        text = " ".join(" ".join(lines_of(found, width)).split())
        assert why in text
        assert max(map(len, lines_of(found, width))) <= width


def test_before_any_try_the_way_back_is_not_judged(desk: Desk, clock: Clock) -> None:
    before = "\n".join(lines_of(REPORTS["recovery"](desk.views.of(desk.students.find()), None)))
    assert "Not tried yet" in before
    drill(desk, clock, [Act.NOTHING])
    after = "\n".join(lines_of(REPORTS["recovery"](desk.views.of(desk.students.find()), None)))
    assert "no secure start ahead" in after


def test_a_child_is_told_how_many_were_tried_not_how_many_held(desk: Desk, clock: Clock) -> None:
    session = drill(desk, clock, [Act.THROUGH, Act.NOTHING])
    view = desk.views.of(desk.students.find())
    told = drilled.report(view, session.tries).title
    assert told == "1 of 2 starts went through at the first attempt"
    child = dataclasses.replace(view, student=replace(view.student, level="child"))
    assert drilled.report(child, session.tries).title == "2 starts tried"
