"""The drill by ear in a real terminal: a piano plays over a wire, in real time."""

from __future__ import annotations

import os
import re
import sys
import time
from pathlib import Path

import pytest

from tests.listen.build import PIECE, STARTS, chords, played
from tests.piano import Piano
from tests.terminal import Terminal, needs_tmux
from tests.ui.test_by_ear import ear_desk
from trainer.desk import Desk
from trainer.desk.hearing import SOON
from trainer.listen.model import Heard
from trainer.record.attempt import Attempt, Outcome
from trainer.ui.hearing import AWAY, BACK

pytestmark = needs_tmux
SIGN = 21  # the lowest key


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return ear_desk(tmp_path)


def trainer(desk: Desk, *words: str) -> Terminal:
    root = str(Path(__file__).parents[2])
    command = [sys.executable, "-m", "trainer", *words, "--db", str(desk.store.path)]
    return Terminal(command, (80, 24), {"PYTHONPATH": root, "LC_ALL": "C.UTF-8"})


def called(screen: str) -> int:
    """The start that is called, by its bar, on the screen or in the last line that calls one."""
    bars = re.findall(r"\b(?:b\.|bar) (\d+)\s*(?:$|\.)", screen, re.MULTILINE)
    return STARTS.index(4 * (int(bars[-1]) - 1)) + 1


def phrase(number: int, quarters: int) -> list[Heard]:
    first = STARTS[number - 1]
    return played(chords(first, first + quarters), at=0.2, pace=0.15)


def tries(desk: Desk) -> list[Attempt]:
    return list(desk.views.of(desk.students.find()).attempts)


def test_a_drill_without_a_hand_on_the_computer(desk: Desk) -> None:
    desk.settings.change(
        desk.students.find(), "instrument", "127.0.0.1:1"
    )  # the option goes before it
    with Piano() as piano, trainer(desk, "drill", "--instrument", piano.address) as terminal:
        terminal.wait_for("calls the first start")
        piano.wait()
        piano.press(SIGN)
        number = called(terminal.wait_for("listening"))
        piano.wait()
        piano.play(phrase(number, 20))
        terminal.wait_for(f"Start {number}, as called")
        piano.press(SIGN)
        number = called(terminal.wait_for("2 of 3"))
        piano.play(phrase(number, 7))
        terminal.wait_for("2 bars")
        piano.pull()
        terminal.wait_for(AWAY)
        piano.plug()
        terminal.wait_for(BACK)
        terminal.keys("b")
        terminal.wait_for("broke off")
        piano.wait()
        terminal.wait_for("listening")
        piano.pull()
        terminal.wait_for(AWAY)
        piano.plug()
        piano.wait()
        number = called(terminal.wait_for(BACK))
        other = 4 if number != 4 else 2
        piano.play(phrase(other, 12))
        terminal.wait_for(f"Start {other}'s opening, but {number} was called")
        piano.press(SIGN)
        piano.press(SIGN)
        piano.press(SIGN)
        terminal.wait_for("Enter, or the lowest key, goes back to Today")
    first, second, third = tries(desk)
    assert (first.outcome, first.judge) == (Outcome.THROUGH, "heard")
    assert (second.outcome, second.judge) == (Outcome.BROKE_OFF, "self")
    assert (third.outcome, third.judge) == (Outcome.ELSEWHERE, "heard")
    assert third.elsewhere == PIECE.deck.starts[other - 1].id


def test_line_by_line(desk: Desk) -> None:
    with Piano() as piano, trainer(desk, "drill", "--plain", "--instrument", piano.address) as term:
        term.wait_for("calls the first start")
        term.type("\n")
        number = called(term.wait_for("1 of 3"))
        piano.wait()
        term.wait_for("connected and listening")
        piano.pull()
        term.wait_for("not connected: type letters until it is back")
        piano.plug()
        term.wait_for("The instrument is back; play from the beginning")
        piano.wait()
        piano.play(phrase(number, 20))
        term.wait_for(f"Heard: Start {number}, as called")
        term.wait_for("Enter, or the lowest key, goes on")
        piano.press(SIGN)
        term.wait_for("2 of 3")
        piano.play([Heard(40 + 7 * (i % 8), 0.1 * i) for i in range(12)])
        piano.press(SIGN)
        term.wait_for("Which letter says")
        term.type("n\n")
        term.wait_for("Nothing; v reads the music.")
        number = called(term.wait_for("3 of"))
        piano.play(phrase(number, 8))
        term.type("e\n")
        term.wait_for("At which start did you begin?")
        term.type("\n")
        term.wait_for("Elsewhere; v reads the music.")
        term.type("q\n")
        assert term.wait_end() == 0
    assert [(one.judge, one.heard is not None) for one in tries(desk)] == [
        ("heard", True),
        ("self", True),
        ("self", True),
    ]


def test_a_run_through_on_the_screen(desk: Desk) -> None:
    with Piano() as piano, trainer(desk, "app", "--instrument", piano.address) as terminal:
        terminal.wait_for("Enter begins")
        terminal.keys("d")
        terminal.wait_for("Run-through")
        terminal.keys("7", "Enter")
        terminal.wait_for("listening")
        piano.wait()
        piano.play(played(chords(0, 10), at=0.2, pace=0.12))
        terminal.wait_for("b. 3")
        piano.play(played(chords(16, 64), at=2.5, pace=0.12))
        terminal.wait_for("1 slip.")
        terminal.wait_for("b. 3, beat 2; went on at start 2")
    slip, end = tries(desk)
    assert slip.broke_at == 9
    assert (slip.judge, slip.elsewhere) == ("heard", PIECE.deck.starts[1].id)
    assert (end.outcome, end.judge) == (Outcome.STOPPED, "heard")


def test_a_run_through_line_by_line(desk: Desk) -> None:
    with Piano() as piano, trainer(desk, "run", "--instrument", piano.address) as terminal:
        terminal.wait_for("you can type them too")
        piano.wait()
        piano.play(played(chords(0, 10), at=0.2, pace=0.12))
        piano.play(played(chords(16, 36), at=2.5, pace=0.12))
        terminal.type("q\n")
        terminal.wait_for("The end was not reached. 2 slips.")
        terminal.wait_for("Enter, or the lowest key, ends")
        terminal.type("v\n")
        terminal.wait_for("■ ended")
        piano.press(SIGN)
        assert terminal.wait_end() == 0
    first, second = tries(desk)
    assert [one.broke_at for one in (first, second)] == [9, 35]
    assert [one.elsewhere for one in (first, second)] == [PIECE.deck.starts[1].id, ""]


def test_raw_bytes_through_a_pipe(desk: Desk, tmp_path: Path) -> None:
    """As they come from a device: running status, clock and active sensing in between, keys let go
    by a velocity of 0, one never let go, a pedal that stays down."""
    pipe = tmp_path / "midi"
    os.mkfifo(pipe)
    with trainer(desk, "drill", "--instrument", str(pipe)) as terminal:
        terminal.wait_for("calls the first start")
        terminal.keys("Enter")
        number = called(terminal.wait_for("not connected"))
        with pipe.open("wb", buffering=0) as device:
            terminal.wait_for("listening")
            device.write(bytes([0xB0, 64, 127, 0x90]))
            begin = time.monotonic()
            for note in phrase(number, 20):
                time.sleep(max(0.0, begin + note.time - time.monotonic()))
                device.write(bytes([0xF8, note.pitch, 0xFE, 64, note.pitch, 0xF8, 0]))
            terminal.wait_for(f"Start {number}, as called")
        terminal.keys("Enter")
        terminal.wait_for("not connected")
        with pipe.open("wb", buffering=0) as device:
            terminal.wait_for(BACK)
            terminal.wait_for("2 of 3")
            time.sleep(SOON)  # a press at once may be a slow second one
            device.write(bytes([0x90, SIGN, 64]))
            terminal.wait_for("did not begin")
    assert [(one.judge, one.outcome) for one in tries(desk)] == [
        ("heard", Outcome.THROUGH),
        ("self", Outcome.NOTHING),
    ]
