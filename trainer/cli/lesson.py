"""Commands of the teacher: the studio, the page before a lesson, what is done at it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from trainer import terminal
from trainer.cli.common import (
    day_of,
    db_option,
    json_option,
    listing_options,
    numbers,
    open_desk,
    past_day,
    say,
    several_option,
    show,
    show_data,
    tell_day,
)
from trainer.dates import in_full

if TYPE_CHECKING:
    from trainer.desk import Desk
    from trainer.reports.view import View


@click.command()
@json_option
@db_option
def studio(as_json: bool, db: Path | None) -> None:
    """All students, by what each needs, and the recitals to come with their programmes.

    Students are listed by name under each heading; this is not a ranking.
    """
    from trainer.reports import studio as reports

    with open_desk(db) as desk:
        found = desk.views.studio(lambda done, of: terminal.progress(f"{done} of {of}"))
    terminal.progress("")
    if as_json:
        show_data(reports.as_data(found))
        return
    show(reports.as_table(found), as_json=False)
    say("")
    show(reports.programmes_table(found), as_json=False)


@click.command()
@click.argument("piece", default="")
@click.option("--since", default="", help="The day of the last lesson, such as Monday or 25 Feb.")
@click.option("--drill", is_flag=True, help="Drill three starts, line by line; you mark them.")
@listing_options
def lesson(
    piece: str, since: str, drill: bool, db: Path | None, student: str, as_json: bool
) -> None:
    """The page before a lesson: the three weakest starts, the untried ones, the days since each
    last held cold, and one thing to try; for one PIECE or for all.

    It is for the teacher, whatever the student's level. Practice is listed since the last day on
    which the teacher marked an attempt, or --since.
    """
    from trainer.reports import lesson_page
    from trainer.reports.lesson import lesson as found_for

    with open_desk(db) as desk:
        deck = desk.pieces.find(piece).id if piece else None
        view = desk.views.of(desk.students.find(student))
        if drill:
            _drill(desk, view)
            return
        day = past_day(since, desk)
        found = found_for(view, deck, since=day)
        if as_json:
            show_data(lesson_page.as_data(found))
        else:
            show(lesson_page.document(found), as_json=False)
        desk.views.remember(view)
    tell_day("Since", day)


def _drill(desk: Desk, view: View) -> None:
    """Drill the three starts that need it most; the teacher is the judge."""
    from trainer.cli.drill import LineDrill
    from trainer.reports.lesson import three_to_hear

    chosen = three_to_hear(view)
    if not chosen:
        say("Every open start has been heard today." if view.open else "No start is open yet.")
        return
    LineDrill(desk, view, desk.exercises.drill(view, judge="teacher", only=chosen)).run()


@click.command()
@click.argument("piece", default="")
@click.argument("which", default="")
@click.option("--until", default="in a week", show_default=True, help="The next lesson's day.")
@click.option("--over", is_flag=True, help="Ask for these starts no more.")
@several_option
@db_option
@json_option
def homework(
    piece: str, which: str, until: str, over: bool, db: Path | None, student: str, as_json: bool
) -> None:
    """Ask for starts of a PIECE until the next lesson, such as 3 or 1-4,7; without them, list what
    is asked for.

    They are in each day's plan. A start that is not open yet is to be learned and then opened.
    Homework travels in the student's record.
    """
    from trainer.deck.edit import numbered
    from trainer.reports.homework import report, sentences

    with open_desk(db) as desk:
        deck = desk.pieces.find(piece).id if piece else None
        meant = desk.students.several(student)
        for who in meant if deck and which else ():
            whole = desk.views.of(who).decks[deck or ""]
            starts = [numbered(whole, number) for number in numbers(which, whole)]
            desk.own.ask(who, whole, starts, None if over else day_of(until, desk))
        for who in meant:
            view = desk.views.of(who)
            if not which or as_json:
                show(report(view, deck), as_json)
                continue
            whom = f"{who.name}: " if len(meant) > 1 else ""
            title = view.decks[deck or ""].title
            told = [*sentences(view, deck)] or [f"No homework for {who.name} in {title}."]
            say(f"{whom}{one}" for one in told)


@click.command()
@click.argument("text", required=False)
@click.option("--day", default="", help="Its day, such as Monday or 25 Feb; by default today.")
@listing_options
def note(text: str | None, day: str, db: Path | None, student: str, as_json: bool) -> None:
    """Write a note on a lesson; without TEXT, list all notes.

    A new note for the same day replaces the old one; "" deletes it. Notes stay in this database:
    they are never part of a record that is handed on.
    """
    from trainer.reports.lesson_page import notes_table

    with open_desk(db) as desk:
        who = desk.students.find(student)
        if text is None or text == "list":
            show(notes_table(who.name, desk.store.log.lesson_notes(who.id)), as_json)
            return
        made = desk.notes.write(who, text, day=past_day(day, desk))
        say(f"Note of {in_full(made.day)} on {who.name}: {'kept' if made.text else 'taken away'}.")
