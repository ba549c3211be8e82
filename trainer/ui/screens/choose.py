"""One of several: by its number, or with the arrows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from textual.app import ComposeResult

from trainer.ui.keys import bindings
from trainer.ui.room import Room
from trainer.ui.widgets.number import TypedNumber
from trainer.ui.widgets.rows import ListRow, Rows
from trainer.ui.widgets.sheet import Sheet, ink, row, said


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
    ChooseScreen > #typed { height: 1; padding: 0 2; color: $accent; }
    """

    def __init__(self, question: str, choices: Sequence[Choice], here: str = "") -> None:
        super().__init__()
        self._question = question
        self._choices = choices
        ids = [choice.id for choice in choices]
        self._at = ids.index(here) if here in ids else 0
        self._typed = TypedNumber([choice.face for choice in choices])

    def body(self) -> ComposeResult:
        yield Rows("choices")
        yield Sheet("typed", fixed=True)

    def draw(self) -> None:
        self.show_title(self._question)
        widest = max((len(c.face) for c in self._choices), default=1)
        rows = []
        for at, choice in enumerate(self._choices):
            mark = ">" if at == self._at else " "
            style = "bold $accent" if at == self._at else ""
            head = ink(f"{mark} {choice.face:>{widest}}  ", style)
            rows.append(ListRow(at, [row(head, said(choice.words, style))]))
        self.query_one(Rows).show(rows, self._at)
        self.sheet("typed").show(self._typed.lines)
        self.show_strip()

    def action_move(self, by: int) -> None:
        self.say("")
        self._typed.clear()
        self._at = min(max(0, self._at + by), len(self._choices) - 1)
        self.draw()

    def action_digit(self, digit: str) -> None:
        """Go to the line of the number typed so far, if there is one."""
        self.say("")
        found = self._typed.add(digit)
        self._at = self._at if found is None else found
        self.draw()

    def action_rub_out(self) -> None:
        self.say("")
        found = self._typed.rub_out()
        self._at = self._at if found is None else found
        self.draw()

    def action_take(self) -> None:
        with self.minding():
            self._typed.check()
            self.dismiss(self._choices[self._at].id if self._choices else None)

    def on_rows_picked(self, message: Rows.Picked) -> None:
        """There is nothing else to do with a row: a click takes it."""
        self.dismiss(self._choices[message.at].id)
