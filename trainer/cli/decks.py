"""Commands on deck files: hand one out, take one in."""

from __future__ import annotations

from pathlib import Path

import click

from trainer.cli.common import db_option, open_desk, say
from trainer.errors import TrainerError


@click.group()
def deck() -> None:
    """Hand a piece's deck out as a file, or take one in."""


@deck.command("out")
@click.argument("piece")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Write over a file that is there.")
@db_option
def _out(piece: str, file: Path, replace: bool, db: Path | None) -> None:
    """Write the deck of a PIECE to a FILE."""
    with open_desk(db) as desk:
        entry = desk.find(piece)
        text = desk.hand_out(entry.id)
    try:
        with file.open("w" if replace else "x", encoding="utf-8") as out:
            out.write(text)
    except FileExistsError:
        raise TrainerError(f"{file.name} is there already; choose another or --replace.") from None
    except OSError as error:
        raise TrainerError(f"{file.name} cannot be written: {error.strerror}.") from error
    say(f"{entry.title}: written to {file.name}.")


@deck.command("in")
@click.argument("file", type=click.Path(path_type=Path))
@db_option
def _in(file: Path, db: Path | None) -> None:
    """Take the deck of a FILE in; one that is known becomes a new edit of it."""
    with open_desk(db) as desk:
        piece, new = desk.take_in(file)
        how = "a new piece" if new else "an edit of the deck that was here; attempts are kept"
        say(f"{piece.deck.title}: {len(piece.deck.starts)} starts, {how}.")
