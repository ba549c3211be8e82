"""A teacher's week with several pupils, by commands alone: who is a pupil, what is open for whom,
and what goes between the teacher's machine and theirs."""

from __future__ import annotations

import shlex
from datetime import timedelta
from html import escape
from pathlib import Path

import pytest

from tests.pieces import piece_of, tune
from tests.scenes.machines import NOON, Machine
from trainer.deck.file import read_deck, write_deck


def machine(folder: Path, name: str) -> Machine:
    (folder / name).mkdir()
    return Machine(folder / name / "t.db")


@pytest.fixture
def teacher(tmp_path: Path) -> Machine:
    """A teacher with two pieces of four starts, who has opened some to look at them."""
    made = machine(tmp_path, "teacher")
    for name in ("study", "air"):
        file = tmp_path / f"{name}.json"
        piece = piece_of(tune(16, title=name.capitalize()), range(0, 48, 12), name)
        file.write_text(write_deck(piece))
        made.do("deck", "in", file)
    made.do("open", 1, "all")
    return made


def names(of: Machine) -> list[str]:
    return [str(row["student"]) for row in of.rows("student", "list")]


def is_open(of: Machine, student: str) -> list[int]:
    """The numbers of the open starts of the first piece."""
    told = of.told("lesson", 1, "-s", student)["starts"]
    return [one["number"] for one in told]


def test_a_teacher_who_opens_starts_is_no_pupil(teacher: Machine) -> None:
    assert names(teacher) == ["me"]
    teacher.do("student", "add", "A.")
    assert names(teacher) == ["A."]
    assert [one["name"] for one in teacher.told("studio")["members"]] == ["A."]
    assert "Settings of A." in teacher.do("settings", "list")
    assert "Today for me" in teacher.do("today", "-s", "me")
    teacher.do("record", 1, 1, "through", "-s", "me")
    assert names(teacher) == ["me", "A."]


@pytest.mark.parametrize(
    "own",
    [
        ("own", 1, 1, "--words", "sing"),
        ("note", "well"),
        ("recital", "set", "Concert", "2026-06-01", 1),
        ("settings", "set", "minutes", "5"),
        ("settings", "set", "names", "german"),
        ("student", "choose"),
    ],
    ids=lambda words: " ".join(map(str, words[:2])),
)
def test_one_of_whom_more_is_kept_is_a_pupil(teacher: Machine, own: tuple[object, ...]) -> None:
    teacher.do("student", "add", "A.")
    teacher.do(*own, *(["me"] if own[-1] == "choose" else ["-s", "me"]))
    assert names(teacher) == ["me", "A."]


def test_what_was_open_stays_open_when_it_is_split(teacher: Machine, tmp_path: Path) -> None:
    """For every pupil, on every machine; what a pupil has closed stays closed."""
    for name, which in (("A.", "1-2"), ("B.", "1"), ("C.", "all")):
        teacher.do("student", "add", name)
        teacher.do("open", 1, which, "-s", name)
    home = machine(tmp_path, "home")
    first, second = tmp_path / "one.json", tmp_path / "two.json"
    teacher.do("deck", "out", 1, first)
    teacher.do("records", "out", tmp_path / "A.json", "-s", "A.")
    home.do("deck", "in", first)
    home.do("records", "in", tmp_path / "A.json")

    teacher.do("start", "split", 1, 2, "6")
    teacher.do("start", "split", 1, 3, "7")  # a part of a part
    teacher.do("start", "add", 1, "2")
    teacher.do("deck", "out", 1, second)
    home.do("deck", "in", second, "--yes")
    assert is_open(teacher, "A.") == is_open(home, "A.") == [1, 2, 3, 4, 5]
    assert is_open(teacher, "B.") == [1, 2]
    assert is_open(teacher, "C.") == [1, 2, 3, 4, 5, 6, 7]
    assert is_open(teacher, "me") == [1, 2, 3, 4, 5, 6, 7]

    home.do("close", 1, "4", at=NOON + timedelta(hours=1))
    home.do("records", "out", tmp_path / "back.json")
    teacher.do("records", "in", tmp_path / "back.json")
    teacher.do("start", "label", 1, 4, "here")
    teacher.do("deck", "out", 1, tmp_path / "three.json")
    home.do("deck", "in", tmp_path / "three.json", "--yes")
    assert is_open(teacher, "A.") == is_open(home, "A.") == [1, 2, 3, 5]


def test_homework_comes_first_travels_and_ends(teacher: Machine, tmp_path: Path) -> None:
    teacher.do("student", "add", "A.")
    teacher.do("open", 1, "1-3", "-s", "A.")
    for number in (1, 2, 3):
        teacher.do("record", 1, number, "through", "-s", "A.")
    said = teacher.do("homework", 1, "2,4", "--until", "Friday", "-s", "A.")
    assert said == "Homework until Friday 6 March: drill Study 2; learn Study 4, then open it."
    home = machine(tmp_path, "home")
    teacher.do("deck", "out", 1, tmp_path / "study.deck")
    teacher.do("records", "out", tmp_path / "A.json", "-s", "A.")
    home.do("deck", "in", tmp_path / "study.deck")
    home.do("records", "in", tmp_path / "A.json")
    for days in (1, 2, 3, 4):
        told = home.told("today", at=NOON + timedelta(days=days))
        assert said in told["notes"]
        first = told["rows"][0]
        assert (first["start"], first["why"]) == (
            2, "Your teacher asks for it until Friday 6 March.",
        )  # fmt: skip
        assert home.rows("homework", at=NOON + timedelta(days=days))[1]["start"] == 4
    home.do("record", 1, 2, "through", at=NOON + timedelta(days=2, hours=1))
    calls = home.rows("retention", at=NOON + timedelta(days=2, hours=2))
    assert next(row["next_call"] for row in calls if row["start"] == 2) == "2026-03-05"
    home.do("open", 1, 4, at=NOON + timedelta(days=4))
    starts = [row["start"] for row in home.rows("today", at=NOON + timedelta(days=4))]
    assert set(starts[:2]) == {2, 4}
    over = home.told("today", at=NOON + timedelta(days=5))
    assert not any("omework" in note for note in over["notes"])
    assert home.rows("homework", at=NOON + timedelta(days=5)) == []
    late = NOON + timedelta(days=5)
    assert home.do("check", at=late) == "Nothing is wrong with the database."


def test_homework_can_be_taken_back_and_a_day_that_is_over_is_refused(teacher: Machine) -> None:
    teacher.do("student", "add", "A.")
    teacher.do("homework", 1, "2-3")
    assert teacher.do("homework", 1, 2, "--over") == (
        "Homework until Monday 9 March: learn Study 3, then open it."
    )
    assert teacher.do("homework", 1, 3, "--over") == "No homework for A. in Study."
    code, said = teacher("homework", 1, 3, "--until", "yesterday")
    assert (code, "in the past" in said) == (1, True)
    assert teacher.rows("homework") == []


def test_a_group_is_served_in_one_go(teacher: Machine, tmp_path: Path) -> None:
    for name in ("A.", "A", "B.", "C."):
        teacher.do("student", "add", name)
        if name != "C.":
            teacher.do("settings", "set", "group", "Tuesday class,  Concert", "-s", name)
    teacher.do("open", 1, "1-2", "-s", "tuesday class")
    teacher.do("open", 2, "1", "-s", "B.")
    assert [is_open(teacher, name) for name in ("A.", "A", "B.", "C.")] == [[1, 2]] * 3 + [[]]
    told = teacher.do("homework", 1, "2", "-s", "Concert", "--until", "Friday")
    assert told.count("Homework until Friday 6 March: drill Study 2.") == 3
    for day in ("2026-06-01", "2026-06-02"):  # then the day alone is changed
        teacher.do("recital", "set", "Concert", day, "-s", "Concert")
        for name, programme in (("A.", "Study"), ("B.", "Study, Air")):
            assert teacher.rows("recital", "list", "-s", name)[0]["programme"] == programme
    teacher.do("calendar", "--out", tmp_path / "all.ics", "-s", "Tuesday class")
    calendar = (tmp_path / "all.ics").read_text()
    assert all(f"({name})" in calendar for name in ("A.", "A", "B."))
    assert "(C.)" not in calendar

    out = tmp_path / "out"
    teacher.do("hand-out", out, "-s", "Tuesday class")
    files = sorted(str(file.relative_to(out)) for file in out.rglob("*") if file.is_file())
    one = ["a.record.json", "for-the-family.html", "study.deck.json"]
    assert files == [
        *(f"a-2/{name}" for name in one),
        *(f"a/{name}" for name in one),
        *(f"b/{name}" for name in ("air.deck.json", "b.record.json", *one[1:])),
    ]
    before = [(out / file).read_bytes() for file in files]
    code, said = teacher("hand-out", out, "-s", "Tuesday class")
    assert (code, "exists already" in said) == (1, True)
    assert [(out / file).read_bytes() for file in files] == before
    assert teacher.do("student", "add", "Concert") == "Added: Concert."
    assert is_open(teacher, "Concert") == []


def test_two_pieces_of_one_name_are_both_handed_out(teacher: Machine, tmp_path: Path) -> None:
    teacher.do("piece", "rename", 2, "Study")
    teacher.do("open", 2, "1")
    teacher.do("hand-out", tmp_path / "out")
    names = ["study.deck.json", "study-2.deck.json"]
    decks = [read_deck(tmp_path / "out" / name).deck.id for name in names]
    assert len(set(decks)) == 2
    page = teacher.told("family")["take_in"]["items"]
    assert [line.split()[-1].strip('"') for line in page[:-1]] == names


def test_on_the_day_of_the_recital_homework_is_no_more_than_the_warm_up(teacher: Machine) -> None:
    teacher.do("student", "add", "A.")
    teacher.do("open", 1, "all")
    for number in (1, 2, 3, 4):
        teacher.do("record", 1, number, "through")
    teacher.do("homework", 1, "all", "--until", "tomorrow")
    teacher.do("recital", "set", "Concert", "tomorrow")
    rows = teacher.rows("today", at=NOON + timedelta(days=1))
    assert rows
    assert {row["why"] for row in rows} == {"A warm-up for Concert today."}


def test_the_page_for_the_family_is_true(teacher: Machine, tmp_path: Path) -> None:
    """What it says to type works on a machine that has nothing, but for setting Python up."""
    teacher.do("student", "add", "K. [b]", "--level", "child")
    teacher.do("open", 1, "1-2")
    teacher.do("homework", 1, "2", "--until", "Friday")
    teacher.do("hand-out", tmp_path / "k")
    page = teacher.told("family")
    home = machine(tmp_path, "home")
    typed = [*page["take_in"]["items"], *page["send_back"]["items"]]
    assert len(typed) == 3
    for line in typed:
        program, *words = shlex.split(line)
        assert program == "trainer"
        home.do(*(tmp_path / "k" / word if word.endswith(".json") else word for word in words))
    assert "Your teacher asks for it until Friday 6 March." in home.do("today")
    assert "Homework until Friday 6 March: drill Study 2." in page["drill"]["homework"]
    shown = (tmp_path / "k" / "for-the-family.html").read_text()
    assert all(escape(line, quote=False) in shown for line in typed)


def test_a_teacher_sees_a_childs_chances_and_the_child_does_not(teacher: Machine) -> None:
    teacher.do("student", "add", "K.", "--level", "child")
    teacher.do("open", 1, "all", "-s", "K.")
    teacher.do("record", 1, 1, "through", "-s", "K.")
    for words in (("retention",), ("map", 1), ("start", "show", 1, 1)):
        assert "1 of 1" in teacher.do(*words, "-s", "K.", "--full")
        assert "1 of 1" not in teacher.do(*words, "-s", "K.")
