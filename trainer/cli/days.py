"""Commands of the day: what to drill, what holds, the log of tries."""

from __future__ import annotations

from pathlib import Path

import click

from trainer.cli.common import (
    desk_options,
    listing_options,
    open_desk,
    say,
    say_of_clock,
    show,
    show_csv,
)
from trainer.cli.report import show_report, viewed
from trainer.draw.words import BANDS
from trainer.errors import TrainerError
from trainer.memory.model import Band
from trainer.record.attempt import Outcome
from trainer.reports.retention import SORTS


@click.command()
@click.argument("piece", default="")
@click.option("--minutes", type=click.FloatRange(0.5, 240), help="Time for today's drill.")
@listing_options
def today(piece: str, minutes: float | None, db: Path | None, student: str, as_json: bool) -> None:
    """What to drill today, and why; for one PIECE or for all."""
    show_report("today", piece, db, student, as_json, minutes)


@click.command()
@click.argument("piece", default="")
@click.option(
    "--sort",
    type=click.Choice([name.replace(" ", "-") for name in SORTS]),
    default="weakest",
    show_default=True,
    help="The order; score is the order of the score.",
)
@click.option(
    "--only", type=click.Choice(BANDS), multiple=True, help="Only these; can be repeated."
)
@listing_options
def retention(
    piece: str,
    sort: str,
    only: tuple[Band, ...],
    db: Path | None,
    student: str,
    as_json: bool,
) -> None:
    """What holds, phrase by phrase, weakest first; for one PIECE or for all."""
    from trainer.reports.retention import report

    with viewed(piece, db, student) as (view, deck):
        show(report(view, deck, sort=sort.replace("-", " "), only=only), as_json)


@click.command()
@click.argument("piece", default="")
@click.option("--start", type=int, help="Only this start of the PIECE.")
@click.option("--csv", "as_csv", is_flag=True, help="All columns, for a spreadsheet.")
@listing_options
def attempts(
    piece: str,
    start: int | None,
    as_csv: bool,
    db: Path | None,
    student: str,
    as_json: bool,
) -> None:
    """The log of all attempts, newest first; for one PIECE or for all.

    With --csv each attempt is a line with every column that is kept; an apostrophe is put before
    anything that a spreadsheet might run as a formula.
    """
    from trainer.deck.edit import numbered
    from trainer.reports.attempts import raw, report

    if as_csv and as_json:
        raise click.UsageError("Give --csv or --json, not both.")
    if start is not None and not piece:
        raise click.UsageError("--start needs a PIECE.")
    with viewed(piece, db, student) as (view, deck):
        start_id = numbered(view.decks[deck], start).id if deck and start is not None else None
        if as_csv:
            show_csv(raw(view, deck, start_id))
        else:
            show(report(view, deck, start_id), as_json)


@click.command()
@click.argument("piece")
@click.argument("number", type=int)
@click.argument(
    "outcome", type=click.Choice([outcome.value for outcome in Outcome]), metavar="OUTCOME"
)
@click.option("--teacher", is_flag=True, help="The teacher marked it.")
@click.option("--elsewhere", "other", type=int, help="The start that was played instead.")
@click.option("--broke-at", default="", help="The place where it broke off, such as 14:2.")
@desk_options
def record(
    piece: str, number: int, outcome: str, teacher: bool, other: int | None, broke_at: str,
    db: Path | None, student: str,
) -> None:  # fmt: skip
    """Record one attempt at start NUMBER of a PIECE, for instance at a lesson.

    The OUTCOME is through, stopped, "broke off", looked, nothing or elsewhere.
    """
    from trainer.deck.edit import numbered
    from trainer.score.find import find

    with open_desk(db) as desk:
        view = desk.views.of(desk.students.find(student))
        found = view.pieces[desk.pieces.find(piece).id]
        if (other is not None) != (outcome == Outcome.ELSEWHERE.value):
            raise TrainerError("'elsewhere' needs --elsewhere NUMBER; no other outcome takes it.")
        say_of_clock(desk, view)
        attempt = desk.attempts.add(
            view,
            found.deck,
            number,
            Outcome(outcome),
            judge="teacher" if teacher else "self",
            elsewhere="" if other is None else numbered(found.deck, other).id,
            broke_at=find(found.score, broke_at) if broke_at else None,
        )
        say(f"Recorded: {found.deck.title}, start {number}, {outcome} ({attempt.id[:8]}).")


@click.command("take-back")
@click.argument("attempt", default="")
@desk_options
def take_back(attempt: str, db: Path | None, student: str) -> None:
    """Take back the last attempt, or the ATTEMPT given by its id or the beginning of its id."""
    with open_desk(db) as desk:
        view = desk.views.of(desk.students.find(student))
        found = [one for one in view.attempts if one.id.startswith(attempt)]
        if not found or (attempt and len(found) > 1):
            raise TrainerError(
                f"{'No attempt matches' if not found else 'Several attempts match'} {attempt}; "
                "`trainer attempts --json` shows the ids."
                if attempt
                else "There is nothing to take back yet."
            )
        desk.attempts.take_back(found[-1])
        say(f"Taken back: {found[-1].outcome} of {found[-1].at:%Y-%m-%d %H:%M}.")
