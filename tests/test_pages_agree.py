"""A desk of eight students, and every number that two pages tell: they are the same."""

from __future__ import annotations

import re
from collections import Counter
from datetime import timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest

from tests.paper.build import Node, read
from tests.pieces import NOON, Clock, desk_at, piece_of, tune
from tests.scenes.machines import Machine
from tests.ui.stage import opened, play
from trainer.desk import Desk
from trainer.draw.words import BAND_SIGNS, percent
from trainer.memory.model import band_of
from trainer.practice.exercise import Act
from trainer.record.attempt import Outcome
from trainer.record.people import Level, ProgrammeItem, Student
from trainer.reports.studio import GOES_ON, NEAR, READY_DAYS

NAMES = ("A.", "B.", "C.", "D.", "E.", "F.", "G.", "H.")
LEVELS: dict[str, Level] = {"B.": "advanced", "C.": "child"}
DAYS = 24  # of practice that is played before
RECITALS = {"A.": 5, "B.": 12, "C.": 20, "D.": 27, "E.": 45, "F.": 1}
RESULTS = (Outcome.THROUGH, Outcome.BROKE_OFF, Outcome.STOPPED, Outcome.NOTHING, Outcome.LOOKED)
LEFT_OUT = "study-s2"  # for one student
END = NOON + timedelta(days=DAYS)
Rows = list[dict[str, Any]]


def furnished(path: Path) -> Desk:
    """Two pieces, one with an upbeat and a start that is a student's own to leave out; eight
    students who have practised in their own ways, some of them today."""
    clock, rng = Clock(NOON), Random(11)
    desk = desk_at(path, clock)
    desk.store.pieces.add(piece_of(tune(32, title="Study"), range(0, 96, 12), "study"), "test")
    lied = tune(20, title="Air", upbeat=True)
    desk.store.pieces.add(piece_of(lied, range(0, 60, 12), "air"), "test")
    students = [desk.students.add(name, level=LEVELS.get(name, "adult")) for name in NAMES]
    for n, student in enumerate(students):
        furnish(desk, student, n)
    for day in range(DAYS + 1):
        clock.now = NOON + timedelta(days=day)
        for n, student in enumerate(students):
            if n != 7 and rng.random() < 0.75:  # one never practises
                practise(desk, clock, student, n, Random(f"{n} {day}"))
            clock.now = NOON + timedelta(days=day)
    clock.now = END
    desk.store.settings.set("caution seen", "yes")
    for student in students:
        if student.name in RECITALS:
            on = desk.views.of(student).day + timedelta(days=RECITALS[student.name])
            items = [ProgrammeItem("study"), ProgrammeItem("air", "optional")]
            desk.recitals.set(student, "Concert", on, items)
    return desk


def furnish(desk: Desk, student: Student, n: int) -> None:
    study, air = desk.store.pieces.deck("study"), desk.store.pieces.deck("air")
    desk.pieces.set_open(student, study, range(1, 9 - n % 3), opened=True)
    if n % 2:
        desk.pieces.set_open(student, air, range(1, 4), opened=True)
    if n == 3:
        desk.own.set(student, study, study.starts[1], {"left out": "yes"})


def practise(desk: Desk, clock: Clock, student: Student, n: int, rng: Random) -> None:
    """A day: some attempts, of a skill that is each start's own; now and then a run-through, or a
    lesson at which the teacher judges."""
    judge = "teacher" if rng.random() < 0.1 else "self"
    view = desk.views.of(student)
    for deck in ("study", "air"):
        starts = [one for one in view.decks[deck].starts if one.id in view.open]
        rng.shuffle(starts)
        for start in starts[: rng.randrange(6)]:
            clock.later(minutes=12)
            skill = (start.number * 3 + n) % 9 / 9
            weights = (skill, 0.3 * (start.number == 4), 0.1, 1 - skill, 0.1)
            outcome = rng.choices(RESULTS, weights)[0]
            desk.attempts.add(
                view, view.decks[deck], start.number, outcome, judge=judge, seconds=20.0
            )
    if rng.random() < 0.2:
        run = desk.exercises.run(view, "study")
        clock.later(seconds=40)
        run = desk.exercises.act(run, Act.SLIP, broke_at=view.decks["study"].starts[3].onset)
        clock.later(seconds=30)
        desk.exercises.act(run, Act.END if rng.random() < 0.5 else Act.STOP)


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("eight") / "a.db"
    furnished(path).store.close()
    return path


class Pages:
    """What the commands tell of one student, each page once."""

    def __init__(self, path: Path, name: str) -> None:
        self.machine, self.name, self.path = Machine(path, zone=0.0), name, path

    def rows(self, *words: object) -> Rows:
        return self.machine.rows(*words, "-s", self.name, at=END)

    def told(self, *words: object) -> Any:
        return self.machine.told(*words, "-s", self.name, at=END)

    def text(self, *words: object) -> str:
        return self.machine.do(*words, "-s", self.name, at=END)

    def printed(self, folder: Path, *words: object) -> Node:
        out = folder / "page.html"
        self.text("print", *words, "--out", out, "--replace")
        return read(out.read_text())

    @property
    def of_studio(self) -> dict[str, Any]:
        found = self.machine.told("studio", at=END)
        (member,) = [one for one in found["members"] if one["name"] == self.name]
        playing = [one["programme"] for one in found["playing"] if one["name"] == self.name]
        return {**member, "programmes": playing}


@pytest.fixture(params=NAMES)
def pages(request: pytest.FixtureRequest, path: Path) -> Pages:
    return Pages(path, request.param)


def standing(pages: Pages) -> dict[str, dict[str, Any]]:
    """The rows of retention, by the ids of starts."""
    return {row["id"]: row for row in pages.rows("retention")}


def test_how_a_start_stands_is_the_same_on_every_page(pages: Pages) -> None:
    known = standing(pages)
    counts: Counter[tuple[str, str]] = Counter()
    for number, deck in ((1, "Study"), (2, "Air")):
        for one in pages.told("map", number)["starts"]:
            row = known.get(one["id"])
            stands = row["stands"] if row else "untried"
            if (pages.name, one["id"]) == ("D.", LEFT_OUT):
                continue  # it is shown where it lies, and counted nowhere
            counts[deck, stands] += 1
            assert one["stands"] == stands == band_of(one["chance"])
            assert one["stuck"] == (row is not None and row["stuck"])
            assert one["chance"] == (row["chance"] if row else None)
    for row in known.values():
        assert row["stands"] == band_of(row["chance"])
        assert row["is"] == row["stands"]
        if row["chance"] is not None and row["join_chance"] is not None:
            assert row["chance"] == pytest.approx(row["start_chance"] * row["join_chance"])
    for piece in pages.rows("pieces"):
        assert {band: piece[band] for band in BAND_SIGNS} == {
            band: counts[piece["piece"], band] for band in BAND_SIGNS
        }


def test_one_start_says_of_itself_what_the_lists_say(pages: Pages) -> None:
    known = standing(pages)
    for deck, row in [(1 if r["piece"] == "Study" else 2, r) for r in known.values()][::3]:
        one = pages.told("start", "show", deck, row["start"])
        assert one["both"]["chance"] == row["chance"]
        assert one["both"]["stands"] == row["stands"]
        assert one["stuck"] == row["stuck"]
        assert one["both_then"]["chance"] == row["day_chance"]
        assert one["ahead"][-1]["both"] == row["day_chance"]
        text = pages.text("start", "show", deck, row["start"])
        assert f"{BAND_SIGNS[row['stands']]} {row['stands']};" in text


def test_the_lesson_page_tells_the_same(pages: Pages) -> None:
    known = standing(pages)
    found = pages.told("lesson")
    assert {one["start"] for one in found["starts"]} <= set(known)
    for one in found["starts"]:
        row = known[one["start"]]
        told = (row["chance"], row["stands"], row["stuck"])
        assert (one["chance"], one["band"], one["stuck"]) == told
    untried = {one["start"] for one in found["untried"]}
    assert untried == {one["start"] for one in found["starts"] if one["band"] == "untried"}
    weakest = [one["chance"] for one in found["weakest"]]
    every = sorted(one["chance"] for one in found["starts"] if one["chance"] is not None)
    assert weakest == every[:3]


def test_what_is_likely_to_fail_is_one_number(pages: Pages, tmp_path: Path) -> None:
    """On the readiness page, in the studio, on the print, and as the sum over the starts."""
    member = pages.of_studio
    if pages.name not in RECITALS:
        assert member["programmes"] == []
        return
    known = standing(pages)
    (programme,) = member["programmes"]
    by_deck = {one["deck"]: one for one in programme["pieces"]}
    rows = {row["id"]: row for row in pages.rows("readiness")}
    printed = pages.printed(tmp_path, "recital", "--full")
    cells = [cell.text for cell in printed.all("td")]
    near = RECITALS[pages.name] <= READY_DAYS
    total = 0.0
    for deck, row in rows.items():
        opened = [start for start in pages.told("lesson")["starts"] if start["deck"] == deck]
        chances = [known[one["start"]]["day_chance"] for one in opened]
        lost = sum(1 - chance for chance in chances if chance is not None)
        total += lost
        assert row["as_it_is"] == round(lost, 1)
        assert f"{row['as_it_is']:g}" in cells or str(row["as_it_is"]) in cells
        assert row["open"] == len(opened) == by_deck[deck]["open"]
        assert row["untried"] == sum(chance is None for chance in chances)
        assert row["closed"] == by_deck[deck]["closed"]
        if near:
            assert by_deck[deck]["lost"] == pytest.approx(lost, abs=0.006)
            assert by_deck[deck]["untried"] == row["untried"]
            told = by_deck[deck]["all_hold"]
            assert row["all_hold"] == ("" if told is None else percent(told))
        else:
            assert by_deck[deck]["lost"] is None
    if near and round(total):
        assert member["group"] == NEAR
        assert f"about {round(total)} start" in member["why"]


def test_the_heading_of_a_student_follows_from_what_stands_below_it(pages: Pages) -> None:
    member = pages.of_studio
    if member["group"] == GOES_ON:
        for programme in member["programmes"]:
            assert round(sum(piece["lost"] or 0 for piece in programme["pieces"])) == 0
    assert "well" not in member["group"].split()


def test_who_is_called_where_to_go_on_holds(pages: Pages) -> None:
    """Recovery leads to starts that hold, by the same rule, and to no others."""
    desk = desk_at(pages.path, Clock(END))
    view = desk.views.of(desk.store.students.find(pages.name))
    day = view.day + timedelta(days=1)
    for number, deck in ((1, "study"), (2, "air")):
        holds = {
            f"{start.number}, {view.place(deck, start)}"
            for start in view.decks[deck].starts
            if view.retention(start.id, on=day).band == "holds"
        }
        for row in pages.rows("recovery", number):
            landing = row["go_on_at"]
            assert landing in holds or landing in ("no secure start ahead", "nothing tried yet")
    desk.store.close()


def test_practice_days_and_attempts_are_counted_in_one_way(pages: Pages, tmp_path: Path) -> None:
    first = (END - timedelta(days=6)).date()
    member = pages.of_studio
    practised = pages.told("lesson", "--since", first)["practised"]
    assert practised["days"] == member["week"]
    shown = pages.printed(tmp_path, "term", "--from", first).text
    if practised["tries"]:
        days, times = re.findall(r"On ([\d,]+) days? .*?, ([\d,]+) times? in all", shown)[0]
        assert (int(days), int(times)) == (practised["days"], practised["tries"])
    else:
        assert "No drills were recorded in this period" in shown


def test_what_holds_at_home_is_what_holds(pages: Pages, tmp_path: Path) -> None:
    """The page for those at home names the starts that hold, no more and no fewer."""
    known = standing(pages).values()
    cells = [cell.text.strip() for cell in pages.printed(tmp_path, "term").all("td")]
    told = pages.rows("term")
    for row in told:
        piece = row["piece"]
        holds = [one["start"] for one in known if (one["piece"], one["stands"]) == (piece, "holds")]
        assert sorted(map(int, re.findall(r"\d+", row["numbers"]))) == sorted(holds)
        assert row["places_that_hold"] == len(holds)
        assert row["numbers"] in cells
    assert {row["piece"] for row in told} == {row["piece"] for row in known}


def test_bars_are_counted_in_one_way(pages: Pages, tmp_path: Path) -> None:
    for number, row in enumerate(pages.rows("pieces"), 1):
        shown = pages.printed(tmp_path, "sheet", number).text
        assert f"{row['bars']} bars" in shown


def test_the_day_counts_what_is_left(pages: Pages) -> None:
    rows, text = pages.rows("today"), pages.text("today")
    if rows:
        assert f": {len(rows)} start" in text
    else:
        assert "0 start" not in text
    called = {row["id"] for row in rows}
    assert called <= {one["start"] for one in pages.told("lesson")["starts"]}


@pytest.mark.parametrize("name", ["A.", "D."])
def test_the_screens_show_what_the_commands_tell(path: Path, name: str) -> None:
    """The map, the list of what holds, and the studio, with their signs and figures."""
    pages = Pages(path, name)
    known = standing(pages)
    member = pages.of_studio

    async def scene() -> None:
        desk = desk_at(path, Clock(END))
        async with opened(desk, size=(80, 60), student=name) as stage:
            await stage.press("m")
            view = desk.views.of(desk.store.students.find(name))
            for start in view.decks["study"].starts:
                row = known.get(start.id)
                sign = BAND_SIGNS[row["stands"]] if row else "?"
                assert f"{start.number}{sign}" in stage.text
                if row and row["tries"] >= 3:
                    assert f"{start.number}{sign} {percent(row['chance'])}" in stage.text
            await stage.press("escape", "r")
            several = len({row["piece"] for row in known.values()}) > 1
            for row in known.values():
                piece = row["piece"] if several else ""
                head = rf"{piece} +{row['start']} +{re.escape(row['place'])} "
                line = next(line for line in stage.lines if re.search(head, line))
                sign = BAND_SIGNS[row["is"]]
                assert (f" {sign} stuck " if row["stuck"] else f" {sign} ") in f"{line} "
                assert row["next_try"] in line
            await stage.press("escape", "s", "o")
            text = " ".join(stage.text.split())
            assert member["group"].capitalize() in text
            assert member["why"].split(",")[0] in text

    play(scene)
