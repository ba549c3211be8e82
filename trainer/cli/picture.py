"""The command that engraves the bars of a start, into a file or for this terminal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from trainer import terminal
from trainer.cli.common import desk_options, open_desk, say
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from trainer.deck.model import Piece, Start
    from trainer.desk import Desk
    from trainer.reports.view import View


@click.command()
@click.argument("piece", default="")
@click.argument("number", type=int, default=0)
@click.option("--out", type=click.Path(path_type=Path), help="A file to write: .svg or .png.")
@click.option("--width", type=click.IntRange(100, 8000), default=1600, show_default=True,
              help="The width of a .png, in pixels.")  # fmt: skip
@click.option("--replace", is_flag=True, help="Replace the file if it exists.")
@click.option("--try", "try_", is_flag=True, help="Find out how this terminal shows pictures.")
@desk_options
def picture(
    piece: str,
    number: int,
    out: Path | None,
    width: int,
    replace: bool,
    try_: bool,
    db: Path | None,
    student: str,
) -> None:
    """Engrave the bars of start NUMBER of a PIECE: those that `trainer page` shows.

    With --out they go into a file, else into this terminal. --try shows a small picture in each
    way there is; you say which one you saw, and your answer is kept as the setting `picture`.
    Needs the extra `picture`.
    """
    from trainer.deck.edit import numbered

    with open_desk(db) as desk:
        if try_:
            _try(desk, student)
            return
        if not piece or not number:
            raise TrainerError("Name a piece and the number of a start, such as `picture 1 2`.")
        view = desk.views.of(desk.students.find(student))
        found = view.pieces[desk.pieces.find(piece).id]
        start = numbered(found.deck, number)
        if out is None:
            show_picture(desk, view, found, start)
            return
    from trainer.cli.files import write_file
    from trainer.deck.page import page_span
    from trainer.picture.show import as_file

    made = as_file(found.score, *page_span(found, start), out.name, width)
    write_file(out, made, replace=replace)
    say(f"Written to {out.name}.")


def show_picture(desk: Desk, view: View, piece: Piece, start: Start) -> None:
    """Show the bars of a start in this terminal, under its place. Raises TrainerError."""
    from trainer.deck.page import page_span
    from trainer.picture.show import in_terminal
    from trainer.picture.terminal import measured
    from trainer.reports.view import where

    way = desk.settings.get(view.student, "picture")
    sent = in_terminal(piece.score, *page_span(piece, start), way, measured())
    _need_terminal()
    say(f"{piece.deck.title}, start {start.number}, {where(piece, start, view.words)}")
    terminal.send(sent)


def _try(desk: Desk, student: str) -> None:
    """Show a picture in each way, ask which one was seen, and keep the answer."""
    from trainer.picture.show import samples
    from trainer.picture.terminal import WAYS, measured

    _need_terminal()
    letters = {way[0]: way for way in WAYS}
    made = samples(measured())
    say("One note on five lines is sent in each way. Odd signs do no harm.")
    for letter, way in letters.items():
        say(["", f"{letter}: {WAYS[way].words}"])
        terminal.send(made[way])
    say("")
    choice = terminal.choose("Under which letter do you see the note? n for none", [*letters, "n"])
    kept = letters.get(choice, "off")
    desk.settings.change(desk.students.find(student), "picture", kept)
    say(f"picture: {kept}.")
    if kept == "off":
        say("With --out FILE.png pictures are written to files.")


def _need_terminal() -> None:
    if not terminal.is_read():
        raise TrainerError(
            "A picture can be shown only in a terminal; write it to a file with --out."
        )
