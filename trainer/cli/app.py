"""The screens; without a terminal, the day as text."""

from __future__ import annotations

import gc
import sys
from pathlib import Path

import click

from trainer import terminal
from trainer.cli.common import desk_options, make_desk, open_desk, plain_ascii, show


def on_terminal() -> bool:
    return terminal.is_typed() and terminal.is_read()


def run_screens(
    db: Path | None,
    student: str = "",
    *,
    drill: bool = False,
    prepare: str = "",
    instrument: str = "",
) -> None:
    """Open the screens; the store is opened after the first frame."""
    gc.disable()  # a start makes much and drops nothing; `run` lets the collector in again
    from trainer.ui.app import run

    sys.exit(
        run(
            lambda: make_desk(db),
            student=student,
            drill=drill,
            prepare=prepare,
            instrument=instrument,
            ascii=plain_ascii(),
        )
    )


@click.command()
@click.option("--instrument", default="", help="The instrument that listens this time.")
@desk_options
def app(instrument: str, db: Path | None, student: str) -> None:
    """Open the screens. Without a terminal, print today's drill as text."""
    if on_terminal():
        run_screens(db, student, instrument=instrument)
    from trainer.reports.today import report

    with open_desk(db) as desk:
        show(report(desk.view(desk.student(student))), as_json=False)
