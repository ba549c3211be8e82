"""The command on one student's own layer over a deck."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from trainer.cli.common import listing_options, open_desk, say, show
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from trainer.desk import Desk
    from trainer.record.layer import What
    from trainer.reports.view import View


@click.command()
@click.argument("piece", default="")
@click.argument("number", type=int, required=False)
@click.option("--fingering", help='Own fingering, such as "R 1-2-4"; "" removes it.')
@click.option("--words", help='Own words, after the teacher\'s advice; "" removes them.')
@click.option("--tempo", help='Own tempo, 10 to 400 felt beats a minute; "" removes it.')
@click.option(
    "--leave-out/--leave-in", default=None, help="Stop calling this start, or call it again."
)
@click.option(
    "--worked-on",
    is_flag=True,
    help="Record work on it outside the drill: taken apart, slowly, hands separately.",
)
@click.option("--take-back", is_flag=True, help="Remove all own changes at this start.")
@click.option("--add", metavar="PLACE", help="Add a start of your own, at 23 or 23:2.")
@listing_options
def own(
    piece: str,
    number: int | None,
    fingering: str | None,
    words: str | None,
    tempo: str | None,
    leave_out: bool | None,
    worked_on: bool,
    take_back: bool,
    add: str | None,
    db: Path | None,
    student: str,
    as_json: bool,
) -> None:
    """One student's own changes to the teacher's deck: make one at start NUMBER of a PIECE, or list
    them.

    The deck stays as it is for everybody else, and a newer version of it leaves own changes in
    place. They travel in the student's record.
    """
    from trainer.reports.own import report

    left_out = None if leave_out is None else "yes" if leave_out else ""
    given: dict[What, str | None] = {
        "fingering": fingering,
        "words": words,
        "tempo": tempo,
        "left out": left_out,
    }
    said = {what: value for what, value in given.items() if value is not None}
    with open_desk(db) as desk:
        view = desk.views.of(desk.students.find(student))
        deck_id = desk.pieces.find(piece).id
        if (said or take_back or worked_on) and number is None:
            raise TrainerError("Say at which start: its number comes after the piece.")
        line = ""
        if add is not None:
            if number is not None or said or take_back or worked_on:
                raise TrainerError("Do not give a start number or another option with --add.")
            line = _add(desk, view, deck_id, add)
        elif number is not None:
            if take_back + worked_on + bool(said) > 1:
                alone = "--take-back" if take_back else "--worked-on"
                raise TrainerError(f"Do not give another option with {alone}.")
            if worked_on:
                line = _worked_on(desk, view, deck_id, number)
            else:
                line = _say(desk, view, deck_id, number, said, take_back=take_back)
        if line and not as_json:
            say(line)
        else:
            show(report(desk.views.of(view.student), deck_id), as_json)


def _worked_on(desk: Desk, view: View, deck_id: str, number: int) -> str:
    """Say that a start was worked on; the sentence that tells of it."""
    from trainer.deck.edit import numbered

    piece = view.pieces[deck_id]
    start = numbered(piece.deck, number)
    desk.own.work_on(view.student, piece.deck, start)
    return f"{piece.deck.title}, start {number}: worked on today. It is called again as usual."


def _add(desk: Desk, view: View, deck_id: str, at: str) -> str:
    """Add a start; the sentence that tells of it."""
    from trainer.reports.view import where
    from trainer.score.find import find

    piece = view.pieces[deck_id]
    start_id = desk.own.add(view, deck_id, find(piece.score, at))
    now = desk.views.of(view.student)
    start = now.decks[deck_id].start(start_id)
    place = where(piece, start, view.words)
    state = "open" if start_id in now.open else f"not open: `trainer open PIECE {start.number}`"
    return f"{piece.deck.title}, for {view.student.name}: start {start.number}, {place}; {state}."


def _say(
    desk: Desk, view: View, deck_id: str, number: int, said: dict[What, str], *, take_back: bool
) -> str:
    """Say what is own at a start; the sentence that tells what it is now."""
    from trainer.deck.edit import numbered
    from trainer.record.layer import Own
    from trainer.reports.own import told
    from trainer.reports.view import where

    piece = view.pieces[deck_id]
    start = numbered(piece.deck, number)
    if take_back:
        desk.own.take_back(view, deck_id, start)
    desk.own.set(view.student, piece.deck, start, said)
    now = desk.views.of(view.student).own(deck_id, start.id)
    known = "; ".join(f"{name} {value}" for name, value in told(view, piece, now))
    words = f"own {known}" if now != Own(start.id) else "as in the teacher's deck"
    if take_back and view.own(deck_id, start.id).added is not None:
        words = "taken back; its attempts are kept"
    place = where(piece, start, view.words)
    return f"{piece.deck.title}, start {number}, {place}, for {view.student.name}: {words}."
