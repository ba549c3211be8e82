"""What the commands share: their options, the desk they open, and how reports are printed."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
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
several_option = click.option(
    "--student", "-s", default="", help="The student, or a group, by name."
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON for programs.")

full_option = click.option(
    "--full", is_flag=True, help="For the teacher: a child's chances and forecasts too."
)

SPEECH = "trainer.speech"  # among what a command knows


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
    if desk.store.settings.get("speech") == "on":
        speak()
    try:
        yield desk
    finally:
        desk.store.close()


def speak() -> None:
    """Answer from here on to be listened to: a sentence a row, all in full."""
    if context := click.get_current_context(silent=True):
        context.meta[SPEECH] = True


def speaks() -> bool:
    """Whether this command answers to be listened to."""
    context = click.get_current_context(silent=True)
    return bool(context and context.meta.get(SPEECH))


def say(lines: str | Iterable[str]) -> None:
    """Print lines, as `terminal.say`; each in full where they are listened to."""
    from trainer.document.words import in_full

    if speaks():
        found = [lines] if isinstance(lines, str) else lines
        lines = [full for line in found for full in (in_full(line) if line else [""])]
    terminal.say(lines)


def say_of_clock(desk: Desk, view: View) -> None:
    """Say where the clock is seen to be wrong, before anything is recorded."""
    from trainer.reports.clock import warning

    if ahead := warning(view.log, desk.clock()):
        terminal.tell(ahead)


def kept_first(differing: Sequence[str]) -> str:
    """The sentence on events that came in with other contents than are kept under their ids."""
    from trainer.score.cite import counted

    named = ", ".join(differing[:3]) + (" and others" if len(differing) > 3 else "")
    what = counted(len(differing), "event differs", "events differ")
    return (
        f"{what} from what is kept here under the same id ({named}): the first one counts, the"
        " other is kept beside it, and `trainer check` lists it."
    )


def show(report: Document, as_json: bool) -> None:
    """Print a report, as text or as JSON."""
    from trainer.document.data import as_data
    from trainer.document.lines import as_lines, as_speech

    if as_json:
        show_data(as_data(report))
    elif speaks():
        terminal.say(as_speech(report))
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
        for end in (first, last):
            if end not in known:
                raise TrainerError(
                    f"{deck.title} has no start {end}; its starts are {known[0]} to {known[-1]}."
                )
    if not found:
        raise TrainerError(f"{text!r} runs backwards; write the lower number first, as 1-4.")
    return sorted(set(found))


def day_of(text: str, desk: Desk, *, past: bool = False) -> date:
    """A day as typed: tomorrow, 4 Jan, in 3 weeks, 2026-06-21; `past` where a day gone by is
    meant. Raises TrainerError."""
    from trainer import dates
    from trainer.record.attempt import practice_day

    return dates.day_of(text, practice_day(desk.clock()), past=past)


def past_day(text: str, desk: Desk) -> date | None:
    """The day gone by that an option names, None where it was not given. Raises TrainerError."""
    return day_of(text, desk, past=True) if text else None


def tell_day(word: str, day: date | None) -> None:
    """Tell in full how a day was read that an option named."""
    from trainer.dates import in_full

    if day is not None:
        terminal.tell(f"{word} {in_full(day)}.")
