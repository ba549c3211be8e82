"""The demo: the main job on a throw-away database."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from pathlib import Path
from random import Random

import click

from trainer.cli.app import on_terminal, run_screens
from trainer.cli.common import make_desk, say, show

PREFIX = "trainer-demo-"  # then the process whose folder it is


@click.command()
@click.option("--plain", is_flag=True, help="Print a practice day as text, without screens.")
def demo(plain: bool) -> None:
    """Show how it works on invented data, in a database that is deleted at the end.

    In a terminal it opens the screens; elsewhere it prints the same practice day as plain text.
    """
    from trainer.demo import furnish

    _tidy()
    with tempfile.TemporaryDirectory(prefix=f"{PREFIX}{os.getpid()}-") as folder:
        db = Path(folder) / "demo.db"
        desk = make_desk(db)
        furnish(desk, Random(7))
        desk.store.close()
        if on_terminal() and not plain:
            run_screens(db)
        _print_day(db)
    sys.exit(0)


def _tidy() -> None:
    """Remove the databases of demos that were killed."""
    from trainer.files import running

    for folder in Path(tempfile.gettempdir()).glob(f"{PREFIX}*-*"):
        process = folder.name.removeprefix(PREFIX).partition("-")[0]
        if process.isdecimal() and not running(process) and not folder.is_symlink():
            shutil.rmtree(folder, ignore_errors=True)


def _print_day(db: Path) -> None:
    """What the screens would show: today's plan, the first piece's map, what holds."""
    from trainer.cli.pieces import map_lines
    from trainer.reports import retention, today

    desk = make_desk(db)
    try:
        view = desk.views.of(desk.students.find())
        say("A small music school's concert; all pieces, people and attempts are invented.")
        say("")
        show(today.report(view), as_json=False)
        for entry in desk.store.pieces.all()[:1]:
            say(["", entry.title, *map_lines(view, entry.id)])
        say("")
        show(retention.report(view), as_json=False)
        say(["", "Run `trainer demo` in a terminal to drill; `trainer --help` lists the rest."])
    finally:
        desk.store.close()
