"""What goes in comes out equal, whatever it is."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.store.build import (
    NOON,
    STUDENT,
    attempt,
    fresh_ids,
    open_store,
    piece,
    unhurried,
    values_of,
)
from trainer.deck.model import Deck, Piece, identity
from trainer.errors import TrainerError
from trainer.record.attempt import Attempt, Retraction
from trainer.record.layer import LayerEdit
from trainer.record.lesson import LessonNote
from trainer.record.people import Opening, ProgrammeItem, Recital, Student
from trainer.score.model import Score
from trainer.store.rows import instant, moment
from trainer.store.store import Store
from trainer.values import encode

known_student = st.just(STUDENT.id)


@unhurried
@given(value=values_of(Attempt, id=fresh_ids(), student=known_student))
def test_an_attempt(shared: Store, value: Attempt) -> None:
    assert shared.log.append(value) == 1
    kept = {one.id: one for one in shared.log.attempts(STUDENT.id)}[value.id]
    assert kept == value
    assert kept.at.utcoffset() == value.at.utcoffset()
    assert shared.log.append(kept) == 0


@unhurried
@given(value=values_of(Opening, id=fresh_ids(), student=known_student))
def test_an_opening(shared: Store, value: Opening) -> None:
    shared.log.append(value)
    assert value in shared.log.openings(STUDENT.id)


@unhurried
@given(value=values_of(LessonNote, id=fresh_ids(), student=known_student))
def test_a_note_on_a_lesson(shared: Store, value: LessonNote) -> None:
    shared.log.append(value)
    assert value in shared.log.lesson_notes(STUDENT.id)


@unhurried
@given(value=values_of(LayerEdit, id=fresh_ids(), student=known_student))
def test_a_word_on_a_students_own(shared: Store, value: LayerEdit) -> None:
    shared.log.append(value)
    assert value in shared.log.layer_edits(STUDENT.id)


@unhurried
@given(
    value=values_of(Retraction, id=fresh_ids(), student=st.sampled_from(["", STUDENT.id])),
    of=fresh_ids(),
)
def test_a_retraction(shared: Store, value: Retraction, of: str) -> None:
    value = replace(value, attempt=of)
    shared.log.append(value, attempt(1, id=of))
    assert value in shared.log.retractions(STUDENT.id)


@unhurried
@given(value=values_of(Student, id=fresh_ids()))
def test_a_student(shared: Store, value: Student) -> None:
    shared.students.save(value)
    assert value in shared.students.all()


@unhurried
@given(value=values_of(Recital, id=fresh_ids(), student=known_student, programme=st.just(())))
def test_a_recital(shared: Store, value: Recital) -> None:
    shared.recitals.save(value)
    assert value in shared.recitals.of(STUDENT.id)


@settings(unhurried, max_examples=50)
@given(score=values_of(Score), deck=values_of(Deck, id=fresh_ids()))
def test_a_piece(shared: Store, score: Score, deck: Deck) -> None:
    value = Piece(replace(deck, score=identity(score)), score)
    shared.pieces.add(value, "new")
    assert shared.pieces.get(deck.id) == value
    entry = shared.pieces.all()[-1]
    assert (entry.id, entry.title, entry.starts) == (deck.id, deck.title, len(deck.starts))


@unhurried
@given(key=st.text(), value=st.text())
def test_a_setting(shared: Store, key: str, value: str) -> None:
    shared.settings.set(key, value)
    shared.settings.set(key, value + "!", STUDENT.id)
    assert shared.settings.get(key) == value
    assert shared.settings.get(key, STUDENT.id) == value + "!"


def test_a_programme(store: Store) -> None:
    for deck_id in ("deck-1", "deck-2"):
        store.pieces.add(piece(deck_id), "new")
    both = (ProgrammeItem("deck-2", "no"), ProgrammeItem("deck-1", "optional"))
    later = Recital("r1", STUDENT.id, "Summer", NOON.date() + timedelta(90), both)
    sooner = Recital("r2", STUDENT.id, "Spring", NOON.date(), both[:1])
    for recital in (later, sooner):
        store.recitals.save(recital)
    assert store.recitals.of(STUDENT.id) == (sooner, later)
    fewer = replace(later, programme=both[1:])
    store.recitals.save(fewer)
    assert store.recitals.of(STUDENT.id) == (sooner, fewer)
    store.recitals.remove("r2")
    assert store.recitals.of(STUDENT.id) == (fewer,)


@unhurried
@given(at=st.datetimes(timezones=st.timezones()))
def test_an_instant_of_any_zone(at: datetime) -> None:
    """Offsets of before standard time have seconds; they are kept to the minute, the instant
    exactly. Compared by instant: in a repeated hour Python's `==` is false across zones."""
    try:
        again = moment(*instant(at))
    except OverflowError:
        return  # within a minute of the first or last moment Python knows
    assert (again - at) == timedelta(0)
    assert abs((again.utcoffset() or timedelta()) - (at.utcoffset() or timedelta())) < timedelta(
        minutes=1
    )


def test_the_repeated_hour_is_told_apart(store: Store) -> None:
    zone = ZoneInfo("Europe/Vienna")
    first = datetime(2024, 10, 27, 2, 30, tzinfo=zone, fold=0)
    second = first.replace(fold=1)
    early, late = attempt(1, at=first), attempt(2, at=second)
    store.log.append(late, early)
    kept = store.log.attempts(STUDENT.id)
    assert [one.id for one in kept] == [early.id, late.id]
    assert kept[1].at - kept[0].at == timedelta(hours=1)
    assert store.log.append(early, late) == 0


def test_a_time_without_its_offset_is_refused(store: Store) -> None:
    with pytest.raises(TrainerError, match="offset"):
        store.log.append(attempt(1, at=NOON.replace(tzinfo=None)))


def test_a_broken_letter_is_refused(store: Store) -> None:
    with pytest.raises(TrainerError, match="invalid character"):
        store.students.save(Student("s", "\ud800"))


def test_all_is_there_after_closing(tmp_path: Path) -> None:
    path = tmp_path / "trainer.db"
    with open_store(path) as store:
        store.students.save(STUDENT)
        store.pieces.add(piece(), "new")
        store.log.append(attempt(1))
        machine = store.machine
    with open_store(path) as store:
        assert store.students.all() == (STUDENT,)
        assert store.pieces.get("deck-1") == piece()
        assert store.log.attempts(STUDENT.id) == (attempt(1),)
        assert store.machine == machine


def test_equal_values_have_equal_text_wherever_they_come_from() -> None:
    """Digests and comparisons rest on it: msgspec alone leaves out only the very object that a
    default is, and not one of equal value that came from a file or a database."""
    told = Student("s", "A", "".join(("ad", "ult")), float("8.0"))  # type: ignore[arg-type]
    assert told == Student("s", "A")
    assert encode(told) == encode(Student("s", "A")) == '{"id":"s","name":"A"}'
    item = ProgrammeItem("d", "".join(("y", "es")))  # type: ignore[arg-type]
    recital = Recital("r", "s", "x", NOON.date(), (item,))
    assert encode(recital) == encode(replace(recital, programme=(ProgrammeItem("d"),)))
