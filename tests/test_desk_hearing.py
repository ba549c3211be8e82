"""A drill by ear, without a screen: what is listened to, what signs do, what goes into the log."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pytest

from tests.listen.build import PIECE, STARTS, chords, played
from tests.pieces import Clock, desk_at
from trainer.desk import Desk
from trainer.desk.hearing import SOON, Hearing, Seen
from trainer.errors import TrainerError
from trainer.listen.model import Heard, Policy
from trainer.listen.port import MemoryPort, RawPort, WirePort
from trainer.listen.signs import Means, means_of, text_of
from trainer.practice.exercise import Act
from trainer.practice.session import Session, State
from trainer.record.attempt import Outcome
from trainer.reports.view import View
from trainer.sound.tones import LEAST, MOST, replayed


class Scene:
    """A drill at a desk, and somebody at an instrument."""

    def __init__(self, folder: Path, kind: str = "cold") -> None:
        self.desk: Desk = desk_at(folder / "a.db", Clock())
        self.desk.store.pieces.add(PIECE, "test")
        student = self.desk.students.find()
        self.desk.pieces.set_open(
            student, self.desk.store.pieces.deck("deck"), range(1, 5), opened=True
        )
        self.view: View = self.desk.views.of(student)
        self.session: Session = self.desk.exercises.drill(self.view, kind=kind)
        self.now = 10.0
        self.port = MemoryPort(lambda: self.now)
        self.hearing = Hearing(self.port, clock=lambda: self.now)
        self.hearing.attend(self.session, self.view)

    @property
    def first(self) -> int:
        """The quarter where the called phrase begins."""
        assert self.session.call
        return STARTS[self.session.call.number - 1]

    def play(self, notes: Iterable[Heard], silence: float = 20.0) -> Seen:
        begin = self.now
        for note in notes:
            self.now = begin + note.time
            self.port.play(note.pitch)
        self.now += silence
        return self.hearing.look()


def test_a_count_is_no_hesitation(tmp_path: Path) -> None:
    scene = Scene(tmp_path)
    scene.hearing.counted(6.0)
    assert scene.play(played(chords(scene.first, scene.first + 20), at=7.0)).ended
    tried = scene.hearing.tried()
    assert tried is not None
    assert tried.proposal.outcome is Outcome.THROUGH
    assert tried.fields["latency"] == pytest.approx(1.0, abs=0.02)


def test_the_bars_are_counted_from_wherever_it_was_begun(tmp_path: Path) -> None:
    scene = Scene(tmp_path)
    wrong = STARTS[1] if scene.first != STARTS[1] else STARTS[3]
    assert scene.play(played(chords(wrong, wrong + 8)), silence=0.1).bar == 2


@pytest.mark.parametrize(("kind", "heard"), [("joins", True), ("away", False), ("blocks", False)])
def test_what_can_be_heard_is_heard(tmp_path: Path, kind: str, heard: bool) -> None:
    scene = Scene(tmp_path, kind)
    begin = scene.first + (12 if kind == "joins" else 0)  # the last bar of the phrase
    assert scene.play(played(chords(begin, begin + 9))).ended is heard
    if heard:
        tried = scene.hearing.tried()
        assert tried is not None
        assert tried.proposal.outcome is Outcome.THROUGH


def test_a_few_notes_are_too_little_to_judge(tmp_path: Path) -> None:
    scene = Scene(tmp_path)
    assert not scene.play(played(chords(scene.first, scene.first + 1))).ended
    assert scene.hearing.tried() is None


def test_what_signs_do(tmp_path: Path) -> None:
    scene = Scene(tmp_path)
    calling, act = scene.session, scene.hearing.act
    assert act("next", calling) is None  # it may be a slow second press
    scene.now += SOON
    assert act("next", calling) is Act.NOTHING
    assert act("again", calling) is None
    assert act("stop", calling) is Act.STOP
    assert scene.play(played(chords(scene.first, scene.first + 20))).ended
    assert act("next", calling) is None  # its verdict is still to come, or a key
    tried = scene.hearing.tried()
    assert tried
    told = scene.desk.exercises.act(calling, Act.HEARD, **tried.fields)
    assert told.state is State.TOLD
    assert told.progress == calling.progress == "1 of 3"
    assert act("next", told) is Act.RESUME
    assert act("again", told) is Act.AGAIN
    over = scene.desk.exercises.act(told, Act.STOP)
    assert [act(sign, over) for sign in ("next", "again", "stop")] == [None, None, None]


def test_what_was_heard_goes_with_the_key_that_tells(tmp_path: Path) -> None:
    scene = Scene(tmp_path)
    scene.play(played(chords(scene.first, scene.first + 8)), silence=0.1)
    assert scene.hearing.witnessed(scene.session, Act.HINT) == {}
    heard = scene.hearing.witnessed(scene.session, Act.ELSEWHERE)["heard"]
    asked = scene.desk.exercises.act(scene.session, Act.ELSEWHERE)
    scene.hearing.attend(asked, scene.view)
    assert scene.hearing.witnessed(asked, Act.CHOOSE)["heard"] == heard
    after = scene.desk.exercises.act(
        asked, Act.CHOOSE, **scene.hearing.witnessed(asked, Act.CHOOSE)
    )
    scene.hearing.attend(after, scene.view)
    assert scene.hearing.witnessed(after, Act.NOTHING) == {}


def test_a_piece_with_the_same_notes_has_no_signs(tmp_path: Path) -> None:
    scene = Scene(tmp_path)
    assert scene.hearing.sign == "the lowest key"
    low = PIECE.score.notes[0].pitch
    hearing = Hearing(scene.port, Means((low,)), clock=lambda: scene.now)
    hearing.attend(scene.session, scene.view)
    assert hearing.sign == ""


@pytest.mark.parametrize("text", ["A0", "C2 E2 G2", "F#3", "soft pedal", "middle pedal", "off"])
def test_a_sign_reads_as_it_is_written(text: str) -> None:
    assert text_of(means_of(text)) == text


def test_the_instrument_that_is_set_is_opened(tmp_path: Path) -> None:
    desk = desk_at(tmp_path / "a.db", Clock())
    student = desk.students.find()
    assert desk.instruments.hearing(student) is None
    desk.settings.change(student, "instrument", "127.0.0.1:9")
    desk.settings.change(student, "signals", "c2  e2")
    desk.settings.change(student, "one-hand", "reject")
    found = desk.instruments.hearing(student)
    assert found is not None
    assert isinstance(found.port, WirePort)
    assert (found._means, found._policy) == (Means((36, 40)), Policy(one_hand="reject"))
    found.close()
    other = desk.instruments.hearing(student, str(tmp_path / "pipe"))
    assert other is not None
    assert isinstance(other.port, RawPort)
    assert not other.port.connected
    other.close()
    assert desk.instruments.hearing(student, "off") is None


@pytest.mark.parametrize(("name", "text"), [("signals", "H9"), ("octave", "perhaps")])
def test_settings_that_mean_nothing_are_refused(tmp_path: Path, name: str, text: str) -> None:
    desk = desk_at(tmp_path / "a.db", Clock())
    with pytest.raises(TrainerError, match=text):
        desk.settings.change(desk.students.find(), name, text)


def test_what_was_played_is_heard_again_as_it_was_struck() -> None:
    tones = replayed([(2.0, 60), (2.0, 64), (2.5, 67), (2.6, 69), (9.0, 72)])
    assert [(tone.pitch, tone.at) for tone in tones] == [
        (60, 0.0), (64, 0.0), (67, 0.5), (69, pytest.approx(0.6)), (72, 7.0),
    ]  # fmt: skip
    assert tones[0].seconds == pytest.approx(0.6)
    assert tones[2].seconds == MOST
    assert all(LEAST <= tone.seconds <= MOST for tone in tones)
    assert replayed([]) == ()
