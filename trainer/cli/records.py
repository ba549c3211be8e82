"""Commands on record files: hand a student's record out, take records in, watch a folder."""

from __future__ import annotations

import sys
import time
from copy import copy
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trainer.cli.common import (
    db_option,
    desk_options,
    json_option,
    kept_first,
    open_desk,
    say,
    show,
    show_data,
)
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from trainer.desk import Desk
    from trainer.store.records import Taken

join_option = click.option(
    "--join",
    is_flag=True,
    help="Agree that the record may combine or separate students.",
)


@click.group()
def records() -> None:
    """Carry students' records between computers, as files."""


@records.command("out")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Replace the file if it exists.")
@desk_options
def _out(file: Path, replace: bool, db: Path | None, student: str) -> None:
    """Write a student's record to a FILE: attempts, open starts, recitals."""
    from trainer.cli.files import write_file
    from trainer.draw.words import counted

    with open_desk(db) as desk:
        who = desk.students.find(student)
        text = desk.records.write(who)
        count = len(desk.store.log.attempts(who.id))
    write_file(file, text, replace=replace)
    say(f"{who.name}: {counted(count, 'attempt')} written to {file.name}.")


@records.command("in")
@click.argument("files", type=click.Path(path_type=Path), nargs=-1, required=True)
@join_option
@json_option
@db_option
def _in(files: tuple[Path, ...], join: bool, as_json: bool, db: Path | None) -> None:
    """Import the records in FILES; each whole or not at all, in any order, as often as you like."""
    from trainer.deck.exchange import read

    told = []
    with open_desk(db) as desk:
        for file in files:
            try:
                told.append(_taken(desk, file.name, read(file), join=join))
            except TrainerError as error:
                told.append({"file": file.name, "refused": str(error)})
            if not as_json:
                say(_sentence(told[-1]))
    if as_json:
        show_data({"files": told})
    if any("refused" in one for one in told):
        sys.exit(1)


@records.command("watch")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--once", is_flag=True, help="Import what is there now, then end.")
@click.option(
    "--every", type=click.FloatRange(0.1, 3600), default=5.0, help="Seconds between two checks."
)
@json_option
@db_option
def _watch(folder: Path, once: bool, every: float, as_json: bool, db: Path | None) -> None:
    """Import every record that appears in a FOLDER, until Ctrl-C.

    Files of any name are read, so that the copies a synchronised folder makes of a file are
    imported too. Other files, and deck files, are left alone.
    """
    from trainer.cli import watch as watched

    if not folder.is_dir():
        raise TrainerError(f"There is no folder {folder.name}: make it first.")
    watch = watched.Watch(folder)
    looks = 0
    try:
        while True:
            looks += 1
            with open_desk(db) as desk:
                for one in _look(desk, watch, last=once and looks == watched.LOOKS):
                    show_data(one) if as_json else say(_sentence(one))
            if once and (not watch.waiting or looks == watched.LOOKS):
                return
            time.sleep(watched.QUIET if once else every)
    except KeyboardInterrupt:
        say("No longer watching; everything imported is kept.")


@records.command("combine")
@click.argument("entry")
@click.argument("into")
@db_option
def _combine(entry: str, into: str, db: Path | None) -> None:
    """Combine the student ENTRY with the one called INTO: they are one person from now on."""
    with open_desk(db) as desk:
        one, other = desk.store.students.find(entry), desk.store.students.find(into)
        desk.records.combine(one, other)
        say(f"{one.name} is {other.name} now; `trainer records separate` takes it back.")


@records.command("separate")
@click.argument("entry")
@click.option("--machine", default="", help="Give this machine's attempts to another student.")
@click.option("--name", default="", help="The name of the other student; initials are enough.")
@json_option
@db_option
def _separate(entry: str, machine: str, name: str, as_json: bool, db: Path | None) -> None:
    """Separate people who count as one student.

    If ENTRY was combined with another entry, it becomes a student of its own again. Otherwise the
    attempts of ENTRY are listed by machine, for people who each had a copy of one database; with
    --machine and --name the attempts of one machine become another student's. Every attempt is
    kept.
    """
    from trainer.draw.words import counted
    from trainer.reports.people import machines

    with open_desk(db) as desk:
        one = desk.store.students.find_entry(entry)
        if desk.records.combined_with(one):
            desk.records.take_apart(one)
            say(f"{one.name} is a student of their own again; attempts made since then stay where"
                " they were made.")  # fmt: skip
        elif machine:
            other, count = desk.records.separate(one, machine, name)
            are = counted(count, "attempt of that machine is", "attempts of that machine are")
            say(f"{are} {other.name}'s now; recitals stay with {one.name}.")
        else:
            show(machines(one, desk.store.log.machines_of(one.id)), as_json)


for _command, _before in ((_combine, "join"), (_separate, "part")):
    _same = copy(_command)  # under its name of before, for those who have it in a script
    _same.hidden = True
    records.add_command(_same, _before)


@records.command("entries")
@json_option
@db_option
def _entries(as_json: bool, db: Path | None) -> None:
    """List every entry, and which entries are one person."""
    from trainer.document.model import Table, columns, listed

    with open_desk(db) as desk:
        every = desk.store.students.entries()
        names = {one.id: one.name for one in every}
        heads = {one.id: desk.store.students.head_of(one.id) for one in every}
        rows = tuple(
            (one.name, names[heads[one.id]] if heads[one.id] != one.id else "", one.id)
            for one in every
        )
    named = columns("entry", "counts_as", "id", hidden=("id",), heads={"counts_as": "is"})
    show(listed("entries", "Entries", Table(named, rows)), as_json)


def _look(desk: Desk, watch: Any, *, last: bool) -> Iterator[dict[str, Any]]:
    """What one look at the folder has brought; records that bring nothing are not told, and a
    refusal is told once. After the last look what is still being written is told as well."""
    for name, data in watch.new():
        try:
            if isinstance(data, TrainerError):
                raise data
            told = _taken(desk, name, data, join=False)
        except TrainerError as error:
            if watch.refused(name, str(error)):
                yield {"file": name, "refused": str(error)}
            continue
        watch.taken(name)
        if told["new"]:
            yield told
    for name in watch.waiting if last else ():
        why = f"{name} is still being written: look again when it is done."
        yield {"file": name, "refused": why}


def _taken(desk: Desk, name: str, data: bytes, *, join: bool) -> dict[str, Any]:
    from trainer.values import plain

    record, taken = desk.records.take_in(data, name, join=join)
    latest = desk.clock()
    return {
        "file": name,
        "student": record.name,
        "new": taken.anything,
        **plain(taken),
        "differing": list(taken.differing),
        "in the future": sum(one.at > latest for one in record.attempts),
        "words": _words(taken),
    }


def _words(taken: Taken) -> str:
    """What was new, in words."""
    from trainer.draw.words import counted

    found = [
        counted(count, *word)
        for count, *word in (
            (taken.attempts, "attempt", "attempts"),
            (taken.retractions, "taken back", "taken back"),
            (taken.openings, "start opened or closed", "starts opened or closed"),
            (taken.layer, "word on the student's own", "words on the student's own"),
            (taken.joinings, "entry combined or separated", "entries combined or separated"),
        )
        if count
    ]
    if taken.students:
        found.append("a new student here")
    elif taken.edits:
        found.append("what is known of them changed")
    other = "nothing new" if taken.differing else "nothing that is not here already"
    return ", ".join(found) or other


def _sentence(told: dict[str, Any]) -> str:
    if "refused" in told:
        refusal = str(told["refused"])
        return refusal if refusal.startswith(told["file"]) else f"{told['file']}: {refusal}"
    from trainer.draw.words import counted

    ahead = told["in the future"]
    are = f"{counted(ahead, 'attempt is', 'attempts are')} dated in the future"
    clock = f" {are}: check the clock of that computer." if ahead else ""
    other = f" {kept_first(told['differing'])}" if told["differing"] else ""
    return f"{told['file']}, {told['student']}: {told['words']}.{clock}{other}"
