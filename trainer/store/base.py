"""What the parts of the store share: the connection, the clock, ids, and finding by name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TypeVar

from trainer.errors import TrainerError
from trainer.store.connection import Connection

Entry = TypeVar("Entry")


class Base:
    """`now` gives the aware instant and `new_id` a fresh global id wherever the store itself
    writes something down."""

    def __init__(
        self, connection: Connection, *, now: Callable[[], datetime], new_id: Callable[[], str]
    ) -> None:
        self._connection = connection
        self._now = now
        self._new_id = new_id

    @property
    def machine(self) -> str:
        """This database's global id, made once."""
        row = self._connection.row("SELECT id FROM machine")
        if row is None:
            raise TrainerError(
                f"{self._connection.path} has no id of its own yet: open it once where it can be"
                " written."
            )
        return str(row[0])

    def _know_machine(self) -> None:
        """Make the global id where there is none. Of several copies at once, one does."""
        known = "SELECT 1 FROM machine"
        if self._connection.row(known) is None:
            with self._connection.writing() as run:
                if run(known).fetchone() is None:
                    run("INSERT INTO machine (seq, id) VALUES (1, ?)", (self._new_id(),))


def shown(text: str) -> str:
    """A text from a score or a person as part of a sentence: short, in one line, quoted."""
    plain = "".join(sign if sign.isprintable() else " " for sign in text[:60])
    return f'"{plain}…"' if len(text) > 60 else f'"{plain}"'


def marks(values: Sequence[object]) -> str:
    """The place for a list of values in a statement: "(?, ?)"."""
    return f"({', '.join('?' for _ in values)})"


SHORTEST_ID = 6  # digits from which a number may be meant as the beginning of an id


def find(kind: str, text: str, entries: Sequence[tuple[str, str, Entry]]) -> Entry:
    """The entry that a number from 1, a name, or the beginning of a name or id means.

    `entries` holds (id, name, entry) in the order of their numbers. Raises TrainerError that
    lists the candidates where none or several are meant.
    """
    wanted = text.strip().casefold()
    if wanted.isdecimal() and 0 < int(wanted) <= len(entries):
        return entries[int(wanted) - 1][2]
    # A number that is too high must not happen to begin some id.
    by_id = not wanted.isdecimal() or len(wanted) >= SHORTEST_ID
    for same in (str.__eq__, str.startswith):
        met = [e for e in entries if wanted and same(e[1].casefold(), wanted)]
        met = met or [e for e in entries if wanted and by_id and same(e[0], text.strip())]
        if len(met) == 1:
            return met[0][2]
        if met:
            raise TrainerError(
                f"{shown(text)} may be {_listed(entries, met)}: say which {kind} by its number."
            )
    if not entries:
        raise TrainerError(f"There is no {kind} yet: add one first.")
    raise TrainerError(f"There is no {kind} {shown(text)}: there is {_listed(entries, entries)}.")


def _listed(
    entries: Sequence[tuple[str, str, Entry]], some: Sequence[tuple[str, str, Entry]]
) -> str:
    words = [f"{n} {shown(e[1])}" for n, e in enumerate(entries, 1) if e in some]
    more = len(words) - 8
    return ", ".join(words[:8]) + (f" and {more} more" if more > 0 else "")
