"""Whatever one student's record holds, another student's log, plan, beliefs and record stay what
they are, byte for byte.

The hostile record names events of the other student wherever an event can name something: in a
retraction, a correction, a combining, a note, a recital, an own change, an opening, and as its own
id. It comes by the front door, where it may be refused whole, and by the back door, as what an
earlier version has let in; before the other student's record and after it.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import datetime, timedelta
from fractions import Fraction
from itertools import count
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.exchange.build import PIECE
from tests.pieces import NOON
from trainer.desk import Desk
from trainer.errors import TrainerError
from trainer.record.attempt import Attempt, Outcome, Retraction, Witness, practice_day
from trainer.record.file import KeptRecital, KeptStudent, Record, write_record
from trainer.record.join import Joining
from trainer.record.layer import LayerEdit
from trainer.record.lesson import LessonNote
from trainer.record.people import Opening, ProgrammeItem, Recital, Student
from trainer.store.rows import Event
from trainer.store.store import Store

A, B = Student("a-student", "A."), Student("b-student", "B.")
LATER = NOON + timedelta(days=40)
TABLES = ("attempt", "retraction", "opening", "layer_edit", "note", "recital", "joining", "setting",
          "belief", "plan", "differing")  # fmt: skip
_fresh = count(1)


def opened(path: Path, clock: Callable[[], datetime] = lambda: LATER) -> Desk:
    """A desk whose clock stands still by default."""

    def new_id() -> str:
        return f"t-{next(_fresh):06}"

    return Desk(Store.open(path, now=clock, new_id=new_id), clock, new_id, Random(1))


def furnish(path: Path) -> None:
    """B. with something of everything."""
    moment = NOON

    def clock() -> Any:
        nonlocal moment
        moment += timedelta(hours=9)
        return moment

    desk = opened(path, clock)
    with desk.store:
        desk.pieces.keep(PIECE, "new")
        desk.store.students.save(B)
        deck = PIECE.deck
        desk.pieces.set_open(B, deck, [1, 2, 3, 4], opened=True)
        desk.own.set(B, deck, deck.starts[1], {"words": "mine", "tempo": "72"})
        desk.own.add(desk.views.of(B), deck.id, Fraction(14))
        heard = Witness(Outcome.THROUGH, notes=9, sure=0.7)
        for number, outcome in ((1, Outcome.THROUGH), (2, Outcome.NOTHING), (3, Outcome.STOPPED)):
            desk.attempts.add(desk.views.of(B), deck, number, outcome, heard=heard)
        last = desk.attempts.add(desk.views.of(B), deck, 4, Outcome.LOOKED)
        desk.attempts.take_back(last)
        desk.attempts.add(desk.views.of(B), deck, 4, Outcome.THROUGH, amends=last.id)
        desk.recitals.set(
            B, "Spring", (NOON + timedelta(days=60)).date(), (ProgrammeItem(deck.id),)
        )
        desk.notes.write(B, "softer")
        desk.notes.write(B, "softer still")
        desk.views.remember(desk.views.of(B))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("apart") / "t.db"
    furnish(path)
    return path


def of_b(desk: Desk) -> dict[str, object]:
    """All that there is of B., as it is kept and as it follows from that, with what was worked
    out before and without it."""
    told: dict[str, object] = {}
    with closing(sqlite3.connect(desk.store.path)) as raw:
        for table in TABLES:
            columns = [row[1] for row in raw.execute(f"PRAGMA table_info({table})")]
            chosen = ", ".join(name for name in columns if name != "seq")
            told[table] = raw.execute(
                f"SELECT {chosen} FROM {table} WHERE student = ? ORDER BY 1, 2", (B.id,)
            ).fetchall()
    told["record"] = desk.records.write(B)
    logged = desk.store.studio.logged(NOON.date())[B.id]
    told["logged"] = (logged.tries, logged.last, logged.days)
    told["entries"] = desk.store.log.entries_of(B.id)
    told["note"] = desk.notes.of(B, practice_day(NOON))
    for how in ("kept", "anew"):
        view = desk.views.of(B)
        if how == "anew":
            view = replace_caches(view)
        ids = [start.id for deck in view.decks.values() for start in deck.starts]
        told[how] = (
            view.attempts, view.tries, view.open, view.recitals, view.lesson_notes, view.layers,
            view.plan, view.chances(ids), view.readiness,
        )  # fmt: skip
    assert told["kept"] == told["anew"]
    return told


def replace_caches(view: Any) -> Any:
    from dataclasses import replace as changed

    return changed(view, kept=None, kept_plans=None)


def pool(made: Path) -> dict[str, list[str]]:
    """The ids of what B. has, by table."""
    with closing(sqlite3.connect(made)) as raw:
        return {
            table: [row[0] for row in raw.execute(f"SELECT id FROM {table} WHERE student = ?",
                                                  (B.id,))]
            for table in ("attempt", "retraction", "opening", "layer_edit", "note", "recital")
        }  # fmt: skip


def fresh() -> str:
    return f"fresh-{next(_fresh)}"


Draw = Callable[[st.SearchStrategy[Any]], Any]


def hostile(draw: Draw, ids: dict[str, list[str]], *, claims: bool) -> tuple[Event, ...]:
    """Events of A. that name what is B.'s; with `claims` they may have the ids of B.'s events."""

    def id_of(table: str) -> str:
        theirs = claims and draw(st.integers(0, 4)) == 0
        return draw(st.sampled_from(ids[table])) if theirs else fresh()

    def named(table: str) -> str:
        return str(draw(st.sampled_from([*ids[table], "nobody-has-it"])))

    starts = [start.id for start in PIECE.deck.starts]
    events: list[Event] = []
    for kind in draw(st.lists(st.sampled_from(KINDS), min_size=1, max_size=6)):
        at = NOON + timedelta(days=draw(st.integers(0, 39)), minutes=draw(st.integers(0, 600)))
        start = draw(st.sampled_from(starts))
        deck, when = PIECE.deck.id, practice_day(at)
        if kind is Attempt:
            amends = draw(st.sampled_from(["", named("attempt")]))
            events.append(
                Attempt(
                    id_of("attempt"),
                    A.id,
                    deck,
                    "x",
                    start,
                    "m",
                    at,
                    when,
                    draw(st.sampled_from(Outcome)),
                    elsewhere=start,
                    amends=amends,
                )
            )
        elif kind is Retraction:
            events.append(Retraction(id_of("retraction"), named("attempt"), "m", at, A.id))
        elif kind is Opening:
            events.append(Opening(id_of("opening"), A.id, deck, start, False, "m", at))
        elif kind is LayerEdit:
            events.append(
                LayerEdit(id_of("layer_edit"), A.id, deck, start, "left out", "yes", "m", at)
            )
        elif kind is Joining:
            into = draw(st.sampled_from([B.id, "somebody"]))
            events.append(Joining(fresh(), A.id, into, draw(st.booleans()), "m", at))
        else:
            events.append(LessonNote(id_of("note"), A.id, when, "mine", "m", at, named("note")))
    return tuple(events)  # fmt: skip


KINDS: tuple[type[Event], ...] = (Attempt, Retraction, Opening, LayerEdit, Joining, LessonNote)


def record_of(events: tuple[Event, ...], recitals: tuple[KeptRecital, ...] = ()) -> bytes:
    """A.'s record file with these events."""

    def some(kind: type[Event]) -> tuple[Any, ...]:
        return tuple({one.id: one for one in events if type(one) is kind}.values())

    found = Record(
        (KeptStudent(replace(A, name=B.name), LATER),),
        some(Joining), recitals, some(Opening), some(LayerEdit), some(Retraction), some(Attempt),
    )  # fmt: skip
    return write_record(found).encode()


def refusal(desk: Desk, data: bytes) -> str:
    """Take a record in; the sentence where it was refused."""
    try:
        desk.records.take_in(data, "x")
    except TrainerError as error:
        return str(error)
    return ""


unhurried = settings(deadline=None, max_examples=20)


@unhurried
@given(data=st.data())
def test_a_record_that_comes_later(made: Path, data: st.DataObject) -> None:
    ids = pool(made)
    events = hostile(data.draw, ids, claims=True)
    theirs = data.draw(st.sampled_from([fresh(), *ids["recital"]]))
    recital = KeptRecital(Recital(theirs, A.id, "Stolen", LATER.date()), LATER, removed=True)
    with TemporaryDirectory() as folder:
        desk = opened(Path(shutil.copy(made, folder)))
        with desk.store:
            before = of_b(desk)
            bad = refusal(desk, record_of(events, (recital,)))
            assert "\n" not in bad
            assert not bad or desk.store.students.entries() == (B,)  # refused whole
            assert of_b(desk) == before
            if names_what_is_theirs(events, ids) or theirs in ids["recital"]:
                assert bad


def names_what_is_theirs(events: tuple[Event, ...], ids: dict[str, list[str]]) -> bool:
    """Whether a record with these events must be refused."""
    last = {one.student: one for one in sorted((one for one in events if type(one) is Joining),
                                               key=lambda one: (one.at, one.id))}  # fmt: skip
    every = {id_ for some in ids.values() for id_ in some}
    return any(
        (type(one) is not LessonNote and one.id in every)
        or (isinstance(one, Retraction) and one.attempt in every)
        or (isinstance(one, Attempt) and one.amends in every)
        for one in events
    ) or any(one.joined for one in last.values())


@unhurried
@given(data=st.data())
def test_what_an_earlier_version_has_let_in(made: Path, data: st.DataObject) -> None:
    events = tuple(
        one for one in hostile(data.draw, pool(made), claims=False) if type(one) is not Joining
    )
    with TemporaryDirectory() as folder:
        desk = opened(Path(shutil.copy(made, folder)))
        with desk.store:
            before = of_b(desk)
            desk.store.students.save(A)
            desk.store.log.append(*events)
            assert of_b(desk) == before
            told = " ".join(one.what for one in desk.store.faults.find())
            for kind, field, words in (
                (Retraction, "attempt", "retraction"),
                (Attempt, "amends", "corrected"),
                (LessonNote, "replaces", "lesson note"),
            ):
                named = [getattr(one, field) for one in events if type(one) is kind]
                stray = any(name and name != "nobody-has-it" for name in named)
                assert (f"{words}" in told and "of another student" in told) or not stray


@unhurried
@given(data=st.data())
def test_a_record_that_comes_first(made: Path, data: st.DataObject) -> None:
    events = hostile(data.draw, pool(made), claims=False)
    with TemporaryDirectory() as folder:
        home = opened(Path(shutil.copy(made, folder)))
        with home.store:
            text = home.records.write(B).encode()
        found = []
        for name in ("alone", "after"):
            desk = opened(Path(folder) / f"{name}.db")
            with desk.store:
                desk.pieces.keep(PIECE, "new")
                if name == "after":
                    bad = refusal(desk, record_of(events))
                    assert not bad or "combines" in bad
                desk.records.take_in(text, "x")
                found.append(of_b(desk))
        assert found[0] == found[1]


def test_a_combining_with_somebody_who_is_not_here_waits_for_a_word() -> None:
    """Else they would be taken for one when the other arrives."""
    joining = Joining("j", A.id, B.id, True, "m", NOON)
    with TemporaryDirectory() as folder:
        desk = opened(Path(folder) / "t.db")
        with desk.store:
            with pytest.raises(TrainerError, match="one that is not here"):
                desk.records.take_in(record_of((joining,)), "x")
            desk.records.take_in(record_of((joining,)), "x", join=True)
            _, taken = desk.records.take_in(
                record_of((joining,)), "x"
            )  # heard, and not asked again
            assert not taken.anything
            one = desk.store.students.find_entry("B.")
            assert desk.records.combined_with(one) == B.id
            desk.records.take_apart(one)
            assert desk.records.combined_with(one) == ""


def test_a_retraction_counts_for_all_entries_of_one_person(made: Path) -> None:
    with TemporaryDirectory() as folder:
        desk = opened(Path(shutil.copy(made, folder)))
        with desk.store:
            desk.store.students.save(A)
            tries = desk.views.of(B).attempts
            desk.store.log.append(Retraction("r", tries[0].id, "m", LATER, A.id))
            assert desk.views.of(B).attempts == tries
            desk.records.combine(desk.store.students.find_entry("A."), B)
            assert desk.views.of(B).attempts == tries[1:]
            assert desk.store.studio.logged(NOON.date())[B.id].tries
            desk.records.take_apart(desk.store.students.find_entry("A."))
            assert desk.views.of(B).attempts == tries
