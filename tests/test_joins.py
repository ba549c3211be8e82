"""The name of a join is the same wherever it is told: "into start 6, from b. 20"."""

from __future__ import annotations

from datetime import timedelta
from fractions import Fraction
from pathlib import Path

import pytest

from tests.pieces import NOON, Clock, desk_at, piece_of, tune
from tests.scenes.machines import Machine
from trainer.deck.page import leads_to
from trainer.practice.exercise import Act
from trainer.record.attempt import Outcome
from trainer.record.people import ProgrammeItem
from trainer.reports.view import join_where


@pytest.mark.parametrize(
    ("number", "name"),
    [
        (1, "into start 2, from b. 4"),
        (3, "into start 4, from b. 12"),
        (4, "to the end, from b. 16"),
    ],
)
def test_a_join_has_the_name_of_what_it_leads_into(number: int, name: str) -> None:
    piece = piece_of(tune(16), range(0, 48, 12))
    assert join_where(piece, piece.deck.starts[number - 1]) == name


def test_where_a_phrase_is_repeated_the_join_leads_on_in_the_score() -> None:
    piece = piece_of(tune(16, repeat=8), range(0, 48, 12))
    second = piece.deck.starts[1]
    assert len(piece.deck.following(second.id)) == 2
    after = leads_to(piece, second)
    assert after is not None
    assert after.onset == piece.end_of(second) == Fraction(24)


def test_drill_page_print_and_advice_say_the_same(tmp_path: Path) -> None:
    """A start that begins well and whose join is lost, on every page that names joins."""
    desk = desk_at(tmp_path / "a.db", Clock(NOON))
    clock = desk.clock
    assert isinstance(clock, Clock)
    desk.store.pieces.add(piece_of(tune(16), range(0, 48, 12)), "test")
    student, deck = desk.students.add("K."), desk.store.pieces.deck(desk.pieces.find().id)
    desk.pieces.set_open(student, deck, [1], opened=True)
    for _ in range(3):
        desk.attempts.add(desk.views.of(student), deck, 1, Outcome.BROKE_OFF)
        clock.later(days=1)
    day = desk.views.of(student).day + timedelta(days=9)
    desk.recitals.set(student, "Concert", day, [ProgrammeItem(deck.id)])
    name = "into start 2, from b. 4"
    session = desk.exercises.drill(desk.views.of(student), kind="joins")
    assert session.call is not None
    assert (session.call.place, session.call.shown) == (name, 2)
    assert session.call.words == "Into start 2, from b. 4"
    now = clock.now
    machine = Machine(tmp_path / "a.db", zone=0.0)
    assert f"Study, {name}: " in machine.do("readiness", at=now)
    assert name in machine.do("lesson", at=now)
    machine.do("print", "recital", "--out", tmp_path / "r.html", at=now)
    assert name in (tmp_path / "r.html").read_text()
    later = now + timedelta(days=1)
    assert "Into start 2, from bar 4. Study." in machine.do(
        "drill", "--plain", "--kind", "joins", typed="q\n", at=later
    )
    assert desk.exercises.act(session, Act.THROUGH).tries[0].start == deck.starts[0].id
