"""`trainer hear`: recorded attempts, and the words for them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import pytest

from tests.command import Run, runner
from tests.listen.build import PIECE, after, chords, heard, played
from tests.listen.test_midi import midi_file
from trainer.deck.file import write_deck
from trainer.listen.model import Heard
from trainer.listen.words import as_data, sentences


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs `trainer WORDS` on a database that holds the piece."""
    pytest.importorskip("mido")
    run = runner(tmp_path, monkeypatch, capsys)
    deck = tmp_path / "two.deck.json"
    deck.write_text(write_deck(PIECE))
    assert run("deck", "in", deck)[0] == 0
    return run


def recorded(notes: Sequence[Heard]) -> bytes:
    """A MIDI file in which these keys go down, 960 ticks a second."""
    data, before = b"", 0
    for note in notes:
        now = round(960 * note.time)
        step = now - before
        data += bytes([0x80 | step >> 7, step & 0x7F]) + bytes([0x90, note.pitch, note.velocity])
        before = now
    return midi_file(data, form=0)


def test_a_recorded_attempt_is_told(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "try.mid"
    file.write_bytes(recorded(played(chords(16, 33))))
    code, out, _ = run("hear", file, "1", "--start", "2")
    assert code == 0
    assert out.splitlines() == [
        "Start 2, as called.",
        "The first note came after 1.0 seconds.",
        "All notes right.",
        "Went into the next phrase.",
        "About 120 crotchets a minute.",
    ]


def test_a_wrong_start_is_told_with_the_place_where_they_part(run: Run, tmp_path: Path) -> None:
    file = tmp_path / "try.mid"
    file.write_bytes(recorded(played(chords(0, 12))))
    _, out, _ = run("hear", file, "1", "--start", "3")
    assert out.splitlines()[0] == "Start 1's opening, but 3 was called; they part at b. 11."
    code, out, _ = run("hear", file, "--start", "3", "--json")
    data = json.loads(out)
    assert code == 0
    assert (data["asked"], data["played"], data["accepted"]) == (3, 1, False)
    assert data["parts"]["place"] == "b. 11"
    assert data["sentences"][0].startswith("Start 1's opening")


def test_a_folder_in_one_go(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "tries"
    folder.mkdir()
    (folder / "2 monday.mid").write_bytes(recorded(played(chords(16, 28))))
    (folder / "4.mid").write_bytes(recorded(played(chords(16, 28))))
    (folder / "notes.txt").write_text("not one of them")
    code, out, _ = run("hear", folder, "1", "--json")
    assert code == 0
    assert [(one["file"], one["accepted"]) for one in json.loads(out)] == [
        ("2 monday.mid", True),
        ("4.mid", False),
    ]
    _, out, _ = run("hear", folder, "1")
    assert out.splitlines()[:2] == ["2 monday.mid:", "  Start 2, as called."]
    assert "  Start 2's opening, but 4 was called." in out.splitlines()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("none.mid", "1", "--start", "2"), "none.mid cannot be read"),
        (("try.mid", "1"), "Which start was called in try.mid?"),
        (("try.mid", "1", "--start", "9"), "no start 9"),
        (("try.mid", "7", "--start", "2"), "7"),
        (("empty", "1", "--start", "2"), "no .mid file in empty"),
    ],
)
def test_what_cannot_be_heard_is_one_sentence(
    run: Run, tmp_path: Path, words: tuple[str, ...], told: str
) -> None:
    (tmp_path / "try.mid").write_bytes(recorded(played(chords(16, 28))))
    (tmp_path / "empty").mkdir()
    code, out, err = run("hear", tmp_path / words[0], *words[1:])
    assert (code, out) == (1, "")
    assert told in err
    assert err.count("\n") == 1


def test_the_words_for_what_went_wrong() -> None:
    jumped = after(played(chords(16, 24)), played(chords(48, 60)), 0.8)
    told = sentences(heard(jumped, 2), PIECE)
    assert "Left at b. 6, beat 4, and went on from start 4." in told
    stopped = played(chords(16, 20))
    told = sentences(heard(stopped, 2, until=10), PIECE)
    assert "Stopped at b. 5, beat 4." in told
    told = sentences(heard(after(stopped, played(chords(16, 28)), 1.5), 2), PIECE)
    assert "Begun again at 4.0 seconds." in told
    told = sentences(heard(played(chords(48, 60), hands="left"), 4), PIECE)
    assert told[0] == "Start 4, as called, the left hand alone."
    last = heard(played(chords(48, 64)), 4)
    assert last.join_reached
    assert "Went to the end." in sentences(last, PIECE)
    assert sentences(heard([], 4), PIECE) == ["Nothing was played; start 4 was called."]
    assert as_data(heard([], 4), PIECE)["played"] is None


def test_the_page_shows_what_was_heard(run: Run, tmp_path: Path) -> None:
    notes = played(chords(16, 36))
    file = tmp_path / "try.mid"
    file.write_bytes(recorded([*notes[:3], *notes[4:]]))
    code, said, _ = run("hear", file, "--start", 2, "--page")
    assert code == 0
    assert "!A" in said
    assert said.rstrip().endswith("! missed   ■ ended")
    told = json.loads(run("hear", file, "--start", 2, "--json")[1])
    [missed] = [mark for mark in told["marks"] if mark["kind"] == "missed"]
    assert missed["onset"]["place"] == "b. 5, beat 3"
