"""The list of what holds: its orders, its choice, and who sees what of it."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec.structs import replace

from tests.pieces import Clock, desk_at, named, piece_of, tune
from trainer.document.lines import as_lines
from trainer.document.model import Document
from trainer.draw.words import BANDS
from trainer.record.attempt import Outcome
from trainer.record.people import Level
from trainer.reports.retention import SORTS, report
from trainer.reports.view import View


@pytest.fixture
def view(tmp_path: Path) -> View:
    """Two pieces; four starts of the first were tried on four days, the others are open only."""
    clock = Clock()
    desk = desk_at(tmp_path / "a.db", clock)
    for name, bars in (("study", 24), ("air", 8)):
        piece = piece_of(tune(bars, title=name.capitalize()), range(0, 3 * bars, 12), name)
        desk.store.pieces.add(piece, "test")
    student = desk.students.find()
    decks = {name: desk.store.pieces.deck(name) for name in ("study", "air")}
    for deck in decks.values():
        numbers = [start.number for start in deck.starts]
        desk.pieces.set_open(student, deck, numbers, opened=True)
    for letters in ("ntt.", "ntts", "nttt", "ntt."):
        for number, letter in enumerate(letters, 1):
            clock.later(minutes=20)
            if letter != ".":
                outcome = next(one for one in Outcome if one.value[0] == letter)
                desk.attempts.add(desk.views.of(student), decks["study"], number, outcome)
        clock.later(days=2)
    return desk.views.of(student)


def column(found: Document, key: str) -> list[object]:
    return [row[key] for row in named(found)]


def as_level(view: View, level: Level) -> View:
    from dataclasses import replace as changed

    return changed(view, student=replace(view.student, level=level))


def test_the_weakest_come_first_and_untried_ones_last(view: View) -> None:
    chances = column(report(view), "chance")
    known = [chance for chance in chances if isinstance(chance, float)]
    assert known == sorted(known)
    assert chances == [*known, *[None] * (len(chances) - len(known))]
    assert 0 < len(known) < len(chances)


def test_the_order_of_the_score_has_each_piece_over_its_starts(view: View) -> None:
    table = report(view, sort="score")
    assert column(table, "start") == [1, 2, 3, 4, 5, 6, 1, 2]
    lines = as_lines(table)
    assert lines.count("Study") == lines.count("Air") == 1
    assert "in score order" in lines[0]


def test_what_was_not_tried_for_longest_comes_first(view: View) -> None:
    days = column(report(view, sort="last cold"), "last_cold")
    known = [day for day in days if day is not None]
    assert len(set(known)) > 1
    assert known == sorted(known, key=str)
    assert days == [*known, *[None] * (len(days) - len(known))]


def test_what_is_called_soonest_comes_first(view: View) -> None:
    from dataclasses import replace as changed

    few = changed(view, student=replace(view.student, minutes=2.0))  # not enough for all each day
    days = column(report(few, sort="next call"), "next_call")
    assert days == sorted(days, key=str)
    assert len(set(days)) > 1


def test_what_the_day_still_calls_is_called_today(view: View) -> None:
    from dataclasses import replace as changed

    for minutes in (2.0, 8.0):
        some = changed(view, student=replace(view.student, minutes=minutes))
        table = report(some)
        said = dict(zip(column(table, "id"), column(table, "next_call"), strict=True))
        left = {slot.start for slot in some.left.slots}
        assert left
        assert {start for start, day in said.items() if day == some.day} == left


@pytest.mark.parametrize("sort", SORTS)
def test_no_order_leaves_a_start_out(view: View, sort: str) -> None:
    assert sorted(map(str, column(report(view, sort=sort), "id"))) == sorted(
        map(str, column(report(view), "id"))
    )


def test_only_some_bands(view: View) -> None:
    every = column(report(view), "stands")
    assert len(set(every)) > 1
    for band in BANDS:
        found = column(report(view, only=[band]), "stands")
        assert found == [one for one in every if one == band]
    some = report(view, only=["untried", "weak"])
    assert set(column(some, "stands")) == {"weak", "untried"}
    assert "only weak or untried" in some.title
    none = report(view, "air", only=["holds"])
    assert none.rows == ()
    assert none.notes == ("There is no start of this kind: holds.",)


def test_advanced_sees_what_every_chance_rests_on(view: View) -> None:
    """The interval and the tries of start and join, which an adult sees of the start alone."""
    table = report(as_level(view, "advanced"))
    tried = [row for row in named(table) if isinstance(row["tries"], int) and row["tries"] >= 3]
    assert tried
    for cells in tried:
        assert str(cells["next_try"]).endswith(f" ({cells['tries']})")
        assert "-" in str(cells["next_try"])
        if isinstance(cells["join_tries"], int) and cells["join_tries"] >= 3:
            assert str(cells["join"]).endswith(f" ({cells['join_tries']})")
    adult = report(view)
    assert not any("(" in str(cell) for cell in column(adult, "next_try"))
    for width in (60, 80, 120):
        text = "\n".join(as_lines(table, width=width))
        assert "join" in text.splitlines()[2]
        assert "in brackets" in " ".join(text.split())


def test_a_child_sees_no_chance_in_any_order(view: View) -> None:
    for sort in SORTS:
        text = "\n".join(as_lines(report(as_level(view, "child"), sort=sort)))
        assert "%" not in text
        assert " of " not in text
