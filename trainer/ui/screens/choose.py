"""One of several: by its number, or with the arrows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from textual.app import ComposeResult

from trainer.ui.keys import bindings
from trainer.ui.room import Room
from trainer.ui.widgets.number import TypedNumber
from trainer.ui.widgets.rows import ListRow, Rows
from trainer.ui.widgets.sheet import Sheet, ink, row, said

if TYPE_CHECKING:
    from trainer.deck.model import Deck


class Choice(NamedTuple):
    """`id` is the answer; `number` and `words` are how it is shown and found."""

    id: str
    number: int | None
    words: str

    @property
    def face(self) -> str:
        return "" if self.number is None else str(self.number)


class NumberedRoom(Room):
    """A list whose lines are gone to with the arrows or by typing their numbers."""

    def __init__(self) -> None:
        super().__init__()
        self._at = 0  # the marked line
        self._typed = TypedNumber([])

    def action_move(self, by: int) -> None:
        self.say("")
        self._typed.clear()
        self._at = min(max(0, self._at + by), len(self._typed.numbers) - 1)
        self.draw()

    def action_digit(self, digit: str) -> None:
        self._go_to(self._typed.add(digit))

    def action_rub_out(self) -> None:
        self._go_to(self._typed.rub_out())

    def _go_to(self, found: int | None) -> None:
        """Go to the line of the number typed so far, if there is one."""
        self.say("")
        self._at = self._at if found is None else found
        self.draw()


class ChooseScreen(NumberedRoom):
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
        self._typed.numbers = [choice.face for choice in choices]

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

    def action_take(self) -> None:
        with self.minding():
            self._typed.check()
            self.dismiss(self._choices[self._at].id if self._choices else None)

    def on_rows_picked(self, message: Rows.Picked) -> None:
        """There is nothing else to do with a row: a click takes it."""
        self.dismiss(self._choices[message.at].id)


def ask_piece(
    room: Room, question: str, decks: Sequence[Deck], then: Callable[[str], None]
) -> None:
    """Ask for one of the pieces and go on with its deck's id; with one there is nothing to ask."""
    if len(decks) == 1:
        then(decks[0].id)
        return

    def chosen(deck_id: str | None) -> None:
        if deck_id is not None:
            then(deck_id)

    choices = [Choice(deck.id, n, deck.title) for n, deck in enumerate(decks, 1)]
    room.app.push_screen(ChooseScreen(question, choices), chosen)
