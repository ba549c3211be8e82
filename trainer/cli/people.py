"""Commands on students and recitals."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import click
from msgspec.structs import replace

from trainer.cli.common import (
    day_of,
    db_option,
    json_option,
    listing_options,
    open_desk,
    say,
    several_option,
    show,
)
from trainer.dates import in_full
from trainer.draw.text import clean
from trainer.draw.words import counted
from trainer.record.people import Level, ProgrammeItem

level_option = click.option(
    "--level",
    type=click.Choice(get_args(Level)),
    help="How much is shown; a child sees no percentages.",
)
minutes_option = click.option(
    "--minutes", type=click.FloatRange(0.5, 240), help="Minutes of drill a day."
)


@click.group()
def student() -> None:
    """List, add and choose students. Initials are enough for a name; everything stays on this
    computer."""


@student.command("list")
@db_option
@json_option
def _list(db: Path | None, as_json: bool) -> None:
    """List the students."""
    from trainer.reports.people import students

    with open_desk(db) as desk:
        show(students(desk.store.students.all()), as_json)


@student.command("add")
@click.argument("name")
@level_option
@minutes_option
@db_option
def _add(name: str, level: str | None, minutes: float | None, db: Path | None) -> None:
    """Add a student called NAME."""
    fields = {"level": level or "adult", "minutes": minutes or 8.0}
    with open_desk(db) as desk:
        first = desk.store.settings.get("student") is None
        added = desk.students.add(name, **fields)
        say(f"Added: {clean(added.name).rstrip('.')}.")
        if first:  # else the next command would not know whom it is for
            desk.students.choose(added)
            say(
                "Commands and screens are now for this student; `trainer student choose` changes "
                "that."
            )


@student.command("choose")
@click.argument("name")
@db_option
def _choose(name: str, db: Path | None) -> None:
    """Make NAME the student for commands that name none."""
    with open_desk(db) as desk:
        chosen = desk.students.find(name)
        desk.students.choose(chosen)
        say(f"Chosen: {clean(chosen.name).rstrip('.')}.")


@student.command("set")
@click.argument("name")
@level_option
@minutes_option
@db_option
def _set(name: str, level: str | None, minutes: float | None, db: Path | None) -> None:
    """Change the settings of the student NAME."""
    fields = {key: value for key, value in (("level", level), ("minutes", minutes)) if value}
    with open_desk(db) as desk:
        week = () if minutes else desk.students.find(name).week  # minutes are those of every day
        changed = replace(desk.students.find(name), week=week, **fields)
        desk.store.students.save(changed)
        say(f"{changed.name}: {changed.level}, {counted(changed.minutes, 'minute')} a day.")


@click.group()
def recital() -> None:
    """List and set recitals."""


@recital.command("list")
@listing_options
def _recitals(db: Path | None, student: str, as_json: bool) -> None:
    """List the student's recitals with their programmes."""
    from trainer.reports.people import recitals

    with open_desk(db) as desk:
        show(recitals(desk.views.of(desk.students.find(student))), as_json)


@recital.command("set")
@click.argument("name")
@click.argument("day")
@click.argument("pieces", nargs=-1)
@click.option("--with-music", multiple=True, help="A piece that is played with music.")
@several_option
@db_option
def _set_recital(
    name: str, day: str, pieces: tuple[str, ...], with_music: tuple[str, ...], db: Path | None,
    student: str,
) -> None:  # fmt: skip
    """Set the recital NAME for a DAY (4 Jan, in 3 weeks, 2026-06-21) with its PIECES; again to
    change it.

    Without PIECES the programme stays as it was; that of a new recital is all that each student
    has open starts in.
    """
    with open_desk(db) as desk:
        on = day_of(day, desk)
        programme = (
            *(ProgrammeItem(desk.pieces.find(piece).id) for piece in pieces),
            *(ProgrammeItem(desk.pieces.find(piece).id, "no") for piece in with_music),
        )
        meant = desk.students.several(student)
        for who in meant:
            own = programme or desk.recitals.usual(desk.views.of(who), name)
            desk.recitals.set(who, name, on, own)
            whom = f", {who.name}" if len(meant) > 1 else ""
            say(f"{name}{whom}: {in_full(on)}, {counted(len(own), 'piece')}.")
