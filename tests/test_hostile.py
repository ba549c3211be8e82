"""A desk whose every text is hostile: no command, no screen and no file lets a control through.

The way in is not guarded here on purpose: the texts are put into the store as values, as an
older version or a copied database may hold them. What counts as a control is taken from Python's
own tables of Unicode, not from the program.
"""

from __future__ import annotations

import json
import sys
import unicodedata
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import click
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.command import called
from tests.pieces import NOON, Clock, desk_at
from tests.terminal import Terminal, needs_tmux
from tests.ui.stage import opened, play
from tests.ui.test_sizes import BY_EAR, ROOMS, WAYS
from trainer.cli.main import cli
from trainer.deck.model import Piece, identity
from trainer.demo import demo_pieces
from trainer.desk import Desk
from trainer.record.attempt import Outcome
from trainer.record.people import ProgrammeItem, Recital
from trainer.score.model import Mark
from trainer.text import CONTROLS, in_json, visible

TURNS = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
JOINERS = "\u200c\u200d"  # without them names in some scripts are misspelt
HOSTILE = (
    "\x1b]0;owned\x07\x1b[31m\x9b2J\x90q\x9c\x7f\x08\r\t\x85\u202egnol\u2066\u2069\u200e\u200f\u061c"
    "\u2028\u2029\ufeff\u200b\U000e0041</b>[/b]"
)


def evil(text: str) -> str:
    return f"{text} {HOSTILE} end"


def acts(char: str) -> bool:
    """Whether a terminal or a reader might obey a character."""
    kind = unicodedata.category(char)
    return (
        kind in ("Cc", "Cs", "Zl", "Zp")
        or unicodedata.bidirectional(char) in TURNS
        or (kind == "Cf" and char not in JOINERS)
    )


def raw(text: str, allowed: str = "\n") -> list[str]:
    """What a text lets through, with what stands before it."""
    return [
        f"U+{ord(char):04X} after {text[max(0, at - 40) : at]!r}"
        for at, char in enumerate(text)
        if char not in allowed and acts(char)
    ]


def hostile_piece() -> Piece:
    """A piece for two hands with every text replaced; the first bar has a hostile label."""
    (piece,) = (one for one in demo_pieces() if one.deck.title.startswith("Lanterns"))
    score, deck = piece.score, piece.deck
    marks = tuple(replace(m, text=evil(m.text)) if m.text else m for m in score.marks)
    score = replace(
        score,
        title=evil("score"),
        source=evil("file"),
        warnings=(evil("warning"),),
        staves=tuple(replace(staff, part=evil("part")) for staff in score.staves),
        bars=tuple(replace(b, label="5\x1b[" if b.label == "5" else b.label) for b in score.bars),
        marks=(*marks, Mark("text", score.bars[0].start, evil("mark"))),
    )
    starts = tuple(
        replace(
            start,
            label=evil("label"),
            advice=(evil("advice"),),
            fingering=evil("fingering"),
            cue=evil("cue"),
            reasons=tuple(replace(one, words=evil("reason")) for one in start.reasons),
        )
        for start in deck.starts
    )
    alike = tuple(replace(like, words=evil("likeness")) for like in deck.alike)
    deck = replace(deck, title=evil("piece"), starts=starts, alike=alike, score=identity(score))
    return Piece(deck, score)


def hostile_desk(path: Path, now: Clock | None = None) -> Desk:
    """A desk with two hostile pieces and students, tries on many days, notes, own words and a
    recital to come."""
    desk = desk_at(path, now or Clock())
    clock = desk.clock
    assert isinstance(clock, Clock)
    piece = hostile_piece()
    desk.store.pieces.add(piece, evil("why"))
    score = replace(piece.score, title=evil("other"))
    other = replace(piece.deck, id="other", title=evil("other"), score=identity(score))
    desk.store.pieces.add(Piece(other, score), evil("why"))
    student = desk.students.add("M.")
    desk.store.students.save(replace(student, name=evil("student")))
    (student,) = desk.store.students.all()
    desk.store.students.save(replace(desk.students.add("K."), name=evil("pupil")))
    desk.students.choose(student)
    desk.store.settings.set("caution seen", "yes")
    for name, value in (("drills", "yes"), ("level", "advanced"), ("instrument", "any")):
        desk.settings.change(student, name, value)
    (student,) = (one for one in desk.store.students.all() if one.id == student.id)
    desk.pieces.set_open(student, piece.deck, range(1, 9), opened=True)
    was = clock.now
    for ago in (9, 5, 2):
        clock.now = was - timedelta(days=ago)
        for number, outcome in enumerate((*Outcome, Outcome.THROUGH), 1):
            other_start = piece.deck.starts[number].id if outcome == Outcome.ELSEWHERE else ""
            judge = "teacher" if number == 2 else "self"
            fields: dict[str, Any] = {"elsewhere": other_start, "judge": judge}
            fields["hints"] = (evil("hint"),)
            desk.attempts.add(desk.views.of(student), piece.deck, number, outcome, **fields)
    clock.now = was
    for what, value in (("words", evil("own")), ("fingering", evil("finger"))):
        layer(desk, student.id, piece, what, value)
    desk.notes.write(student, evil("note"))
    day = desk.views.of(student).day + timedelta(days=10)
    programme = (ProgrammeItem(piece.deck.id), ProgrammeItem("other", "no"))
    desk.store.recitals.save(Recital("r", student.id, evil("recital"), day, programme))
    return desk


def layer(desk: Desk, student: str, piece: Piece, what: Any, value: str) -> None:
    from trainer.record.layer import LayerEdit

    start = piece.deck.starts[1].id
    edit = LayerEdit(desk.new_id(), student, piece.deck.id, start, what, value, desk.store.machine,
                     desk.clock())  # fmt: skip
    desk.store.log.append(edit)


# Every command

NAME = evil("x")
SCORE = f"{HOSTILE}.musicxml".replace("/", "")
FILE = f"out {HOSTILE}".replace("/", "")
# The words of each command (with several ways, one after the other); "@" is the folder, FILE the
# beginning of a hostile file's name. Lines after "<" are typed.
CALLS: dict[str, list[list[Any]]] = {
    "demo": [["--plain"]],
    "app": [[]],
    "add": [["@/" + SCORE], ["@/nothing" + FILE], ["--paper", NAME, "--bars", 4, "--meter", NAME],
            ["--paper", NAME, "--bars", 4, "--starts", "1,3"]],
    "phrases": [["@/" + SCORE, "--json"], ["@/" + SCORE], ["@/nothing" + FILE]],
    "pieces": [[], ["--json"]],
    "mark": [[1, "--out", f"@/{FILE}.mxl"], [1, "@/" + SCORE, "--out", f"@/{FILE}.xml"],
             [1, "@/nothing" + FILE, "--out", f"@/{FILE}.xml"], [1, "--out", FILE]],
    "piece move": [[2, 1], [NAME, 1]],
    "piece remove": [[1], [NAME]],
    "piece rename": [[1, NAME]],
    "piece restore": [[], [NAME]],
    "page": [[1, 2], [1, 2, "--spoken"], [1, 2, "--json"], [NAME, 2]],
    "picture": [[1, 2, "--out", f"@/{FILE}.svg"], [1, 2], [1, 2, "--out", f"@/{FILE}.gif"]],
    "blocks": [[1, 2], [1, 2, "--json"]],
    "play": [[1, 2, "--out", f"@/{FILE}.wav"], [1, 2, "--out", f"@/{FILE}.mp3"]],
    "map": [[1], [1, "--json"], [1, "--spoken"]],
    "starts": [[1], [1, "--json"]],
    "look-alikes": [[1], [1, "--json"]],
    "prepare": [[1], [1, "--json"]],
    "start add": [[1, NAME], [1, "3"]],
    "start advise": [[1, 2, NAME]],
    "start cue": [[1, 2, NAME]],
    "start density": [[1, "more"]],
    "start finger": [[1, 2, NAME]],
    "start label": [[1, 2, NAME]],
    "start link": [[1, 2, 4]],
    "start merge": [[1, 3]],
    "start move": [[1, 2, NAME], [1, 2, "6"]],
    "start remove": [[1, 2]],
    "start renumber": [[1, 3]],
    "start route": [[1, NAME], [1, "1-4"]],
    "start show": [[1, 2], [1, 2, "--json"], [1, 2, "--spoken"]],
    "start split": [[1, 2, NAME], [1, 2, "7"]],
    "start undo": [[1]],
    "start unlink": [[1, 2, 4]],
    "own": [[1, 2], [1], [1, "--json"], [1, 2, "--words", NAME], [1, 2, "--fingering", NAME]],
    "open": [[1, "9"], [1, NAME]],
    "close": [[1, "9"], [1, NAME]],
    "deck history": [[1], [1, "--json"]],
    "deck in": [["@/deck.json"], ["@/deck.json", "--json"], ["@/deck.json", "<", "y"],
                ["@/" + SCORE]],
    "deck out": [[1, f"@/{FILE}.json"]],
    "today": [[], ["--json"]],
    "drill": [["--plain", "<", "t", "v", "h", "h", "h", "h", "e", "2", "a", "s", NAME, "q"]],
    "run": [[1, "--from", f"@/2 {FILE}.mid"], [1, "--from", "@/nothing" + FILE],
            [1, "<", "s", "5:1 3", NAME, f"{NAME} 3", "u", ""]],
    "rehearse": [[1, "<", "", NAME, "2", "q"]],
    "slips": [[], ["--json"]],
    "retention": [[], ["--json"]],
    "readiness": [[], ["--json"]],
    "recovery": [[], ["--json"]],
    "stages": [[], ["--json"]],
    "last-days": [[], ["--json"]],
    "forecasts": [[], ["--json"], ["--fit"]],
    "attempts": [[], ["--json"], ["--csv"]],
    "heard": [[], ["--json"]],
    "record": [[1, 2, "through"], [1, 2, NAME], [1, 2, "broke off", "--broke-at", NAME]],
    "take-back": [[], [NAME]],
    "studio": [[], ["--json"]],
    "lesson": [[], ["--json"], ["--since", NAME], ["--drill", "<", "t", "v", "q"]],
    "homework": [[], [1, 1, "--json"], [1, NAME], [1, 1, "--until", NAME]],
    "family": [[], ["--json"]],
    "term": [[], ["--json"]],
    "hand-out": [[f"@/out {FILE}"], [f"@/out {FILE}", "--replace"]],
    "instruments": [[], ["--json"]],
    "hear": [[f"@/2 {FILE}.mid", 1], [f"@/2 {FILE}.mid", 1, "--json"], ["@", 1, "--page"],
             ["@/nothing" + FILE, 1, "--start", 2], ["@/" + SCORE, 1, "--start", 2]],
    "note": [[], ["--json"], [NAME]],
    "student add": [[NAME], [NAME, "--level", NAME]],
    "student choose": [[1], [NAME + "?"]],
    "student list": [[], ["--json"]],
    "student set": [[1, "--level", "adult"], [1, "--minutes", NAME]],
    "records entries": [[], ["--json"]],
    "records in": [["@/record.json"], ["@/record.json", "--json"], ["@/" + SCORE]],
    "records join": [[NAME + "?", 1]],
    "records part": [[NAME + "?"], [1, "--json"]],
    "records combine": [[2, 1], [NAME + "?", 1]],
    "records separate": [[NAME + "?"], [1, "--json"], [1], [1, "--machine", NAME, "--name", NAME]],
    "records out": [[f"@/{FILE}.json"]],
    "records watch": [["@", "--once"], ["@", "--once", "--json"]],
    "backup list": [[], ["--json"]],
    "backup make": [[]],
    "backup restore": [["@/nothing" + FILE], ["@/nothing" + FILE, "--yes"], [1, "<", "n"]],
    "check": [[], ["--json"], ["--repair"]],
    "erase": [[2, "<", "n"], [2, "--yes", "--out", f"@/erased {FILE}.json"], [NAME + "?"]],
    "recital list": [[], ["--json"]],
    "recital set": [[NAME, "2027-06-01", 1], [NAME, NAME, 1], [NAME, "2027-06-01", NAME]],
    "print lesson": [["--out", f"@/{FILE}.html"], ["--out", f"@/{FILE}.doc"]],
    "print recital": [["--out", f"@/{FILE}.html"]],
    "print report": [["retention", "--out", f"@/{FILE}.html"], [NAME, "--out", f"@/{FILE}.html"]],
    "print sheet": [[1, "--out", f"@/{FILE}.html"]],
    "print term": [["--out", f"@/{FILE}.html"]],
    "calendar": [["--out", f"@/{FILE}.ics"], ["--out", f"@/{FILE}.doc"]],
    "keys": [[], ["--json"]],
    "settings list": [[], ["--json"]],
    "settings set": [["words", NAME], [NAME, NAME], ["instrument", NAME]],
}  # fmt: skip


def leaves(
    command: click.Command, path: tuple[str, ...] = ()
) -> Iterator[tuple[str, click.Command]]:
    """Every command that can be called, by its words."""
    if isinstance(command, click.Group):
        context = click.Context(command)
        for name in command.list_commands(context):
            below = command.get_command(context, name)
            assert below
            yield from leaves(below, (*path, name))
    else:
        yield " ".join(path), command


def test_every_command_is_called() -> None:
    found = dict(leaves(cli))
    assert CALLS.keys() == found.keys()
    for name, command in found.items():
        if any("--json" in option.opts for option in command.params):
            assert any("--json" in words for words in CALLS[name]) or name in ("prepare", "play")


def values(text: str) -> Iterator[Any]:
    """The values of a text of JSON, one after the other."""
    while text.strip():
        value, end = json.JSONDecoder().raw_decode(text.strip())
        yield value
        text = text.strip()[end:]


@pytest.fixture(scope="module")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a hostile database and files; each test takes a copy."""
    import shutil

    import mido

    from tests.make_decks import SCORES

    folder = tmp_path_factory.mktemp("hostile")
    desk = hostile_desk(folder / "t.db", Clock(NOON))
    (student, *_) = (one for one in desk.store.students.all() if one.name.startswith("student"))
    (folder / "record.json").write_text(desk.records.write(student))
    (folder / "deck.json").write_text(desk.pieces.hand_out("other").replace("other", "newer"))
    made = desk.store.backups.make("by hand")
    assert made
    kept = folder / "t.db.backups" / made.name
    kept.rename(kept.with_name(f"{kept.stem}{FILE}{kept.suffix}"))
    desk.store.close()
    shutil.copy(SCORES / "the-late-ferry.musicxml", folder / SCORE)
    midi = mido.MidiFile(tracks=[mido.MidiTrack()])
    for time in range(4):
        midi.tracks[0].append(mido.Message("note_on", note=60, time=200 * time))
    midi.save(folder / f"2 {FILE}.mid")
    return folder


@pytest.mark.parametrize("name", CALLS)
def test_no_command_lets_a_control_through(
    name: str,
    furnished: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    import shutil

    folder = tmp_path / f"in {HOSTILE}".replace("/", "")
    shutil.copytree(furnished, folder)
    monkeypatch.setenv("TRAINER_DB", str(folder / "t.db"))
    monkeypatch.setenv("COLUMNS", "80")
    for words in CALLS[name]:
        given = [str(word).replace("@", str(folder), 1) for word in words]
        typed = given[given.index("<") + 1 :] if "<" in given else []
        given = given[: given.index("<")] if "<" in given else given
        code = called(monkeypatch, *name.split(), *given, typed="\n".join([*typed, ""]))
        out, err = capsys.readouterr()
        allowed = "\r\n" if "--csv" in given else "\n"
        assert code in (0, 1, 2, 130), (given, code, err)
        assert not raw(out, allowed), (given, raw(out, allowed)[:3])
        assert not raw(err), (given, raw(err)[:3])
        if "--json" in given and code == 0:
            assert list(values(out)) or name == "records watch"
    for file in folder.rglob("*"):
        if file.suffix in (".json", ".html", ".ics", ".svg", ".csv") and file.is_file():
            with file.open(encoding="utf-8", newline="") as written:
                assert not raw(written.read(), "\r\n"), file.suffix


def test_json_reads_back_to_the_hostile_value(
    furnished: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TRAINER_DB", str(furnished / "t.db"))
    assert called(monkeypatch, "student", "list", "--json") == 0
    names = [list(row.values()) for row in json.loads(capsys.readouterr().out)["rows"]]
    assert all(evil(name) in row for name, row in zip(("student", "pupil"), names, strict=True))
    assert called(monkeypatch, "map", "1", "--json") == 0
    assert json.loads(capsys.readouterr().out)["title"] == evil("piece")


# Every screen


@pytest.mark.parametrize("name", sorted(ROOMS - BY_EAR - {"caution"}))
def test_no_screen_lets_a_control_through(name: str, tmp_path: Path) -> None:
    async def scene() -> None:
        async with opened(hostile_desk(tmp_path / "a.db")) as stage:
            await stage.press(*WAYS[name])
            for _ in range(3):
                for strip in stage.app.screen._compositor.render_strips():
                    for segment in strip:
                        assert not segment.control
                        assert not raw(segment.text, ""), segment.text
                assert not raw(stage.app.title, "")
                await stage.press("pagedown")

    play(scene)


@needs_tmux
def test_the_question_leaves_the_title_alone(tmp_path: Path) -> None:
    """A real terminal: the name of a student stands in a question, and sets no title."""
    hostile_desk(tmp_path / "t.db").store.close()
    root = Path(__file__).parents[1]
    command = [sys.executable, "-m", "trainer", "erase", "1", "--db", str(tmp_path / "t.db")]
    with Terminal(command, env={"PYTHONPATH": str(root), "LC_ALL": "C.UTF-8"}) as terminal:
        screen = terminal.wait_for("for good?")
        assert "\\x1b]0;owned\\x07" in "".join(screen.split())
        assert terminal._pane("pane_title") != "owned"
        terminal.keys("n", "Enter")
        assert terminal.wait_end() == 130


# The rule itself


def test_what_acts_is_what_the_rule_escapes() -> None:
    """All of Unicode: what acts is a control, and every letter of every script is none."""
    signs = [chr(n) for n in range(sys.maxunicode + 1)]
    missed = [c for c in signs if acts(c) and not CONTROLS.fullmatch(c)]
    assert {unicodedata.category(c) for c in missed} <= {"Cf"}
    assert not [c for c in missed if unicodedata.bidirectional(c) not in ("AN", "NSM", "L", "AL")]
    taken = [c for c in signs if CONTROLS.fullmatch(c) and not acts(c)]
    assert {unicodedata.category(c) for c in taken} <= {"Cn"}  # kept free for tags and the like


@given(st.text())
def test_a_visible_text_acts_nowhere(text: str) -> None:
    assert not CONTROLS.search(visible(text))


@given(
    st.recursive(
        st.text() | st.integers(), lambda one: st.lists(one) | st.dictionaries(st.text(), one)
    )
)
def test_json_is_the_same_value(value: Any) -> None:
    for ascii_ in (False, True):
        text = in_json(json.dumps(value, ensure_ascii=ascii_, indent=1))
        assert json.loads(text) == value
        assert not CONTROLS.search(text.replace("\n", ""))


def test_what_is_pasted_into_an_answer_holds_no_control(tmp_path: Path) -> None:
    from textual.events import Paste
    from textual.widgets import Input

    async def scene() -> None:
        async with opened(hostile_desk(tmp_path / "a.db")) as stage:
            await stage.press(*WAYS["ask"])
            answer = stage.app.screen.query_one(Input)
            assert not raw(answer.value, "")
            answer.post_message(Paste(evil("pasted")))
            await stage.settle()
            assert "pasted" in answer.value
            assert not raw(answer.value, "")

    play(scene)
