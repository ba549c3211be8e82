"""Commands on settings: how things are named and shown, and when there is a drill."""

from __future__ import annotations

from pathlib import Path

import click

from trainer.cli.common import desk_options, listing_options, open_desk, say, show
from trainer.errors import TrainerError


@click.group()
def settings() -> None:
    """List and change settings: minutes, days off, names of notes, words, colours."""


@settings.command("list")
@listing_options
def _list(db: Path | None, student: str, as_json: bool) -> None:
    """List all settings as they stand, with their choices."""
    with open_desk(db) as desk:
        show(desk.settings.report(desk.students.find(student)), as_json)


@settings.command("set", context_settings={"ignore_unknown_options": True})  # -5 is a value
@click.argument("name")
@click.argument("value", nargs=-1)
@desk_options
def _set(name: str, value: tuple[str, ...], db: Path | None, student: str) -> None:
    """Change the setting NAME to VALUE, such as `minutes 8, Sat 20, Sun 0`, `names german`,
    `off 3 Aug to 16 Aug` or `colours light`."""
    from trainer.reports.settings import choices, off_in_full, setting

    with open_desk(db) as desk:
        chosen = setting(name).name
        if not value:
            now = desk.settings.get(desk.students.find(student), chosen)
            raise TrainerError(choices(setting(chosen), now))
        changed = desk.settings.change(desk.students.find(student), chosen, " ".join(value))
        off = chosen == "off"
        say(f"{chosen}: {off_in_full(changed) if off else desk.settings.get(changed, chosen)}.")
        if chosen == "instrument" and (why := desk.instruments.trouble(changed)):
            say(["It cannot be heard now; it will be as soon as it is there.", why])
