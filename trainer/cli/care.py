"""Commands that take care of the data: check it, back it up, go back, erase a student."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trainer import terminal
from trainer.cli.common import db_option, json_option, local_now, open_desk, say, show, show_data
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from trainer.store.backup import Backup
    from trainer.store.check import Finding


@click.command()
@click.option("--repair", is_flag=True, help="Repair what can be repaired, after a backup.")
@json_option
@db_option
def check(repair: bool, as_json: bool, db: Path | None) -> None:
    """Check whether anything is wrong with the database, and say what to do."""
    from trainer.values import plain

    found = _found(db, repair=repair)
    wrong = [one for one in found if one.weight == "wrong"]
    if as_json:
        show_data({"sound": not wrong, "findings": [plain(one) for one in found]})
    else:
        say(_line(one) for one in found)
        mend = " `trainer check --repair` repairs what it can." if not repair else ""
        can = any(one.repair for one in wrong)
        say(
            f"{len(wrong)} faults.{mend if can else ''}"
            if wrong
            else "Nothing is wrong with the database."
        )
    if wrong:
        sys.exit(1)


def _found(db: Path | None, *, repair: bool) -> tuple[Finding, ...]:
    from trainer.store.backup import listed
    from trainer.store.check import Finding
    from trainer.store.place import locate

    try:
        with open_desk(db) as desk:
            return desk.store.faults.repair() if repair else desk.store.faults.find()
    except TrainerError as error:
        count = len(listed(locate(db, os.environ)))
        there = "There is 1 backup" if count == 1 else f"There are {count} backups"
        hint = f" {there}: `trainer backup list`." if count else ""
        return (Finding("wrong", f"{error}{hint}"),)


def _line(one: Finding) -> str:
    can = f" (--repair: {one.repair})" if one.repair else ""
    return f"{one.weight}: {one.what}{can}"


@click.group()
def backup() -> None:
    """Copies of the whole database, made before risky steps and by hand."""


@backup.command("list")
@json_option
@db_option
def _list(as_json: bool, db: Path | None) -> None:
    """List the backups, the newest first."""
    from trainer.document.model import Table, columns, listed

    rows = tuple(
        (number, f"{one.at.astimezone():%Y-%m-%d %H:%M}", one.why, one.size // 1000, one.name)
        for number, one in enumerate(_backups(db), 1)
    )
    heads = columns(
        *("number", "made", "why", "kilobytes", "file"),
        figures=("number", "kilobytes"),
        hidden=("file",),
        heads={"kilobytes": "kB"},
    )
    notes = () if rows else ("No backup yet: `trainer backup make`.",)
    show(listed("backups", "Backups", Table(heads, rows), notes), as_json)


@backup.command("make")
@db_option
def _make(db: Path | None) -> None:
    """Make a backup now."""
    with open_desk(db) as desk:
        made = desk.store.backups.make("by hand")
        assert made is not None
        say(f"Backed up: {made.name} in {desk.store.path.name}.backups, {made.size // 1000:,} kB.")


@backup.command("restore")
@click.argument("which")
@click.option("--yes", is_flag=True, help="Restore without asking.")
@db_option
def _restore(which: str, yes: bool, db: Path | None) -> None:
    """Restore a backup: WHICH is its number in the list, or a file.

    What is here now is backed up first. A student who was erased since stays erased.
    """
    source = _source(which, db)
    if not yes:
        terminal.confirm(
            f"Restore {source.name}? The present database is backed up first.", abort=True
        )
    from trainer.store.trouble import UnusableError

    try:
        with open_desk(db) as desk:
            desk.store.backups.restore(source)
    except UnusableError as error:
        # Of a number in the list is known that it is of this file, whatever that looks like now.
        if not (error.damaged or which.isdecimal()) or error.path.name == source.name:
            raise
        _rescue(source, db)
        return
    say(f"Restored {source.name}; what was here before is now backup 1.")


def _rescue(source: Path, db: Path | None) -> None:
    from trainer.store.care import rescue
    from trainer.store.place import locate

    aside = rescue(locate(db, os.environ), source, local_now())
    say(f"Restored {source.name}; the damaged file is kept as {aside.name}.")


def _backups(db: Path | None) -> tuple[Backup, ...]:
    """The list needs no sound database."""
    from trainer.store.backup import listed
    from trainer.store.place import locate

    return listed(locate(db, os.environ))


def _source(which: str, db: Path | None) -> Path:
    from trainer.store.backup import folder
    from trainer.store.place import locate

    found = _backups(db)
    if which.isdecimal() and 0 < int(which) <= len(found):
        return folder(locate(db, os.environ)) / found[int(which) - 1].name
    if which.isdecimal():
        raise TrainerError(f"There is no backup {which}; there are {len(found)}.")
    return Path(which)


@click.command()
@click.argument("student")
@click.option(
    "--out", type=click.Path(path_type=Path), help="Write the student's record to a file first."
)
@click.option("--yes", is_flag=True, help="Erase without asking.")
@db_option
def erase(student: str, out: Path | None, yes: bool, db: Path | None) -> None:
    """Erase a STUDENT for good: from the database, its journal and the backups made here.

    It cannot reach copies made by other means, files that were handed out, or what a drive keeps
    of deleted files. An entry without personal data stays, so that no record brings the student
    back.
    """
    from trainer.cli.files import write_file
    from trainer.draw.words import counted

    with open_desk(db) as desk:
        who = desk.store.students.find(student)
        count = len(desk.store.log.attempts(who.id))
        if not yes:
            tries = counted(count, "attempt")
            terminal.confirm(f"Erase {who.name} and {tries} for good?", abort=True)
        if out:
            write_file(out, desk.records.write(who), replace=False)
        done = desk.store.erasing.erase(who)
        copies = f"{counted(done.cleaned, 'backup')} cleaned"
        if done.removed:
            copies += f", {done.removed} damaged or of an older version removed"
        tries = counted(done.attempts, "attempt")
        say(f"Erased for good: {tries}, {copies}; files that were handed out and copies made by "
        f"other means remain.")  # fmt: skip
