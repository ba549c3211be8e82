"""A number that is typed to go to a line of a list: never taken for another one."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.errors import TrainerError
from trainer.ui.widgets.sheet import Line


class TypedNumber:
    """The digits typed so far. `numbers` are those of the list, line by line; "" for a line
    without one."""

    def __init__(self, numbers: Sequence[str]) -> None:
        self.numbers = numbers
        self._text = ""
        self._refused = False  # whether the number was said not to be there

    @property
    def lines(self) -> list[Line]:
        return [f"number {self._text}_"] if self._text else []

    def add(self, digit: str) -> int | None:
        """Type one more digit; after a number that was refused a new one begins. Gives the line
        that has the number, None where none has."""
        self._text = digit if self._refused else self._text + digit
        return self._line()

    def rub_out(self) -> int | None:
        self._text = self._text[:-1]
        return self._line()

    def clear(self) -> None:
        self._text, self._refused = "", False

    def check(self) -> None:
        """Raises TrainerError where what was typed is no number of the list."""
        if self._text and self._text not in self.numbers:
            self._refused = True
            raise TrainerError(
                f"{self._text} is not in this list: type one of its numbers, or choose a line with"
                " the arrows."
            )

    def _line(self) -> int | None:
        self._refused = False
        found = self._text in self.numbers and self._text != ""
        return self.numbers.index(self._text) if found else None
