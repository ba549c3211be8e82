"""What the parts of the store share: the connection, the clock, ids, and finding by name.

A database has an id of its own, the machine's in every event that is made in it. A copy must not
go on under the id of its original, so the database remembers where it was when it took its id:
the computer and the path, as a digest together with that id. Where it is opened elsewhere, or
has no such memory as in a backup, it takes a new id before anything is written. A database that
was only moved takes a new id too, which does no harm.
"""

from __future__ import annotations

import os
import platform
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from hashlib import sha256
from itertools import islice
from pathlib import Path
from typing import TypeVar

from trainer.errors import TrainerError
from trainer.store.connection import Connection
from trainer.store.rows import Differing, instant

Entry = TypeVar("Entry")


@dataclass
class Part:
    """One job of the store. `_now` gives the aware instant and `_new_id` a fresh global id wherever
    the store itself writes something down."""

    _connection: Connection
    _now: Callable[[], datetime]
    _new_id: Callable[[], str]

    @property
    def machine(self) -> str:
        """This database's global id, as long as it stays in its place."""
        row = self._connection.row(_MACHINE)
        if row is None:
            raise TrainerError(
                f"{self._connection.path} has no id of its own yet: open it once where it can be"
                " written."
            )
        return str(row[0])

    def _edited(self) -> int:
        """When a row is edited that is edited now."""
        return instant(self._now())[0]

    def _keep_differing(self, differing: Iterable[Differing]) -> int:
        """Keep what differs from what is kept under its id; how many of it were not known. Inside
        a transaction."""
        new, at = 0, instant(self._now())[0]
        for one in {one.id: one for one in differing}.values():
            row = (one.id, one.student, one.kind, one.event, one.content, at)
            new += self._connection.execute(
                "INSERT INTO differing (id, student, kind, event, content, at)"
                " SELECT ?1, nullif(?2, ''), ?3, ?4, ?5, ?6"
                " WHERE NOT EXISTS (SELECT 1 FROM differing WHERE id = ?1)",
                row,
            ).rowcount
        return new

    def _know_machine(self) -> None:
        """Take a global id where there is none, or where this is a copy. Of several copies of the
        program at once, one does."""
        if self._at_home():
            return
        with self._connection.writing() as run:
            if not self._at_home():
                id_ = self._new_id()
                run("INSERT INTO machine (id) VALUES (?)", (id_,))
                run(
                    "INSERT INTO place (seq, digest) VALUES (1, ?)"
                    " ON CONFLICT (seq) DO UPDATE SET digest = excluded.digest",
                    (_place(id_, self._connection.path),),
                )

    def _at_home(self) -> bool:
        """Whether the database is where it took its id."""
        machine, place = self._connection.row(_MACHINE), self._connection.row(_PLACE)
        return bool(machine and place and place[0] == _place(machine[0], self._connection.path))


_MACHINE = "SELECT id FROM machine ORDER BY seq DESC LIMIT 1"
_PLACE = "SELECT digest FROM place"


def _place(machine: str, path: Path) -> str:
    """A digest of where a database is, from which nobody learns the place: the computer's own
    random id goes into it where the system has one."""
    where = os.path.normcase(os.path.realpath(path))
    told = "\n".join((machine, *_computer(), where))
    return sha256(told.encode("utf-8", "surrogateescape")).hexdigest()


@cache
def _computer() -> tuple[str, ...]:
    """What tells this computer from another one: its name, and the id that the system drew when
    it was installed. https://www.freedesktop.org/software/systemd/man/machine-id.html"""
    found = [platform.node().partition(".")[0]]
    for file in ("/etc/machine-id", "/var/lib/dbus/machine-id"):
        with suppress(OSError):
            found.append(Path(file).read_bytes().hex())
            break
    return tuple(found)


def shown(text: str) -> str:
    """A text from a score or a person as part of a sentence: short, in one line, quoted."""
    plain = "".join(sign if sign.isprintable() else " " for sign in text[:60])
    return f'"{plain}…"' if len(text) > 60 else f'"{plain}"'


def marks(values: Sequence[object]) -> str:
    """The place for a list of values in a statement: "(?, ?)"."""
    return f"({', '.join('?' for _ in values)})"


PORTION = 250  # events or ids that are looked up at once


def portions(some: Iterable[Entry]) -> Iterator[tuple[Entry, ...]]:
    """Some of a long list at a time."""
    left = iter(some)
    while found := tuple(islice(left, PORTION)):
        yield found


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
