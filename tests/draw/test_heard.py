"""What was heard, on the written page."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.listen.build import PIECE, chords, heard, played
from trainer.draw.heard import HeardPage, heard_page
from trainer.draw.layout import Style
from trainer.draw.text import cells
from trainer.listen.model import Heard

SIGNS = {
    "wrong": "×", "missed": "!", "extra": "+", "earlier": "(",
    "again": "«", "left": "»", "waited": "…", "ended": "■",
}  # fmt: skip


def page(notes: list[Heard], asked: int = 2, width: int = 80, *, ascii: bool = False) -> HeardPage:
    return heard_page(heard(notes, asked), PIECE, Style(width, ascii=ascii))


def text(found: HeardPage) -> str:
    return "\n".join(line.rstrip() for line in found.lines)


CLEAN = list(played(chords(16, 36)))
FAULTY = [
    *CLEAN[:3],  # the fourth note is left out
    *CLEAN[4:7],
    replace(CLEAN[7], pitch=CLEAN[7].pitch + 1),
    *CLEAN[8:11],
    replace(CLEAN[10], pitch=CLEAN[10].pitch + 5, time=CLEAN[10].time + 0.2),
    *CLEAN[11:],
]


def test_what_went_wrong_is_marked_where_it_is_written() -> None:
    assert text(page(FAULTY, width=60)).startswith(
        """\
      5                 6
                       ×G♯     +A
                 ─A══─
 ┃────────────F══─────┬×G══─F══─────────┐
 ┃────────────────────┼──────── E══─D══─┤
R┃─────── C══─────────┼─────────────────┤
 ┃G── A══─────────────┼─────────────────┤
 ┃────────────────────┴─────────────────┘
      1   2   3   4     1   2   3   4
 ┃───────────!A══════─┬─────────────────┐
"""
    )


def test_nothing_is_marked_where_all_was_right() -> None:
    found = page(list(played(chords(16, 64))))
    assert text(found).endswith("All that was played is as written.")
    assert {spot.kind for spot in found.spots} <= {"quiet"}


def test_nothing_is_drawn_where_nothing_was_recognised() -> None:
    assert page([]).lines == ()
    assert page([Heard(21, n / 3) for n in range(12)]).lines == ()


def test_the_page_goes_no_further_than_the_playing() -> None:
    found = page(list(played(chords(16, 28))))
    assert "8" not in found.lines[0]
    assert "■ ended" in found.lines[-1]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 30), st.sampled_from(["miss", "wrong", "extra"]))),
    st.sampled_from([60, 80, 120]),
    st.booleans(),
)
def test_every_spot_has_its_sign_and_every_line_its_width(
    faults: list[tuple[int, str]], width: int, ascii: bool
) -> None:
    notes = list(CLEAN)
    for place, kind in faults:
        one = notes[place % len(notes)]
        if kind == "miss":
            notes.remove(one)
        else:
            moved = replace(one, pitch=one.pitch + 1, time=one.time + 0.1 * (kind == "extra"))
            notes[notes.index(one) : notes.index(one) + (kind == "wrong")] = [moved]
        if len(notes) < 8:
            break
    notes.sort(key=lambda note: note.time)
    found = page(notes, width=width, ascii=ascii)
    assert all(cells(line) <= width for line in found.lines)
    assert not ascii or text(found).isascii()
    said = {spot.kind for spot in found.spots} - {"quiet"}
    for spot in found.spots:
        there = found.lines[spot.line][spot.column : spot.column + spot.cells]
        assert there.strip(), spot
        if spot.kind in SIGNS and not ascii:
            assert SIGNS[spot.kind] in there
    if found.lines and not ascii:  # each sign that stands there is named under the page
        assert all(SIGNS[kind] in found.lines[-1] for kind in said)
