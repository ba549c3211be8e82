"""What is said once, at the very first start: on strain and on stage fright."""

from __future__ import annotations

from textual.app import ComposeResult

from trainer.practice.cautions import FIRST
from trainer.ui.keys import bindings
from trainer.ui.room import Room
from trainer.ui.widgets.sheet import Line, Sheet, ink, wrapped


class CautionScreen(Room):
    ROOM = "caution"
    BINDINGS = bindings("caution")
    DEFAULT_CSS = """
    CautionScreen > #words { height: 1fr; padding: 1 2 0 2; }
    """

    def body(self) -> ComposeResult:
        yield Sheet("words", fixed=True)

    def draw(self) -> None:
        self.show_title("Before you begin")
        lines: list[Line] = [ink("Please read this once.", "bold")]
        for sentence in FIRST:
            lines += ["", *wrapped(sentence, self.room[0])]
        self.sheet("words").show(lines)
        self.show_strip()

    def action_seen(self) -> None:
        with self.minding():
            if not self.trainer.desk.store.read_only:
                self.trainer.desk.store.settings.set("caution seen", "yes")
        self.dismiss(None)
