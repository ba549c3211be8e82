"""A map in words, and a start opened on the command line."""

import json

import pytest

from tests.cli.test_commands import run, studio
from tests.command import Run

__all__ = ["run", "studio"]  # fixtures


@pytest.fixture
def tried(studio: Run) -> Run:
    for start, outcome in (("2", "through"), ("1", "nothing")):
        assert studio("record", "1", start, outcome)[0] == 0
    return studio


def test_a_map_in_words_has_a_line_a_start(tried: Run) -> None:
    lines = tried("map", "1", "--spoken")[1].splitlines()
    stands = {
        row["number"]: row["stands"] for row in json.loads(tried("map", "1", "--json")[1])["starts"]
    }
    assert lines[0] == "Study [1]"
    assert len(lines) == 5
    for number, line in enumerate(lines[1:], 1):
        assert line.startswith(f"Start {number}, b")
        assert f": {stands[number]}" in line
    assert lines[2].endswith(", 1 of 1.")


def test_a_map_shows_counts_where_tries_are_few(tried: Run) -> None:
    assert "1 of 1" in tried("map", "1")[1]
    assert "0 of 1" in tried("map", "1")[1]


def test_a_start_in_words_has_no_drawing(tried: Run) -> None:
    drawn, told = (tried("start", "show", "1", "2", *more)[1] for more in ((), ("--spoken",)))
    assert any(sign in drawn for sign in "┃█▒░▲")
    assert not any(sign in told for sign in "┃█▒░▲━✓")
    assert "Both: " in told
    assert "Bar 5, beat 1.\n" in told
    assert "through" in told


def test_a_start_as_data(tried: Run) -> None:
    found = json.loads(tried("start", "show", "1", "2", "--json")[1])
    assert (found["piece"], found["number"], found["place"]) == ("Study [1]", 2, "b. 5")
    assert [one["outcome"] for one in found["cold"]] == ["through"]
    assert found["others"] == []
    assert found["ahead"][0]["start"] == found["start"]["chance"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("start", "show", "1", "9"), "has no start 9; its starts are 1 to 4"),
        (("start", "show", "7", "1"), "7"),
        (("start", "show", "1", "1", "-s", "nobody"), "nobody"),
    ],
    ids=["no such start", "no such piece", "no such student"],
)
def test_each_mistake_gets_one_sentence(tried: Run, words: tuple[str, ...], says: str) -> None:
    code, out, err = tried(*words)
    assert code == 1
    assert out == ""
    assert says in err
    assert len(err.strip().splitlines()) == 1
