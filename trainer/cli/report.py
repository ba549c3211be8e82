"""The commands that show a report, made from the registry of reports."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trainer.cli.common import listing_options, open_desk, show
from trainer.reports.registry import REPORTS, Report

if TYPE_CHECKING:
    from trainer.reports.view import View


@contextmanager
def viewed(
    piece: str, db: Path | None, student: str, minutes: float | None = None, *, one: bool = False
) -> Iterator[tuple[View, str | None]]:
    """What is known of a student, and the id of the deck that PIECE or `one` means; what was worked
    out is kept afterwards."""
    with open_desk(db) as desk:
        deck = desk.pieces.find(piece).id if piece or one else None
        seconds = None if minutes is None else minutes * 60
        view = desk.views.of(desk.students.find(student), seconds=seconds)
        yield view, deck
        desk.views.remember(view)


def show_report(
    name: str, piece: str, db: Path | None, student: str, as_json: bool,
    minutes: float | None = None,
) -> None:  # fmt: skip
    """Print a report of the registry."""
    report = REPORTS[name]
    with viewed(piece, db, student, minutes, one=report.one_piece) as (view, deck):
        show(report(view, deck), as_json)


def command(name: str) -> click.Command:
    """The command of a report that has no options of its own."""
    report = REPORTS[name]

    def run(db: Path | None, student: str, as_json: bool, piece: str = "") -> None:
        show_report(name, piece, db, student, as_json)

    run.__doc__ = report.help
    made: Callable[..., None] = listing_options(run)
    if not report.of_all:
        made = click.argument("piece", default="")(made)
    return click.command(name, help=_help(report))(made)


def _help(report: Report) -> str:
    """ "What holds, phrase by phrase; for one PIECE or for all."."""
    if report.of_all or report.one_piece:
        return report.help
    return f"{report.help.rstrip('.')}; for one PIECE or for all."
