"""The teacher's commands: text, JSON, and errors in one sentence."""

import json
import re
from itertools import pairwise

import pytest

from tests.cli.test_commands import run, studio
from tests.command import Run

__all__ = ["run", "studio"]  # fixtures


@pytest.fixture
def tried(studio: Run) -> Run:
    for start, outcome in (("2", "through"), ("1", "nothing"), ("4", "stopped")):
        assert studio("record", "1", start, outcome)[0] == 0
    return studio


def test_the_page_before_a_lesson(tried: Run) -> None:
    code, out, _ = tried("lesson")
    assert code == 0
    assert out.startswith("Before the lesson: me")
    assert "Study [1] 1, b. 1" in out.split("Open, but not yet tried cold")[0]
    data = json.loads(tried("lesson", "1", "--json")[1])
    assert [one["number"] for one in data["weakest"]] == [1, 4, 2]
    assert [one["number"] for one in data["untried"]] == [3]
    assert {one["number"]: one["days"] for one in data["starts"]} == {1: None, 2: 0, 3: None, 4: 0}
    assert data["one_thing"].startswith("Learned but not yet tried cold: Study [1] 3.")
    assert data["practised"]["tries"] == 3
    assert "Nothing." in tried("lesson", "--since", "2999-01-01")[1]


def test_three_are_heard_line_by_line(tried: Run) -> None:
    code, out, _ = tried("lesson", "--drill", typed="t\nn\nt\n")
    assert code == 0
    assert "Call 1 of" in out
    rows = json.loads(tried("attempts", "--json")[1])["rows"]
    heard = [row for row in rows if row["judge"] == "teacher"]
    assert 2 <= len(heard) <= 3
    numbers = [row["start"] for row in heard]
    assert all(abs(one - other) > 1 for one, other in pairwise(numbers))


def test_a_note_written_listed_and_taken_away(tried: Run) -> None:
    assert "No note yet" in tried("note")[1]
    assert tried("note", "Slowly, \x1b[31mleft hand.")[1].endswith(": kept.\n")
    assert tried("note", "--day", "2026-01-05", "Begun.")[0] == 0
    assert tried("note", "list")[1] == tried("note")[1]
    rows = json.loads(tried("note", "--json")[1])["rows"]
    assert [row["note"] for row in rows] == ["Slowly, [31mleft hand.", "Begun."]
    assert "Slowly" in tried("lesson")[1]
    assert "taken away" in tried("note", "")[1]
    assert "Slowly" not in tried("lesson")[1]


def test_the_studio_as_text_and_json(tried: Run) -> None:
    tried("student", "add", "K.")
    tried("recital", "set", "Concert", "2999-06-21", "1", "--student", "me")
    code, out, err = tried("studio")
    assert (code, err) == (0, "")
    assert "Ready for new starts" in out
    assert "Concert, 21 Jun" in out
    assert max(map(len, out.splitlines())) <= 80
    data = json.loads(tried("studio", "--json")[1])
    assert {one["name"]: one["days"] for one in data["members"]} == {"me": 0, "K.": None}
    (playing,) = data["playing"]
    assert playing["programme"]["pieces"][0]["open"] == 4


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("lesson", "--since", "soon"), "'soon' is not a date"),
        (("lesson", "9"), "There is no piece"),
        (("note", ""), "There is no note of"),
        (("note", "x" * 2001), "at most 2000 characters"),
        (("note", "x", "--day", "1.2."), "'1.2.' may be"),
        (("lesson", "--drill", "--student", "nobody"), "There is no student"),
    ],
)
def test_errors_in_one_sentence(tried: Run, words: tuple[str, ...], says: str) -> None:
    code, out, err = tried(*words)
    assert (code, out) == (1, "")
    assert says in err
    assert err.count("\n") == 1


def test_days_are_told_in_full(tried: Run) -> None:
    """However a day was written, it is told how it was read."""
    assert "Christmas: Friday 25 December" in tried("recital", "set", "Christmas", "25 Dec", "1")[1]
    assert "off: " in (told := tried("settings", "set", "off", "4 Jan to 10 Jan, tomorrow")[1])
    assert re.search(r"[A-Z]\w+day 4 January \d{4} to [A-Z]\w+day 10 January \d{4}", told)
    assert re.search(
        r"Note of [A-Z]\w+day \d+ \w+ \d{4} on", tried("note", "x", "--day", "yesterday")[1]
    )
    out, err = tried("lesson", "--since", "2 weeks ago", "--json")[1:]
    json.loads(out)
    assert re.fullmatch(r"Since [A-Z]\w+day \d+ \w+ \d{4}\.\n", err)
