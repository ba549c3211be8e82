"""A heard try through the desk: recorded at once, overruled and kept."""

from pathlib import Path

from tests.pieces import Clock, desk_at, piece_of, tune
from trainer.practice.exercise import Act
from trainer.practice.session import State
from trainer.record.attempt import Outcome, Witness

HEARD = Witness(Outcome.STOPPED, wrong=3, notes=21, sure=0.9)


def test_what_is_heard_is_on_the_disk_before_the_player_says_a_word(
    tmp_path: Path,
) -> None:
    clock = Clock()
    desk = desk_at(tmp_path / "a.db", clock)
    desk.store.pieces.add(piece_of(tune(32), range(0, 96, 12)), "test")
    student = desk.students.find()
    desk.pieces.set_open(
        student, desk.store.pieces.deck(desk.pieces.find().id), range(1, 9), opened=True
    )
    session = desk.exercises.drill(desk.views.of(student))
    clock.later(seconds=30)
    session = desk.exercises.act(
        session, Act.HEARD, heard=HEARD, latency=1.5, tempo=72.0, hands="left"
    )
    assert session.state is State.TOLD
    (one,) = desk.views.of(student).attempts
    assert (one.judge, one.heard, one.latency, one.tempo, one.hands) == (
        "heard",
        HEARD,
        1.5,
        72.0,
        "left",
    )
    desk.exercises.act(session, Act.THROUGH)
    (two,) = desk.views.of(student).attempts
    assert (two.judge, two.outcome, two.heard, two.latency, two.amends) == (
        "self",
        Outcome.THROUGH,
        HEARD,
        1.5,
        one.id,
    )
    assert len(desk.store.log.attempts(student.id)) == 2  # the log keeps both
