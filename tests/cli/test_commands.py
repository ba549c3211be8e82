"""The command line: every command has help, prints text and JSON, and fails in one sentence."""

import csv
import io
import json
from pathlib import Path

import click
import pytest

from tests.command import Run, runner
from tests.pieces import piece_of, tune
from trainer.cli.main import cli
from trainer.deck.file import write_deck


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs `trainer WORDS` on a database of its own: exit code, output, errors."""
    return runner(tmp_path, monkeypatch, capsys)


@pytest.fixture
def studio(run: Run, tmp_path: Path) -> Run:
    """The same with one piece taken in, its starts open."""
    file = tmp_path / "study.deck.json"
    file.write_text(write_deck(piece_of(tune(16, title="Study [1]"), [0, 12, 24, 36])))
    assert run("deck", "in", str(file))[0] == 0
    assert run("open", "1", "all")[0] == 0
    return run


def every_command(group: click.Group, path: tuple[str, ...] = ()) -> list[tuple[str, ...]]:
    found: list[tuple[str, ...]] = []
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        assert command is not None
        found.append((*path, name))
        if isinstance(command, click.Group):
            found += every_command(command, (*path, name))
    return found


@pytest.mark.parametrize("path", every_command(cli), ids=" ".join)
def test_every_command_has_help(run: Run, path: tuple[str, ...]) -> None:
    code, out, _ = run(*path, "--help")
    assert code == 0
    assert len([line for line in out.splitlines() if line.strip()]) > 2


@pytest.mark.parametrize(
    "words",
    [
        ("today",), ("retention",), ("attempts",), ("pieces",), ("starts", "1"), ("map", "1"),
        ("page", "1", "2"), ("readiness",), ("recovery",), ("forecasts",),
        ("look-alikes",), ("slips",), ("heard",), ("blocks", "1", "2"), ("student", "list"),
        ("recital", "list"), ("start", "show", "1", "2"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_every_listing_as_text_and_as_json(studio: Run, words: tuple[str, ...]) -> None:
    studio("record", "1", "2", "through")
    studio("recital", "set", "Concert", "2030-06-21", "1")
    code, out, _ = studio(*words)
    assert code == 0
    assert max(len(line) for line in out.splitlines()) <= 80
    code, out, _ = studio(*words, "--json")
    assert code == 0
    assert json.loads(out)


def test_a_title_in_brackets_is_shown_as_it_is(studio: Run) -> None:
    assert "Study [1]" in studio("pieces")[1]


def test_start_edits_say_what_became_of_the_numbers(studio: Run) -> None:
    _, out, _ = studio("start", "split", "1", "2", "7")
    assert "new: 3 at b. 7" in out
    assert "renumbered: 3 > 4, 4 > 5" in out
    _, out, _ = studio("start", "undo", "1")
    assert "gone: 3" in out
    assert "4 starts now" in out
    assert studio("start", "move", "1", "4", "13:2")[1].count("moved: 4") == 1
    assert "beat 2" in studio("starts", "1")[1]
    assert studio("start", "remove", "1", "4")[0] == 0
    assert studio("start", "merge", "1", "3")[0] == 0
    assert studio("start", "renumber", "1", "10")[0] == 0
    assert studio("start", "label", "1", "10", "theme")[0] == 0
    assert studio("start", "advise", "1", "11", "think", "of", "water")[0] == 0
    assert studio("start", "route", "1", "10", "11", "10")[0] == 0
    listed = json.loads(studio("starts", "1", "--json")[1])["rows"]
    assert [row["start"] for row in listed] == [10, 11]
    assert listed[1]["advice"] == "think of water"


def test_record_and_take_back(studio: Run) -> None:
    studio("record", "1", "2", "elsewhere", "--elsewhere", "3", "--teacher")
    rows = json.loads(studio("attempts", "--json")[1])["rows"]
    assert [(row["start"], row["outcome"], row["judge"]) for row in rows] == [
        (2, "elsewhere", "teacher")
    ]
    assert studio("take-back")[0] == 0
    assert json.loads(studio("attempts", "--json")[1])["rows"] == []


def test_the_line_drill_records_each_letter(studio: Run) -> None:
    code, out, _ = studio("drill", "--plain", typed="t\nh\ns\nz\na\nb\ne\n\nu\nn\nv\nq\n")
    assert code == 0
    assert "Start" in out
    assert "Press one of: " in out
    outcomes = [r["outcome"] for r in json.loads(studio("attempts", "--json")[1])["rows"]]
    assert outcomes[::-1] == ["through", "broke off", "nothing"]


def test_the_keys_of_all_screens_on_one_card(run: Run) -> None:
    code, out, _ = run("keys")
    assert code == 0
    assert "t through   s stopped" in out
    assert max(map(len, out.splitlines())) <= 80
    rows = json.loads(run("keys", "--json")[1])["keys"]
    assert {"screen", "key", "keys", "words", "meaning"} == set(rows[0])


def test_attempts_as_a_file_and_of_one_start(studio: Run) -> None:
    assert "No attempts yet" in studio("attempts")[1]
    studio("record", "1", "2", "through")
    studio("record", "1", "3", "broke off")
    code, out, _ = studio("attempts", "--csv")
    assert code == 0
    rows = list(csv.DictReader(io.StringIO(out)))
    assert [(row["start"], row["outcome"]) for row in rows] == [
        ("3", "broke off"),
        ("2", "through"),
    ]
    one = json.loads(studio("attempts", "1", "--start", "3", "--json")[1])["rows"]
    assert [row["start"] for row in one] == [3]
    assert studio("attempts", "--csv", "--json")[0] == 2
    assert studio("attempts", "--start", "3")[0] == 2


def test_retention_sorted_and_chosen(studio: Run) -> None:
    studio("record", "1", "3", "nothing")
    rows = json.loads(studio("retention", "--sort", "score", "--json")[1])["rows"]
    assert [row["start"] for row in rows] == [1, 2, 3, 4]
    weak = json.loads(studio("retention", "--only", "weak", "--json")[1])["rows"]
    assert [row["start"] for row in weak] == [3]
    both = studio("retention", "--sort", "next-call", "--only", "weak", "--only", "untried")[1]
    assert "only weak or untried, soonest called first" in both
    assert studio("retention", "--sort", "loudest")[0] == 2


@pytest.mark.parametrize(
    ("words", "help_of"),
    [
        (("--nope",), "trainer"),
        (("nonsense",), "trainer"),
        (("today", "--nope"), "trainer today"),
        (("today", "--minutes", "0"), "trainer today"),
        (("record", "1"), "trainer record"),
        (("record", "1", "2"), "trainer record"),
        (("record", "1", "2", "well"), "trainer record"),
        (("settings", "nope"), "trainer settings"),
        (("deck", "out"), "trainer deck out"),
    ],
)
def test_wrong_words_are_told_in_one_line(run: Run, words: tuple[str, ...], help_of: str) -> None:
    code, out, err = run(*words)
    assert code == 2
    assert out == ""
    assert err.count("\n") == 1
    assert err.startswith("trainer: ")
    assert err.endswith(f" Try `{help_of} --help`.\n")
    assert "Usage" not in err


def test_the_line_drill_says_what_is_asked_again_and_when_the_hints_end(studio: Run) -> None:
    _, out, _ = studio("drill", "--plain", typed="n\n" + 12 * "h\n" + "q\n")
    assert "Call 1 of 4." in out
    assert "Call 2 of 5, 1 asked again." in out
    assert "No more hints." in out


def test_the_call_gives_nothing_away(studio: Run) -> None:
    """Before the first letter only the number, the place, the piece and the count are said."""
    _, out, _ = studio("drill", "--plain", typed="")
    rows = out.splitlines()
    call = next(at for at, line in enumerate(rows) if line.startswith("Start "))
    assert "bar " in rows[call]  # said in full
    assert any(row.startswith("Call 1 of") for row in rows[call:])
    assert not any(word in out for word in ("C4", "Beat 1.", "is written"))


def test_a_run_through_logs_its_slips(studio: Run) -> None:
    typed = "7:2 4\n? 3\nu\n99 1\n5 x\n5\n\n"
    code, out, _ = studio("run", "1", typed=typed)
    assert code == 0
    assert "no bar '99'" in out
    assert "is not a start" in out
    assert out.rstrip().endswith("One slip.")
    rows = json.loads(studio("slips", "--json")[1])["rows"]
    assert [(r["phrase"], r["broke_at"], r["outcome"]) for r in rows] == [
        (1, None, "stopped"),
        (2, "b. 7, beat 2", "broke off"),
    ]
    assert rows[1]["went_on_at"].startswith("4")


def test_a_slip_rehearsal_asks_where_it_went_on(studio: Run) -> None:
    code, out, _ = studio("rehearse", "1", "--times", "2", typed="\n4\n\n-\n")
    assert code == 0
    assert out.count("Stop.") == 2
    outcomes = [r["outcome"] for r in json.loads(studio("slips", "--json")[1])["rows"]]
    assert len(outcomes) == 2
    assert outcomes[0] == "broke off"


def test_the_end_of_input_stops_the_drill_and_keeps_all(studio: Run) -> None:
    code, out, _ = studio("drill", "--plain", typed="t\n")
    assert code == 0
    assert "1 of 1 start went through" in out


def test_the_last_try_of_a_line_drill_can_still_be_corrected(studio: Run) -> None:
    _, out, _ = studio("drill", "--plain", typed="t\nt\nt\nt\nv\na\ns\nu\nb\n\n")
    assert "That was the last call." in out
    assert "is written:" in out
    assert "Taken back." in out
    outcomes = [r["outcome"] for r in json.loads(studio("attempts", "--json")[1])["rows"]]
    assert outcomes[::-1] == ["through", "through", "through", "broke off"]


def test_away_from_the_instrument_the_page_is_looked_at_before_the_outcome(studio: Run) -> None:
    _, out, _ = studio("drill", "--plain", "--kind", "away", typed="v\nq\n")
    called, read = out.index("Start "), out.index("is written:")
    assert called < read
    assert out[called:].split(",")[0] in out[out.rindex("Start ", 0, read) :]
    _, cold, _ = studio("drill", "--plain", typed="v\nq\n")
    assert "is written:" not in cold


def test_without_pieces_it_says_what_to_do(run: Run) -> None:
    assert "trainer add" in run("today")[1]
    assert "trainer add" in run("drill", "--plain")[1]
    code, _, err = run("starts")
    assert code == 1
    assert err == "trainer: There are no pieces yet; add a score with `trainer add FILE`.\n"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("starts", "nothing like it"), "piece"),
        (("start", "add", "1", "99"), "no bar '99'"),
        (("start", "add", "1", "5:9"), "no beat 9"),
        (("start", "add", "1", "5:x"), "is not a place"),
        (("open", "1", "9"), "no start 9"),
        (("open", "1", "1-9"), "no start 9"),
        (("open", "1", "0-2"), "no start 0"),
        (("open", "1", "3-1"), "runs backwards"),
        (("open", "1", "one"), "does not name any starts"),
        (("recital", "set", "C", "21.6.x", "1"), "is not a date"),
        (("recital", "set", " ", "2030-06-21", "1"), "needs a name"),
        (("recital", "set", "C", "2020-01-01", "1"), "is in the past"),
        (("open", "9", "1"), "no piece \"9\""),
        (("start", "remove", "0", "1"), "no piece \"0\""),
        (("record", "1", "1", "elsewhere"), "--elsewhere"),
        (("take-back", "zzz"), "No attempt matches"),
        (("student", "choose", "nobody"), "nobody"),
        (("deck", "in", "missing.json"), "cannot be read"),
        (("deck", "out", "1", "/proc/none/x.json"), "cannot be written"),
        (("add", "missing.musicxml"), "missing.musicxml"),
        (("phrases", "missing.mxl"), "missing.mxl"),
    ],
)  # fmt: skip
def test_each_mistake_gets_one_sentence(studio: Run, words: tuple[str, ...], says: str) -> None:
    code, out, err = studio(*words)
    assert code == 1
    assert out == ""
    assert says in err
    assert err.startswith("trainer: ")
    assert err.count("\n") == 1
    assert "Traceback" not in err


def test_a_database_in_a_missing_folder(run: Run, tmp_path: Path) -> None:
    code, _, err = run("today", "--db", str(tmp_path / "no" / "such" / "t.db"))
    assert code == 1
    assert err.count("\n") == 1
