"""Notes with a chance, as a microphone gives them: what they may and may not do."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.listen.build import PIECE, WAITING, chords, played, start
from trainer.listen.ear import Ear
from trainer.listen.match import Listener
from trainer.listen.model import Heard, Verdict
from trainer.listen.port import Event
from trainer.listen.proposal import BY_SOUND, propose
from trainer.listen.signs import Signs
from trainer.listen.words import sentences

CLEAN = [replace(note, chance=0.95) for note in played(chords(16, 33))]


def heard(notes: Sequence[Heard], asked: int = 2, until: float | None = None) -> Verdict:
    listener = Listener(WAITING, start(asked))
    for note in sorted(notes, key=lambda note: note.time):
        listener.hear(note)
    return listener.end(until)


def ghosts(notes: Sequence[Heard], share: float, chance: float, seed: int = 1) -> list[Heard]:
    """With notes beside some of them that nobody played."""
    rng = Random(seed)
    found = list(notes)
    for note in notes:
        if rng.random() < share:
            away = rng.choice((-12, 7, 12, 19))
            found.append(Heard(note.pitch + away, note.time + 0.01, chance=chance))
    return found


def test_doubtful_ghosts_do_not_harm_where_sure_ones_would() -> None:
    assert heard(ghosts(CLEAN, 0.9, 0.15)).answer == "yes"
    doubtful = heard(ghosts(CLEAN, 0.9, 0.15)).sure["counts"]
    assert doubtful > heard(ghosts(CLEAN, 0.9, 1.0)).sure["counts"]


@pytest.mark.parametrize("asked", [1, 2, 3, 4])
def test_the_start_is_told_from_all_others(asked: int) -> None:
    assert heard(ghosts(CLEAN, 0.5, 0.3), asked).accepted == (asked == 2)


def test_nothing_is_said_of_single_notes() -> None:
    verdict = heard([note for i, note in enumerate(CLEAN) if i != 7])
    assert not verdict.counted
    assert (verdict.wrong, verdict.missed, verdict.extra, verdict.marks) == (0, 0, 0, ())
    told = " ".join(sentences(verdict, PIECE))
    assert "Notes" not in told
    assert "notes right" not in told


def test_a_doubtful_note_is_neither_the_first_nor_the_last() -> None:
    beside = [Heard(48, 0.2, chance=0.3), Heard(72, CLEAN[-1].time + 3, chance=0.3)]
    verdict = heard([*CLEAN, *beside], until=CLEAN[-1].time + 3.1)
    assert verdict.latency == pytest.approx(CLEAN[0].time)
    assert verdict.stopped


@given(st.lists(st.tuples(st.integers(21, 108), st.floats(0.1, 0.49)), max_size=30))
def test_doubtful_notes_alone_are_nothing(notes: list[tuple[int, float]]) -> None:
    found = [Heard(pitch, 0.3 * i, chance=chance) for i, (pitch, chance) in enumerate(notes)]
    verdict = heard(found)
    assert (verdict.notes, verdict.played, verdict.accepted) == (0, "", False)


def test_a_doubtful_note_breaks_no_pause() -> None:
    notes = [replace(n, time=n.time + 3 * (i > 15)) for i, n in enumerate(CLEAN)]
    hole = notes[15].time + 1.5
    assert len(heard([*notes, Heard(90, hole, chance=0.4)]).pauses) == 1


def test_a_voice_before_the_beginning_is_no_false_start() -> None:
    voice = [Heard(pitch, 0.2 + 0.1 * i, chance=0.6) for i, pitch in enumerate((41, 50, 46))]
    late = [replace(note, time=note.time + 1) for note in CLEAN]
    assert heard([*voice, *late]).restarts == ()


def test_beginning_again_is_heard() -> None:
    first = [note for note in CLEAN if note.time < 2.6]
    again = [replace(note, time=note.time + 4) for note in CLEAN]
    assert len(heard([*first, *again]).restarts) == 1


def test_a_microphone_is_less_sure_than_a_cable() -> None:
    sure = [propose(heard(notes), PIECE) for notes in (CLEAN, played(chords(16, 33)))]
    by_sound, by_cable = (one.witness.sure for one in sure if one.witness)
    assert by_sound <= BY_SOUND * by_cable


def test_a_doubtful_note_keeps_no_silence_waiting() -> None:
    ear = Ear(WAITING, start(2))
    for note in CLEAN:
        ear.hear(Event(note.pitch, note.time, chance=note.chance))
    due = ear.now.due
    assert due is not None
    ear.hear(Event(50, due - 0.2, chance=0.2))
    ear.tick(due + 0.01)
    assert ear.now.ended


def test_a_doubtful_low_key_is_no_signal() -> None:
    signs = Signs()
    assert signs.hear(Event(21, 1.0, chance=0.3)) is None
    assert signs.tick(3.0) is None
    assert [event.pitch for event in signs.notes()] == [21]
    signs.hear(Event(21, 4.0, chance=0.9))
    assert signs.tick(6.0) == "next"
