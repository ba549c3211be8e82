"""Run-through, slip rehearsal and settings line by line: every line is one act."""

import json
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.cli.test_commands import run, studio
from tests.command import Run
from tests.listen.test_follow import DEMO, Broken, performed, route
from trainer.cli.runs import say_doubts
from trainer.deck.file import write_deck
from trainer.listen.follow import Slip
from trainer.listen.model import Heard

__all__ = ["run", "studio"]  # fixtures


def logged(studio: Run) -> list[tuple[int, str | None, str | None, str]]:
    """The slips as they stand, oldest first."""
    rows = json.loads(studio("slips", "--json")[1])["rows"]
    return [(r["phrase"], r["broke_at"], r["went_on_at"], r["outcome"]) for r in rows][::-1]


def test_a_slip_of_one_key_and_its_place_afterwards(studio: Run) -> None:
    code, out, _ = studio("run", "1", "--teacher", typed="w 5 3\ns\nw 5:3 3\ns\n\n")
    assert code == 0
    assert "There is no slip yet" in out
    assert out.rstrip().endswith("2 slips.")
    assert logged(studio) == [
        (2, "b. 5, beat 3", "3, b. 9", "broke off"),
        (1, None, None, "broke off"),
        (1, None, "reached the end", "stopped"),
    ]
    rows = json.loads(studio("attempts", "--json")[1])["rows"]
    assert {row["judge"] for row in rows} == {"teacher"}


@pytest.mark.parametrize("typed", ["s\nq\n", "s\n"], ids=["given up", "the input ends"])
def test_a_run_that_does_not_reach_the_end(studio: Run, typed: str) -> None:
    assert "The end was not reached. One slip." in studio("run", "1", typed=typed)[1]
    assert logged(studio) == [(1, None, None, "broke off")]


def test_a_rehearsal_line_by_line(studio: Run) -> None:
    typed = "\n\n\nx\n99\n-\nu\n\n\nq\n"
    code, out, _ = studio("rehearse", "1", "--times", "3", typed=typed)
    assert code == 0
    assert "'x' is not a start" in out
    assert "no start 99" in out
    assert out.rstrip().endswith("The next start was reached 2 of 2 times.")
    assert [outcome for *_, outcome in logged(studio)] == ["through", "through"]


def recorded(path: Path, notes: Sequence[Heard]) -> Path:
    """A MIDI file of these keys, at 1,000 ticks a second."""
    import mido

    track, now = mido.MidiTrack(), 0
    for note in notes:
        at = round(note.time * 1000)
        track.append(mido.Message("note_on", note=note.pitch, velocity=70, time=at - now))
        now = at
    mido.MidiFile(ticks_per_beat=500, tracks=[track]).save(path)
    return path


def test_a_run_through_from_a_recorded_file(run: Run, tmp_path: Path) -> None:
    piece = next(one for one in DEMO if one.deck.title.startswith("Mist"))
    (tmp_path / "a.deck.json").write_text(write_deck(piece))
    run("deck", "in", str(tmp_path / "a.deck.json"))
    clean = recorded(tmp_path / "clean.mid", performed(piece, slips=0.0))
    code, out, _ = run("run", "1", "--from", str(clean))
    assert code == 0
    assert out.splitlines()[0] == f"Run-through: {piece.deck.title}, from clean.mid."
    assert "No slip." in out
    assert logged(run) == [(1, None, "reached the end", "through")]
    order = route(piece)
    at = len(order) // 2
    jump = Broken(at, min(at + 8, len(order) - 1), stray=2)
    broken = recorded(tmp_path / "broken.mid", performed(piece, jump, slips=0.0))
    assert "Heard: slip 1 at b. " in run("run", "1", "--from", str(broken))[1]
    assert len(logged(run)) == 3
    rows = json.loads(run("attempts", "--json")[1])["rows"]
    assert {row["judge"] for row in rows} == {"heard"}


@pytest.mark.parametrize(
    ("notes", "says"), [(None, "cannot be read"), ([], "holds no notes")], ids=["no file", "empty"]
)
def test_a_recording_that_will_not_do_logs_nothing(
    studio: Run, tmp_path: Path, notes: list[Heard] | None, says: str
) -> None:
    path = tmp_path / "a.mid"
    if notes is not None:
        recorded(path, notes)
    code, _, err = studio("run", "1", "--from", str(path))
    assert code == 1
    assert says in err
    assert logged(studio) == []


def test_a_recording_has_no_other_judge(studio: Run) -> None:
    for other in (["--teacher"], ["--instrument", "any"]):
        code, _, err = studio("run", "1", "--from", "a.mid", *other)
        assert code == 2
        assert "leave out --teacher and --instrument" in " ".join(err.split())


def test_nobody_is_told_to_answer_what_is_not_asked(capsys: pytest.CaptureFixture[str]) -> None:
    """What was not sure in a recording is told without a key to press."""
    piece = DEMO[0]
    say_doubts(piece, [Slip("back", 1.0, piece.deck.starts[1].onset, sure=False)])
    assert capsys.readouterr().out.rstrip().endswith("it is not logged.")


def test_settings_as_text_and_json(studio: Run) -> None:
    assert studio("settings", "set", "minutes", "8,", "Sat", "20,", "Sun", "0")[0] == 0
    assert studio("settings", "set", "off", "2026-08-03 to 2026-08-16")[0] == 0
    assert studio("settings", "set", "words", "american")[0] == 0
    rows = json.loads(studio("settings", "list", "--json")[1])["rows"]
    now = {row["setting"]: row["now"] for row in rows}
    assert now["minutes"] == "8, Sat 20, Sun 0"
    assert now["off"] == "2026-08-03 to 2026-08-16"
    assert "m. 5" in studio("starts", "1")[1]
    assert max(map(len, studio("settings", "list")[1].splitlines())) <= 80


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("tempo", "8", "There is no setting 'tempo'; there are: level, minutes"),
        ("tempo", "8", "`trainer settings list` says what each is for"),
        ("s", "on", "'s' may be the setting span or speech or sound or signals; type more"),
        (
            "minutes",
            "lots",
            "The setting minutes: 'lots' is not a number from 0.5 to 240; write 8 for",
        ),
        ("minutes", "-5", "'-5' is not a number from 0.5 to 240"),
        ("minutes", "8, Sat", "Sat has no minutes; write them after it, such as Sat 20"),
        ("minutes", "8,5", "'8,5' has a comma in a number; write it with a point"),
        ("minutes", "8, Someday 3", "'Someday' is not a day of the week"),
        ("minutes", "0", "0.5 to 240"),
        (
            "off",
            "1.8.2026",
            "The setting off: '1.8.2026' may be Thursday 8 January 2026 or",
        ),
        ("off", "2026-08-16 to 2026-08-03", "is not a span of days; write the first"),
        ("names", "latin", "'latin' is not one of its values; choose english, german or fixed do"),
        ("level", "a", "'a' may be adult or advanced; choose child, adult or advanced"),
        ("signals", "blue", "The setting signals: 'blue' is not a signal; give notes such as A0"),
    ],
)
def test_a_setting_that_will_not_do(studio: Run, name: str, value: str, says: str) -> None:
    code, out, err = studio("settings", "set", name, value)
    assert (code, out) == (1, "")
    assert says in err
    assert err.count("\n") == 1


def test_a_setting_is_known_by_its_beginning_and_tells_its_values(studio: Run) -> None:
    assert studio("settings", "set", "colour", "dark")[1] == "colours: dark.\n"
    code, out, err = studio("settings", "set", "names")
    assert (code, out) == (1, "")
    assert "The setting names is english: choose english, german or fixed do." in err
    assert (
        "The setting minutes is 8: How many minutes a day?" in studio("settings", "set", "min")[2]
    )


@pytest.mark.parametrize("words", [("stages",), ("last-days",)], ids=" ".join)
def test_the_way_to_a_recital_as_text_and_json(studio: Run, words: tuple[str, ...]) -> None:
    assert "No recital is set" in studio(*words)[1]
    studio("record", "1", "2", "through")
    studio("recital", "set", "Concert", "2030-06-21", "1")
    code, out, _ = studio(*words)
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    assert "rows" in json.loads(studio(*words, "--json")[1])
