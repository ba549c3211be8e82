"""A teacher prepares a piece of 64 bars with the keyboard alone; the keys are counted."""

import json
import sys
import time
from pathlib import Path

from tests.make_decks import SCORES
from tests.terminal import Terminal, needs_tmux
from trainer.cli.common import make_desk

pytestmark = needs_tmux

ROOT = Path(__file__).parents[2]
KEY_SECONDS = 0.28  # a key press of an average typist (Card, Moran & Newell 1980, CACM 23:396)
THINK_SECONDS = 1.35  # one mental preparation, from the same keystroke-level model


class Typist:
    """Presses keys in a terminal and counts them; each wait is one thing to think about."""

    def __init__(self, terminal: Terminal) -> None:
        self.terminal = terminal
        self.pressed = 0
        self.thoughts = 0

    def keys(self, *keys: str, then: str) -> str:
        self.pressed += len(keys)
        self.thoughts += 1
        self.terminal.keys(*keys)
        return self.terminal.wait_for(then)

    def types(self, text: str, *, then: str) -> str:
        self.pressed += len(text) + 1
        self.thoughts += 1
        self.terminal.type(text)
        self.terminal.keys("Enter")
        return self.terminal.wait_for(then)

    @property
    def seconds(self) -> float:
        return self.pressed * KEY_SECONDS + self.thoughts * THINK_SECONDS


@needs_tmux
def test_a_teacher_is_done_in_two_minutes(tmp_path: Path) -> None:
    """From the empty program to a prepared piece of 64 bars: the score is added, the starts at
    b. 17 and b. 41 are removed, one is added two bars before the page turn, the look-alikes
    are accepted, a word of advice is written for it, and all of it is kept as one edit."""
    db = tmp_path / "t.db"
    desk = make_desk(db)
    desk.students.find()
    desk.store.settings.set("caution seen", "yes")
    desk.store.close()
    (tmp_path / "wheel.musicxml").symlink_to(SCORES / "round-the-mill-wheel.musicxml")
    command = [sys.executable, "-m", "trainer", "app", "--db", str(db)]
    env = {"PYTHONPATH": str(ROOT), "LC_ALL": "C.UTF-8", "HOME": str(tmp_path)}
    with Terminal(command, (80, 24), env) as terminal:
        terminal.wait_for("o more")
        begun = time.monotonic()
        typist = Typist(terminal)
        typist.keys("p", then="add a score")
        typist.keys("Enter", then="Which file?")
        typist.types("~/wheel.musicxml", then="12 starts, saved")
        typist.keys(*["Right"] * 4, then="Start 5, b. 17")
        typist.keys("x", then="11 starts, 1 not saved")
        typist.keys(*["Right"] * 4, then="Start 8, b. 41")
        typist.keys("x", then="10 starts, 2 not saved")
        typist.keys("n", then="Page turn at b. 33.")
        typist.types("31", then="Start 7, b. 31")
        typist.keys("w", then="Your words")
        typist.types("turn the page early", then="Advice: turn the page early")
        typist.keys("k", then="They part at")
        typist.keys("e", then="accepted")
        typist.keys("Escape", then="11 starts, 5 not saved")
        typist.keys("Enter", then="11 starts, saved")
        typist.keys("Escape", then="Today for")
        machine = time.monotonic() - begun
        terminal.keys("q")
        assert terminal.wait_end() == 0
    desk = make_desk(db)
    piece = desk.store.pieces.get(desk.pieces.find().id)
    history = desk.store.pieces.history(piece.deck.id)
    desk.store.close()
    bars = [piece.score.bar_at(start.onset).label for start in piece.deck.starts]
    assert bars == ["1", "5", "9", "13", "25", "29", "31", "33", "49", "57", "61"]
    assert piece.deck.starts[6].advice == ("turn the page early",)
    same = {(like.one, like.other) for like in piece.deck.alike if like.kind == "same"}
    assert same == {(told.one, told.other) for told in piece.deck.told if told.alike}
    whys = [edit.why for edit in history]
    accepted = f"accept {len(same)} look-alikes"
    assert whys[1:] == [f"remove 5; remove 8; add 31; advise 7; {accepted}"]
    figures = {
        "keys": typist.pressed,
        "seconds of the hand and of thinking": round(typist.seconds),
        "seconds of the machine": round(machine, 1),
    }
    print(json.dumps(figures))
    assert typist.seconds + machine < 120
