"""The screens; without a terminal, the day as text."""

from __future__ import annotations

import gc
import sys
from pathlib import Path
from typing import Any

import click

from trainer import terminal
from trainer.cli.common import desk_options, make_desk, open_desk, plain_ascii, show


def on_terminal() -> bool:
    """Whether the screens can be shown: on a terminal, or through who drives them."""
    return terminal.is_driven() or (terminal.is_typed() and terminal.is_read())


def run_screens(db: Path | None, **options: Any) -> None:
    """Open the screens, with the options of the app; the store is opened after the first frame."""
    gc.disable()  # a start makes much and drops nothing; `run` lets the collector in again
    from trainer.ui.app import TrainerApp, run

    sys.exit(run(TrainerApp(lambda: make_desk(db), ascii=plain_ascii(), **options)))


@click.command()
@click.option("--instrument", default="", help="The instrument that listens this time.")
@desk_options
def app(instrument: str, db: Path | None, student: str) -> None:
    """Open the screens. Without a terminal, print today's drill as text."""
    if on_terminal():
        run_screens(db, student=student, instrument=instrument)
    from trainer.reports.today import report

    with open_desk(db) as desk:
        show(report(desk.views.of(desk.students.find(student))), as_json=False)
