"""Whole screens as text, at the size they are made for and at the smallest.

After a wanted change: `TRAINER_LOOKS=write python -m pytest tests/ui/test_looks.py`, then look
at the difference before it is committed.
"""

import os
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.pieces import NOON, Clock, desk_at, piece_of, tune
from tests.ui.stage import Size, Stage, opened, play
from trainer.deck import edit
from trainer.deck.model import Piece
from trainer.demo import demo_pieces
from trainer.desk import Desk
from trainer.desk.views import Views
from trainer.memory.outlook import Outlook
from trainer.memory.planner import NextCall
from trainer.record.attempt import Outcome
from trainer.record.people import ProgrammeItem, Recital, Student
from trainer.record.plan import Plan, Slot
from trainer.reports.view import View
from trainer.ui.theme import DARK, GREY, LIGHT, THEMES

LOOKS = Path(__file__).parent / "looks"
SIZES: tuple[Size, ...] = ((80, 24), (60, 20))
WIDE: Size = (120, 40)
SCENES: dict[str, list[str]] = {
    "today": [],
    "call": ["enter"],
    "next_call": ["enter", "b"],
    "hint": ["enter", "n", "h", "h"],
    "elsewhere": ["enter", "e", "2"],
    "over": ["enter", "t", "n", "q"],
    "retention": ["r", "down"],
    "map": ["m", "right", "right"],
    "start": ["m", "right", "right", "enter"],
    "start_untried": ["m", *["right"] * 7, "enter"],
    "hands": ["m", *["right"] * 7, "enter"],
    "hands_below": ["m", *["right"] * 7, "enter", *["pagedown"] * 2],
    "prepare": ["m", "e", "right", "full_stop"],
    "look_alikes": ["m", "e", "k", "n", "4", "enter"],
    "drill_help": ["enter", "question_mark"],
    "recital": ["e"],
    "recital_stages": ["e", "right"],
    "recital_way_back": ["e", "right", "right"],
    "students": ["s", "a", "K", "full_stop", "enter"],
    "settings": ["t", "down"],
    "other_drills": ["d"],
    "run_through": ["d", "7", "enter", "enter", "s", "s", "w", "9", "enter", "enter"],
    "slip": ["d", "8", "enter", "enter"],
}
# These are looked at in a wide terminal too, and in plain signs.
MORE = (
    "today", "next_call", "retention", "map", "start", "hands", "hands_below", "prepare",
    "recital", "students", "settings",
)  # fmt: skip
BY_EAR = ("by_ear", "told", "heard")  # of `test_by_ear.py`, each also in plain signs
WHYS = ("It would probably not hold on the day of School concert.", "It was not tried yet.")


class ScriptedViews(Views):
    """Views whose planner always says the same, so that the looks are those of the screens."""

    def of(self, student: Student, **more: Any) -> View:
        view = super().of(student, **more)
        starts = [start for start in view.starts() if start[1].id in view.open]
        slots = [
            Slot(piece.deck.id, start.id, WHYS[start.number % 2], 25.0) for piece, start in starts
        ]
        calls = {
            slot.start: NextCall(slot.deck, slot.start, view.day + timedelta(days=1 + n // 3))
            for n, slot in enumerate(slots)
        }
        if view.recital:
            view.__dict__["outlook"] = Outlook(
                "r",
                view.recital.day,
                12,
                9,
                8.0,
                6.8,
                6,
                8,
                3.0,
                early=False,
                minutes_wanted=14.0,
                by_deck=(("air", 1.6), ("waltz", 5.2)),
            )
        view.__dict__["plan"] = Plan(student.id, view.day, tuple(slots))
        view.__dict__["next_calls"] = calls
        return view


def week(folder: Path) -> Desk:
    """A desk after a week with two pieces: a concert is near, most starts are open."""
    made = desk_at(folder / "a.db", Clock())
    desk = Desk(made.store, made.clock, made.new_id, made.rng)
    desk.views = ScriptedViews(made.store, made.clock, made.new_id, made.rng, made.settings)
    for title, bars, name in (("Waltz in [G]", 32, "waltz"), ("Air", 16, "air")):
        score = tune(bars, upbeat=name == "air", title=title)
        begins = range(0, 12 * (bars // 4), 12)
        desk.store.pieces.add(piece_of(score, begins, name), "test")
    student = desk.students.add("M.")
    desk.store.settings.set("caution seen", "yes")
    for name, numbers in (("waltz", range(1, 8)), ("air", range(1, 3))):
        desk.pieces.set_open(student, desk.store.pieces.deck(name), numbers, opened=True)
    for day, outcomes in ((6, "tnttst"), (4, "tntbst"), (1, "tntttt")):
        desk.clock.now -= timedelta(days=day)  # type: ignore[attr-defined]
        for number, letter in zip((4, 1, 6, 3, 5, 2), outcomes, strict=True):
            outcome = next(one for one in Outcome if one.value[0] == letter)
            desk.attempts.add(
                desk.views.of(student), desk.store.pieces.deck("waltz"), number, outcome
            )
        desk.clock.now += timedelta(days=day)  # type: ignore[attr-defined]
    concert = desk.views.of(student).day + timedelta(days=12)
    programme = (ProgrammeItem("waltz"), ProgrammeItem("air"))
    desk.store.recitals.save(Recital("r", student.id, "School concert", concert, programme))
    return desk


def hands(folder: Path) -> Desk:
    """A desk with a piece for two hands, all of it learned, and three weeks of tries: start 8
    was often taken for another one, once at a lesson."""
    desk = desk_at(folder / "a.db", Clock())
    (piece,) = (one for one in demo_pieces() if one.deck.title.startswith("Lanterns"))
    advised = edit.advise(piece, 8, ("Hear its first chord before you begin.",))
    piece = Piece(edit.finger(Piece(advised, piece.score), 8, "R 1-2-3"), piece.score)
    desk.store.pieces.add(piece, "test")
    student = desk.students.add("M.")
    desk.store.settings.set("caution seen", "yes")
    numbers = [start.number for start in piece.deck.starts]
    desk.pieces.set_open(student, piece.deck, numbers, opened=True)
    tries = {8: "eltbetsen", 3: "tttttt", 5: "ttt", 10: "tsttb", 7: "tb"}
    for number, outcomes in tries.items():
        for day, letter in enumerate(outcomes):
            desk.clock.now = NOON + timedelta(hours=number, days=2 * day - 20)  # type: ignore[attr-defined]
            outcome = next(one for one in Outcome if one.value[0] == letter)
            fields: dict[str, object] = {}
            if letter == "e":
                fields = {"elsewhere": piece.deck.starts[9 - day].id, "judge": "teacher"}
            if letter == "l":
                fields = {"hints": ("key and count", "harmony")}
            if letter == "b":
                fields = {"broke_at": piece.deck.starts[number - 1].onset + 4}
            desk.attempts.add(desk.views.of(student), piece.deck, number, outcome, **fields)
    desk.clock.now = NOON  # type: ignore[attr-defined]
    concert = desk.views.of(student).day + timedelta(days=12)
    programme = (ProgrammeItem(piece.deck.id),)
    desk.store.recitals.save(Recital("r", student.id, "School concert", concert, programme))
    return desk


def desk_of(name: str, folder: Path) -> Desk:
    return hands(folder) if name.startswith("hands") else week(folder)


async def looked_at(name: str, size: Size, folder: Path, *, ascii: bool = False) -> None:
    """Compare a scene with its look, or write the look anew."""
    async with opened(desk_of(name, folder), size=size, ascii=ascii) as stage:
        await stage.press(*SCENES[name])
        compare(stage, name, size, ascii=ascii)


def compare(stage: Stage, name: str, size: Size, *, ascii: bool = False) -> None:
    """What stands on the stage now against its look."""
    assert len(stage.lines) == size[1]
    look = LOOKS / f"{name}_{size[0]}x{size[1]}{'_ascii' * ascii}.txt"
    if os.environ.get("TRAINER_LOOKS") == "write":
        look.write_text(stage.text.rstrip() + "\n", encoding="utf-8")
    assert stage.text.rstrip() + "\n" == look.read_text(encoding="utf-8")
    assert not ascii or stage.text.isascii()


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("name", SCENES)
def test_look(name: str, size: Size, tmp_path: Path) -> None:
    play(lambda: looked_at(name, size, tmp_path))


@pytest.mark.parametrize("name", MORE)
def test_look_in_a_wide_terminal(name: str, tmp_path: Path) -> None:
    play(lambda: looked_at(name, WIDE, tmp_path))


@pytest.mark.parametrize("name", MORE)
def test_look_in_plain_signs(name: str, tmp_path: Path) -> None:
    play(lambda: looked_at(name, (80, 24), tmp_path, ascii=True))


def test_no_look_is_left_over() -> None:
    made = {f"{name}_{wide}x{high}" for name in SCENES for wide, high in SIZES}
    made |= {f"{name}_{WIDE[0]}x{WIDE[1]}" for name in MORE} | {f"{n}_80x24_ascii" for n in MORE}
    made |= {f"{n}_{w}x{h}{a}" for n in BY_EAR for w, h in SIZES for a in ("", "_ascii")}
    assert {look.stem for look in LOOKS.glob("*.txt")} == made


@pytest.mark.parametrize("name", SCENES)
def test_without_colour_nothing_is_lost(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With NO_COLOR (no-color.org) all is drawn in greys, and the text is the same."""
    monkeypatch.setenv("NO_COLOR", "1")

    async def scene() -> None:
        async with opened(desk_of(name, tmp_path)) as stage:
            assert stage.app.no_color
            await stage.press(*SCENES[name])
            look = LOOKS / f"{name}_80x24.txt"
            assert stage.text.rstrip() + "\n" == look.read_text(encoding="utf-8")
            for red, green, blue in _colours(stage.app.export_screenshot()):
                assert max(red, green, blue) - min(red, green, blue) <= 2

    play(scene)


def _colours(svg: str) -> list[tuple[int, int, int]]:
    import re

    body = svg[svg.index("-matrix {") :]
    found = set(re.findall(r"fill: #([0-9a-f]{6})", body)) - {"c5c8c6"}  # the frame's title
    assert found
    return [(int(c[:2], 16), int(c[2:4], 16), int(c[4:], 16)) for c in found]


def _luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, "relative luminance")."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    lines = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * lines[0] + 0.7152 * lines[1] + 0.0722 * lines[2]


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
def test_every_ink_can_be_read(theme: object) -> None:
    """Contrast of at least 4.5 to 1 on both grounds (WCAG 2.2, 1.4.3, level AA)."""
    from textual.theme import Theme

    assert isinstance(theme, Theme)
    inks = {"ink": str(theme.foreground), **theme.variables}
    for ground in (str(theme.background), str(theme.panel)):
        for name, ink in inks.items():
            light, dark = sorted((_luminance(ink), _luminance(ground)), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= 4.5, (name, ground)


def test_the_contrast_formula_on_known_pairs() -> None:
    """Black on white is 21 to 1, and #767676 on white just passes: W3C's own examples."""
    assert (_luminance("#ffffff") + 0.05) / (_luminance("#000000") + 0.05) == pytest.approx(21)
    assert 4.5 <= (_luminance("#ffffff") + 0.05) / (_luminance("#767676") + 0.05) < 4.6


def test_there_is_a_dark_a_light_and_a_grey_form() -> None:
    assert {theme.name: theme.dark for theme in THEMES} == {DARK: True, LIGHT: False, GREY: False}
