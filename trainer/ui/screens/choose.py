"""One of several: by its number, or with the arrows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from textual.app import ComposeResult

from trainer.ui.keys import bindings
from trainer.ui.room import Room, window
from trainer.ui.widgets.sheet import Line, Sheet, ink, row, said


class Choice(NamedTuple):
    """`id` is the answer; `number` and `words` are how it is shown and found."""

    id: str
    number: int | None
    words: str

    @property
    def face(self) -> str:
        return "" if self.number is None else str(self.number)


class ChooseScreen(Room):
    """Asks for one of the choices and gives its id, or None. `here` is the id marked first."""

    ROOM = "choose"
    BINDINGS = bindings("choose")
    DEFAULT_CSS = """
    ChooseScreen > #choices { height: 1fr; padding: 1 2 0 2; }
    ChooseScreen > #typed { height: 1; padding: 0 2; color: $accent; }
    """

    def __init__(self, question: str, choices: Sequence[Choice], here: str = "") -> None:
        super().__init__()
        self._question = question
        self._choices = choices
        ids = [choice.id for choice in choices]
        self._at = ids.index(here) if here in ids else 0
        self._typed = ""

    def body(self) -> ComposeResult:
        yield Sheet("choices", fixed=True)
        yield Sheet("typed", fixed=True)

    def draw(self) -> None:
        self.show_title(self._question)
        widest = max((len(c.face) for c in self._choices), default=1)
        lines: list[Line] = []
        for at, choice in enumerate(self._choices):
            mark = ">" if at == self._at else " "
            style = "bold $accent" if at == self._at else ""
            lines.append(
                row(ink(f"{mark} {choice.face:>{widest}}  ", style), said(choice.words, style))
            )
        self.sheet("choices").show(window(lines, self.room[1] - 6, self._at))
        self.sheet("typed").show([f"number {self._typed}_"] if self._typed else [])
        self.show_strip()

    def action_move(self, by: int) -> None:
        self._typed = ""
        self._at = min(max(0, self._at + by), len(self._choices) - 1)
        self.draw()

    def action_digit(self, digit: str) -> None:
        """Go to the line of the number typed so far; a digit that fits none begins anew."""
        for typed in (self._typed + digit, digit):
            found = [i for i, c in enumerate(self._choices) if c.face == typed]
            begins = any(c.face.startswith(typed) for c in self._choices)
            if begins:
                self._typed = typed
                self._at = found[0] if found else self._at
                break
        self.draw()

    def action_rub_out(self) -> None:
        self._typed = self._typed[:-1]
        self.draw()

    def action_take(self) -> None:
        self.dismiss(self._choices[self._at].id if self._choices else None)
