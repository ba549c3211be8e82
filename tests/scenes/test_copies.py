"""One teacher's file, copied as a file to three pupils: three people come home, not one.

Everything is said and asked on the command line; the copies are made with no help of the program.
"""

from __future__ import annotations

import csv
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.scenes.machines import Machine
from trainer.demo import bundled

DRILLS = {"a": "t\nt\nb\nq\n", "b": "n\nl\nq\n", "c": "s\ns\ns\ns\nq\n"}
DECK = bundled("decks") / "the-late-ferry.deck.json"


def teacher_of(folder: Path) -> Machine:
    (folder / "teacher").mkdir()
    teacher = Machine(folder / "teacher" / "t.db")
    teacher.do("deck", "in", DECK)
    return teacher


def copy_of(machine: Machine, folder: Path) -> Machine:
    """A plain copy of the file, in a folder of its own."""
    folder.mkdir()
    return Machine(Path(shutil.copy(machine.path, folder / "t.db")))


def drilled(machine: Machine, typed: str) -> list[tuple[Any, ...]]:
    machine.do("drill", "--plain", typed=typed)
    return tries(machine)


def tries(machine: Machine, *words: object) -> list[tuple[Any, ...]]:
    """What tells one child's tries from another's."""
    code, said = machine("attempts", "--csv", *words)
    assert code == 0, said
    rows = csv.DictReader(said.splitlines())
    return sorted((row["id"], row["start id"], row["outcome"], row["machine"]) for row in rows)


@pytest.mark.parametrize("order", ["abc", "cba"])
def test_three_children_with_copies_of_one_file_stay_three(tmp_path: Path, order: str) -> None:
    teacher = teacher_of(tmp_path)
    children = {name: copy_of(teacher, tmp_path / name) for name in DRILLS}
    made = {}
    for name, child in children.items():
        child.do("open", 1, "all")
        made[name] = drilled(child, DRILLS[name])
        child.do("records", "out", tmp_path / f"{name}.json")
    assert [len(found) for found in made.values()] == [3, 2, 4]
    for name in order:
        said = teacher.do("records", "in", tmp_path / f"{name}.json")
        assert "a new student here" in said
    home = [tries(teacher, "-s", number) for number in (1, 2, 3)]
    assert home == [made[name] for name in order]
    machines = {row[-1] for found in home for row in found}
    assert len(machines) == 3
    ids = {row["id"] for row in teacher.rows("student", "list")}
    assert len(ids) == 3
    assert teacher.told("check") == {"sound": True, "findings": []}


def mixed(tmp_path: Path) -> tuple[Machine, dict[str, list[tuple[Any, ...]]]]:
    """A teacher who has practised, then copied the file to two children who practise too; their
    records have come home as those of one student."""
    teacher = teacher_of(tmp_path)
    teacher.do("open", 1, "all")
    made = {}
    for name, child in [(name, copy_of(teacher, tmp_path / name)) for name in "ab"]:
        child.do("own", 1, 2, "--words", f"sing {name}")
        made[name] = drilled(child, DRILLS[name])
        child.do("take-back", made[name][0][0])
        made[name] = tries(child)
        child.do("records", "out", tmp_path / f"{name}.json")
        teacher.do("records", "in", tmp_path / f"{name}.json")
    return teacher, made


def test_two_who_were_taken_for_one_are_told_apart(tmp_path: Path) -> None:
    teacher, made = mixed(tmp_path)
    assert tries(teacher) == sorted(made["a"] + made["b"])
    (note,) = teacher.told("check")["findings"]
    assert note["weight"] == "note"
    assert 'The attempts of "me" come from 2 machines' in note["what"]
    assert "`trainer records separate me` tells them apart" in note["what"]
    shares = teacher.rows("records", "separate", "me")
    assert sorted(row["attempts"] for row in shares) == sorted(len(made[name]) for name in "ab")
    machine = made["b"][0][-1]
    said = teacher.do("records", "separate", "me", "--machine", machine[:10], "--name", "B.")
    assert "1 attempt of that machine is B.'s now" in said
    assert tries(teacher, "-s", "me") == made["a"]
    assert sorted(row[1:] for row in tries(teacher, "-s", "B.")) == sorted(
        row[1:] for row in made["b"]
    )
    for name, words in (("me", "sing a"), ("B.", "sing b")):
        assert teacher.told("start", "show", 1, 2, "-s", name)["advice"][-1] == words
        assert all(row["open"] for row in teacher.rows("starts", 1, "-s", name))
    assert teacher.told("check") == {"sound": True, "findings": []}
    # Once more nothing changes; what comes later from there is separated by the same words.
    before = tries(teacher, "-s", "me"), tries(teacher, "-s", "B.")
    teacher.do("records", "in", tmp_path / "b.json")
    teacher.do("records", "separate", "me", "--machine", "", "--json")
    assert (tries(teacher, "-s", "me"), tries(teacher, "-s", "B.")) == before
    child = Machine(tmp_path / "b" / "t.db")
    later = drilled(child, "t\nq\n")
    child.do("records", "out", tmp_path / "b.json", "--replace")
    teacher.do("records", "in", tmp_path / "b.json")
    teacher.do("records", "separate", "me", "--machine", machine)
    assert tries(teacher, "-s", "me") == made["a"]
    assert sorted(row[1:] for row in tries(teacher, "-s", "B.")) == sorted(row[1:] for row in later)
    assert teacher.told("start", "show", 1, 2, "-s", "me")["advice"][-1] == "sing a"


def test_two_teachers_who_tell_them_apart_alike_agree(tmp_path: Path) -> None:
    teacher, made = mixed(tmp_path)
    other = copy_of(teacher, tmp_path / "other")
    for one in (teacher, other):
        one.do("records", "separate", "me", "--machine", made["b"][0][-1], "--name", "B.")
    for name in ("me", "B."):
        file = tmp_path / "there.json"
        other.do("records", "out", file, "-s", name, "--replace")
        said = teacher.do("records", "in", file)
        assert "differ" not in said
        assert "try" not in said.replace("entry", "")
    assert tries(teacher, "-s", "B.") == tries(other, "-s", "B.")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--machine", "zz", "--name", "B."), "no machine with attempts of me"),
        (("--machine", ""), None),
        (("--machine", "{}"), "needs a name of their own"),
        (("--machine", "{}", "--name", "me"), "needs a name of their own"),
    ],
)
def test_what_cannot_be_separated(tmp_path: Path, words: tuple[str, ...], says: str | None) -> None:
    teacher, made = mixed(tmp_path)
    before = tries(teacher)
    machine = made["a"][0][-1]
    code, said = teacher("records", "separate", "me", *(word.format(machine) for word in words))
    assert code == (1 if says else 0)
    assert (says or "The attempts of me by machine") in " ".join(said.split())
    assert tries(teacher) == before
    assert len(teacher.rows("student", "list")) == 1


def test_a_file_that_was_moved_is_no_second_person(tmp_path: Path) -> None:
    teacher = teacher_of(tmp_path)
    teacher.do("open", 1, "all")
    drilled(teacher, "t\nq\n")
    moved = Machine(tmp_path / "moved.db")
    shutil.move(teacher.path, moved.path)
    found = drilled(moved, "t\nq\n")
    assert len({row[-1] for row in found}) == 2
    assert moved.told("check") == {"sound": True, "findings": []}
