"""Commands that rehearse going on after a slip: run, rehearse, slips."""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trainer.cli.common import desk_options, listing_options, open_desk, say, show
from trainer.deck.edit import numbered
from trainer.errors import TrainerError
from trainer.practice import run as runs
from trainer.score.find import find

if TYPE_CHECKING:
    from trainer.deck.model import Piece
    from trainer.desk import Desk

HELP = (
    "Play it all from memory. After a slip go on from the next start, never back to the top. "
    "Then tell each slip: its bar and the start where you went on, such as 41:2 7; a ? for what "
    "you do not know. u takes the last one back; an empty line ends."
)


@click.command()
@click.argument("piece", default="")
@desk_options
def run(piece: str, db: Path | None, student: str) -> None:
    """A run-through of a PIECE: play it all, then tell the slips, line by line."""
    with open_desk(db) as desk:
        view = desk.view(desk.student(student))
        found = view.pieces[desk.find(piece).id]
        made = desk.begin_run(view, found.deck.id)
        say([f"Run-through: {found.deck.title}.", HELP])
        while not made.over:
            line = _line()
            try:
                made = desk.in_run(_step(desk, found, made, line))
            except TrainerError as error:
                say(str(error))
        count = len(made.slips)
        say("No slip." if not count else f"{count} slips." if count > 1 else "One slip.")


def _step(desk: Desk, piece: Piece, made: runs.Run, line: str) -> runs.Step:
    now, new_id = desk.clock(), desk.new_id()
    if not line:
        return runs.finish(made, now, new_id)
    if line == "u":
        return runs.undo(made, now, new_id)
    words = line.split()
    if len(words) != 2:
        raise TrainerError("Write a bar and a start, such as 41:2 7; a ? for what is not known.")
    broke_at = None if words[0] == "?" else find(piece.score, words[0])
    resumed = "" if words[1] == "?" else numbered(piece.deck, _number(words[1])).id
    return runs.slip(made, now, new_id, broke_at=broke_at, resumed=resumed)


def _number(text: str) -> int:
    if not text.isdecimal() or len(text) > 5:
        raise TrainerError(f"{text!r} is no start; give its number, or a ? if you do not know.")
    return int(text)


@click.command()
@click.argument("piece", default="")
@click.option("--times", type=click.IntRange(1, 50), default=5, show_default=True)
@desk_options
def rehearse(piece: str, times: int, db: Path | None, student: str) -> None:
    """Rehearse slips in a PIECE: begin where you are called; when you are interrupted, go on
    from the next start, and say which one you reached."""
    with open_desk(db) as desk:
        view = desk.view(desk.student(student))
        found = view.pieces[desk.find(piece).id]
        calls = [start for start in found.deck.starts if found.deck.following(start.id)]
        calls = [start for start in calls if start.id in view.open] or calls
        if not calls:
            raise TrainerError(f"{found.deck.title} has one start only: there is none to go on to.")
        say("Begin where you are called. At Stop, go on from the next start at once.")
        for _ in range(times):
            start = desk.rng.choice(calls)
            if not _rehearsed(desk, found, start.number, view.student.name):
                break


def _rehearsed(desk: Desk, piece: Piece, number: int, name: str) -> bool:
    """One call; whether to go on."""
    from trainer.reports.view import where

    start = numbered(piece.deck, number)
    say(["", f"Start {number}, {where(piece, start)}. Enter, and play; q ends."])
    if _line(end="q") == "q":
        return False
    tempo = [mark.value for mark in piece.score.marks_of("tempo") if mark.onset <= start.onset]
    wait = runs.interruption(
        start.onset, piece.end_of(start), tempo[-1] if tempo else None, desk.rng
    )
    if sys.stdin.isatty():
        time.sleep(wait)
    say("\aStop. Go on from the next start. Which one did you reach? Its number; - for none.")
    answer = _line(end="-")
    try:
        resumed = None if answer == "-" else numbered(piece.deck, _number(answer)).id
        view = desk.view(desk.student(name))
        made = desk.rehearsed(view, start, piece.deck.id, resumed, round(wait, 1))
        say(f"Recorded: {made.outcome.value}.")
    except TrainerError as error:
        say(f"{error} Nothing was recorded.")
    return True


@click.command()
@click.argument("piece", default="")
@listing_options
def slips(piece: str, db: Path | None, student: str, as_json: bool) -> None:
    """The slips of run-throughs and rehearsals: where it broke, and where it went on."""
    from trainer.reports.slips import report

    with open_desk(db) as desk:
        deck = desk.find(piece).id if piece else None
        show(report(desk.view(desk.student(student)), deck), as_json)


def _line(end: str = "") -> str:
    """One line that was typed; `end` where the input has ended."""
    sys.stdout.write("> ")
    sys.stdout.flush()
    line = sys.stdin.readline()
    if not sys.stdin.isatty():
        sys.stdout.write("\n")
    return line.strip().lower() if line else end
