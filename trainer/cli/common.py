"""What the commands share: their options, the desk they open, and how reports are printed."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any, TypeVar
from uuid import uuid4

import click

from trainer import terminal
from trainer.errors import TrainerError
from trainer.terminal import plain_ascii as plain_ascii
from trainer.terminal import say as say
from trainer.terminal import width as width

if TYPE_CHECKING:
    from trainer.deck.model import Deck
    from trainer.desk import Desk
    from trainer.document.model import Document, Table
    from trainer.reports.view import View

F = TypeVar("F", bound=Callable[..., Any])

db_option = click.option(
    "--db",
    type=click.Path(path_type=Path),
    help="The database (default: TRAINER_DB, else this user's data folder).",
)
student_option = click.option("--student", "-s", default="", help="The student, by name.")
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON for programs.")


def desk_options(command: F) -> F:
    """--db and --student, for every command that opens the desk."""
    return db_option(student_option(command))


def listing_options(command: F) -> F:
    """--db, --student and --json, for every command that lists something."""
    return desk_options(json_option(command))


def local_now() -> datetime:
    return datetime.now().astimezone()


def fresh_id() -> str:
    return uuid4().hex


def make_desk(db: Path | None) -> Desk:
    """The desk over the database at `db`, or over the usual one."""
    from trainer.desk import Desk
    from trainer.store.place import locate
    from trainer.store.store import Store

    store = Store.open(locate(db, os.environ), now=local_now, new_id=fresh_id)
    return Desk(store, local_now, fresh_id, Random())


@contextmanager
def open_desk(db: Path | None) -> Iterator[Desk]:
    desk = make_desk(db)
    try:
        yield desk
    finally:
        desk.store.close()


def say_of_clock(desk: Desk, view: View) -> None:
    """Say where the clock is seen to be wrong, before anything is recorded."""
    from trainer.reports.clock import warning

    if ahead := warning(view.log, desk.clock()):
        terminal.tell(ahead)


def kept_first(differing: Sequence[str]) -> str:
    """The sentence on events that came in with other contents than are kept under their ids."""
    named = ", ".join(differing[:3]) + (" and others" if len(differing) > 3 else "")
    what = "1 event differs" if len(differing) == 1 else f"{len(differing):,} events differ"
    return (
        f"{what} from what is kept here under the same id ({named}): the first one counts, the"
        " other is kept beside it, and `trainer check` lists it."
    )


def show(report: Document, as_json: bool) -> None:
    """Print a report, as text or as JSON."""
    from trainer.document.data import as_data
    from trainer.document.lines import as_lines

    if as_json:
        show_data(as_data(report))
    else:
        say(as_lines(report, width=width(), ascii=plain_ascii()))


def show_csv(table: Table) -> None:
    """Print a report as comma-separated values, in UTF-8 whatever the terminal's encoding is."""
    from trainer.document.data import as_csv

    terminal.say_bytes(as_csv(table).encode())


def show_data(data: Any) -> None:
    terminal.say_json(data, _json)


def _json(value: Any) -> Any:
    from trainer.values import plain

    return value.isoformat() if isinstance(value, date) else plain(value)


def numbers(text: str, deck: Deck) -> list[int]:
    """Numbers of starts as typed: "3", "1-4,7" or "all". Raises TrainerError."""
    known = [start.number for start in deck.starts]
    if text.strip() == "all":
        return known
    found: list[int] = []
    for piece in text.split(","):
        match = re.fullmatch(r"\s*(\d{1,5})(?:\s*-\s*(\d{1,5}))?\s*", piece)
        if match is None:
            raise TrainerError(f"{text!r} does not name any starts; write 3, or 1-4,7, or all.")
        first, last = int(match[1]), int(match[2] or match[1])
        found += [number for number in known if first <= number <= last]
        if first == last and first not in known:
            raise TrainerError(
                f"{deck.title} has no start {first}; its starts are {known[0]} to {known[-1]}."
            )
    if not found:
        raise TrainerError(f"{deck.title} has no start in {text}.")
    return sorted(set(found))


def day_of(text: str) -> date:
    """A day as typed, 2026-06-21. Raises TrainerError."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise TrainerError(f"{text!r} is not a date; write it as 2026-06-21.") from None
