"""Commands that make files to print, and the calendar."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, get_args

import click

from trainer.cli.common import (
    db_option,
    desk_options,
    full_option,
    open_desk,
    past_day,
    say,
    several_option,
    student_option,
    tell_day,
)
from trainer.errors import TrainerError
from trainer.paper.page import Paper
from trainer.reports.registry import REPORTS

if TYPE_CHECKING:
    from datetime import date

    from trainer.cli.common import F
    from trainer.deck.model import Piece
    from trainer.desk import Desk

replace_option = click.option("--replace", is_flag=True, help="Replace the file if it exists.")


def page_options(command: F) -> F:
    """--out, --replace and --paper, for every command that makes a page."""
    out = click.option(
        "--out",
        required=True,
        type=click.Path(path_type=Path),
        help="The file to write: .html, or .pdf with the extra `pdf`.",
    )
    paper = click.option(
        "--paper",
        type=click.Choice(get_args(Paper)),
        help="The size of the paper; by default the printer's own, A4 for a PDF.",
    )
    return out(replace_option(paper(command)))


def _write(out: Path, replace: bool, page: Callable[[], str]) -> None:
    """Make a page and write it, as HTML or PDF by the ending of the file's name."""
    from trainer.cli.files import write_file

    kind = out.suffix.lower()
    if kind not in (".html", ".htm", ".pdf"):
        raise TrainerError(
            f"{out.name} is neither a page nor a PDF; end the name in .html or .pdf."
        )
    if out.exists() and not replace:
        raise TrainerError(f"{out.name} exists already; choose another name or give --replace.")
    made: str | bytes = page()
    if kind == ".pdf":
        from trainer.paper.pdf import as_pdf

        made = as_pdf(str(made))
    write_file(out, made, replace=replace)
    say(f"Written to {out.name}.")


@click.group("print")
def print_() -> None:
    """Make pages to print: for the music stand, a recital, a term, a lesson.

    Each is one file that any browser shows and prints, also in black and white, on A4 or Letter.
    Nothing leaves this computer.
    """


@print_.command("sheet")
@click.argument("piece")
@click.option("--since", default="", help="Old numbers are those before this day (12 May).")
@student_option
@page_options
@db_option
def _sheet(
    piece: str, since: str, student: str, out: Path, replace: bool, paper: Paper | None,
    db: Path | None,
) -> None:  # fmt: skip
    """The starts of a PIECE for the music stand, in large print.

    Where numbers have changed, the old ones stand beside the new: those from before the last
    change, or from before the date of --since. With --student it is that student's sheet.
    """
    from trainer.paper.sheet import sheet
    from trainer.record.attempt import practice_day
    from trainer.reports.settings import naming, words

    with open_desk(db) as desk:
        deck = desk.pieces.find(piece).id
        if student:
            view = desk.views.of(desk.students.find(student))
            found, names, said = view.pieces[deck], view.names, view.words
        else:
            kept = desk.store.settings.get
            found = desk.store.pieces.get(deck)
            names, said = naming(kept("names") or ""), words(kept("words") or "")
        day = past_day(since, desk)
        before = _before(desk, found, day)
        today = practice_day(desk.clock())
        _write(
            out,
            replace,
            lambda: sheet(found, today, before=before, names=names, words=said, paper=paper),
        )
    tell_day("Since", day)


def _before(desk: Desk, piece: Piece, since: date | None) -> Piece | None:
    """The form of a piece whose numbers are the old ones, on the score that it has now."""
    from trainer.deck.model import Deck, Piece
    from trainer.paper.sheet import form_before

    decks: dict[str, Deck | None] = {}

    def form(revision: str) -> Deck | None:
        if revision not in decks:
            try:
                decks[revision] = desk.store.pieces.deck(piece.deck.id, revision)
            except TrainerError:  # told of by another machine, its contents never came
                decks[revision] = None
        return decks[revision]

    def numbers(revision: str) -> dict[str, int] | None:
        found = form(revision)
        return {start.id: start.number for start in found.starts} if found else None

    history = desk.store.pieces.history(piece.deck.id)
    revision = form_before(history, numbers, since)
    found = form(revision) if revision else None
    return Piece(found, piece.score) if found else None


@print_.command("recital")
@full_option
@page_options
@desk_options
def _recital(
    full: bool, out: Path, replace: bool, paper: Paper | None, db: Path | None, student: str
) -> None:
    """How ready the student's next recital is, piece by piece, and recovery after a slip.

    A child's page shows the recovery points, and no forecasts.
    """
    from trainer.paper.recital import recital

    with open_desk(db) as desk:
        view = desk.views.of(desk.students.find(student), full=full)
        _write(out, replace, lambda: recital(view, paper=paper))


@print_.command("term")
@click.option("--from", "first", default="", help="The first day, such as 1 Sep.")
@click.option("--to", "last", default="", help="The last day; by default today.")
@page_options
@desk_options
def _term(
    first: str, last: str, out: Path, replace: bool, paper: Paper | None, db: Path | None,
    student: str,
) -> None:  # fmt: skip
    """For the family at home: what was practised and what holds, in plain words, without
    percentages.

    It covers the last twelve weeks, or the days from --from to --to.
    """
    from trainer.paper.written import written
    from trainer.reports.term import report

    with open_desk(db) as desk:
        view = desk.views.of(desk.students.find(student))
        since, until = past_day(first, desk), past_day(last, desk)
        found = report(view, first=since, last=until)
        _write(out, replace, lambda: written(found, paper=paper))
    tell_day("From", since)
    tell_day("To", until)


@print_.command("lesson")
@click.argument("piece", default="")
@click.option("--since", default="", help="The day of the last lesson (Monday, 12 May).")
@page_options
@desk_options
def _lesson(
    piece: str, since: str, out: Path, replace: bool, paper: Paper | None, db: Path | None,
    student: str,
) -> None:  # fmt: skip
    """For the teacher before a lesson: what is weak, what is waiting, one thing to try, and lines
    to write on; for one PIECE or for all."""
    from trainer.paper.written import written
    from trainer.reports.lesson_page import report

    with open_desk(db) as desk:
        view = desk.views.of(desk.students.find(student))
        deck = desk.pieces.find(piece).id if piece else None
        day = past_day(since, desk)
        found = report(view, deck, since=day)
        _write(out, replace, lambda: written(found, size="tight", paper=paper))
    tell_day("Since", day)


@print_.command("report")
@click.argument("name", type=click.Choice(list(REPORTS)), metavar="NAME")
@click.argument("piece", default="")
@page_options
@desk_options
def _report(
    name: str, piece: str, out: Path, replace: bool, paper: Paper | None, db: Path | None,
    student: str,
) -> None:  # fmt: skip
    """Any report, by the NAME of the command that shows it; for one PIECE or for all."""
    from trainer.cli.report import viewed
    from trainer.paper.written import written

    report = REPORTS[name]
    with viewed(piece, db, student, one=report.one_piece) as (view, deck):
        _write(out, replace, lambda: written(report(view, deck), paper=paper))


@click.command("calendar")
@click.option(
    "--out", required=True, type=click.Path(path_type=Path), help="The file to write: .ics."
)
@replace_option
@several_option
@db_option
def calendar_(out: Path, replace: bool, db: Path | None, student: str) -> None:
    """The recitals, the stages and the last two weeks as a file for a calendar (.ics).

    Import the file again after a date has changed: events move, and none is doubled.
    """
    from trainer.cli.files import write_file
    from trainer.draw.words import counted
    from trainer.paper.calendar import calendar, events

    if out.suffix.lower() != ".ics":
        raise TrainerError(f"{out.name} is not a calendar; end the name in .ics.")
    with open_desk(db) as desk:
        views = [desk.views.of(who) for who in desk.students.several(student)]
        playing = [view for view in views if view.recital] or views[:1]
        found = [one for view in playing for one in events(view)]
        write_file(out, calendar(found, desk.clock()), replace=replace)
    say(f"{counted(len(found), 'event')} written to {out.name}.")
