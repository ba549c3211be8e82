"""A short answer that is typed."""

from __future__ import annotations

from collections.abc import Callable

from textual.app import ComposeResult
from textual.suggester import Suggester
from textual.widgets import Input

from trainer.draw.text import clean
from trainer.errors import TrainerError
from trainer.text import CONTROLS
from trainer.ui.keys import bindings, keys_of
from trainer.ui.room import Room
from trainer.ui.widgets.sheet import Sheet, wrapped

NOTHING = "Nothing was typed: type an answer, or press Esc to leave it."


class Answer(Input):
    """The text that is typed or pasted, without what a terminal would obey."""

    def validate_value(self, value: str) -> str:
        return CONTROLS.sub("", value)


class AskScreen(Room):
    """Gives the text typed, or None. `check` raises TrainerError for a text that will not do;
    `text` is there to begin with, and `suggester` goes on from what has been typed. With
    `optional` an empty answer is one too, and the question says what it means."""

    ROOM = "ask"
    BINDINGS = bindings("ask")
    DEFAULT_CSS = """
    AskScreen > #question { height: auto; padding: 1 2; }
    AskScreen > #answer { margin: 0 2; border: none; height: 1; background: $panel; }
    AskScreen > #rest { height: 1fr; }
    """

    def __init__(
        self,
        title: str,
        question: str,
        check: Callable[[str], object],
        *,
        text: str = "",
        suggester: Suggester | None = None,
        optional: bool = False,
    ) -> None:
        super().__init__()
        self._title = title
        self._question = question
        self._check = check
        self._text = text
        self._suggester = suggester
        self._optional = optional

    def body(self) -> ComposeResult:
        yield Sheet("question")
        text = clean(self._text)
        answer = Answer(text, id="answer", select_on_focus=False, suggester=self._suggester)
        answer.cursor_blink = False
        yield answer
        yield Sheet("rest", fixed=True)

    def draw(self) -> None:
        self.show_title(self._title)
        self.sheet("question").show(wrapped(self._question, self.room[0]))
        self.show_strip([key for key in keys_of("ask") if key.screen == "ask"])

    def on_input_submitted(self) -> None:
        self.action_take()

    def action_take(self) -> None:
        text = self.query_one("#answer", Input).value.strip()
        with self.minding():
            if text:
                self._check(text)
            elif not self._optional:
                raise TrainerError(NOTHING)
            self.dismiss(text)
