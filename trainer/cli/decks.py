"""Commands on deck files: hand one out, see what one changes, take it in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trainer import terminal
from trainer.cli.common import (
    db_option,
    json_option,
    kept_first,
    open_desk,
    say,
    several_option,
    show,
    show_data,
    width,
)
from trainer.errors import TrainerError
from trainer.score.cite import counted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from trainer.desk import Incoming, Take


@click.group()
def deck() -> None:
    """Write a piece's deck to a file, or import one."""


@deck.command("out")
@click.argument("piece")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--without-notes", is_flag=True, help="Leave out the notes, for copyright.")
@click.option("--with-score", is_flag=True, help="With the score file, so that others can mark it.")
@click.option("--replace", is_flag=True, help="Replace the file if it exists.")
@db_option
def _out(
    piece: str, file: Path, without_notes: bool, with_score: bool, replace: bool, db: Path | None
) -> None:
    """Write the deck of a PIECE to a FILE."""
    from trainer.cli.files import write_file

    if without_notes and with_score:
        raise click.UsageError("The score file has the notes: choose one of the two.")

    with open_desk(db) as desk:
        entry = desk.pieces.find(piece)
        text = desk.pieces.hand_out(entry.id, notes=not without_notes, with_score=with_score)
    write_file(file, text, replace=replace)
    without = ", without its notes" if without_notes else ""
    say(f"{entry.title}: written to {file.name}{without}.")


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.option("--without-notes", is_flag=True, help="Leave out the notes, for copyright.")
@click.option("--replace", is_flag=True, help="Replace the files that exist.")
@several_option
@db_option
def hand_out(
    folder: Path, without_notes: bool, replace: bool, db: Path | None, student: str
) -> None:
    """Write all that a student needs into a FOLDER: the decks of their pieces, their record, and a
    page for the family that says what to do with them.

    For a group each student gets a folder in it. The pieces are those with an open start, homework
    or a recital to come. Add the program's own file: `pip wheel --no-deps .` makes it in the
    program's folder.
    """
    from trainer.draw.text import file_names

    with open_desk(db) as desk:
        meant = desk.students.several(student)
        for who, name in zip(meant, file_names(one.name for one in meant), strict=True):
            into = folder / name if len(meant) > 1 else folder
            files = desk.records.to_hand_out(desk.views.of(who), notes=not without_notes)
            _write_all(files, into, replace=replace)
            say(f"{who.name}: {counted(len(files), 'file')} written to {into}.")


def _write_all(files: Mapping[str, str], into: Path, *, replace: bool) -> None:
    """Write files into a folder. Where one is there and is not to be replaced, none is written."""
    from trainer.cli.files import write_file

    taken = [name for name in files if (into / name).exists()]
    if taken and not replace:
        told = f"{into / taken[0]} exists already; choose another folder or give --replace."
        raise TrainerError(told)
    try:
        into.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise TrainerError(f"The folder {into} cannot be made: {error.strerror}.") from error
    for name, content in files.items():
        write_file(into / name, content, replace=replace)


@deck.command("in")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--show", "only_show", is_flag=True, help="Show what would change; import nothing.")
@click.option("--yes", is_flag=True, help="Import it without asking.")
@click.option(
    "--keep",
    "take",
    type=click.Choice(["file", "here"]),
    help="If the decks were edited separately: go on with the one in the file, or the one here.",
)
@json_option
@db_option
def _in(
    file: Path, only_show: bool, yes: bool, take: Take | None, as_json: bool, db: Path | None
) -> None:
    """Show what the deck in a FILE changes, then import it.

    A deck that is new here is imported at once. With --json nothing is asked: it is imported only
    with --yes.
    """
    with open_desk(db) as desk:
        incoming = desk.pieces.look_at(file)
        wanted = not only_show and (yes or not as_json)
        if not as_json:
            new = incoming.relation == "unknown"
            say(_what(incoming, desk.pieces.known(incoming.piece.score) if new else ""))
        if wanted and _asks(incoming, yes, take):
            wanted = terminal.confirm("Import it?")
        differing = desk.pieces.take_in(incoming, take=take) if wanted else ()
        if as_json:
            show_data({**_data(incoming), "taken": wanted, "differing": list(differing)})
        else:
            say(_done(incoming, wanted, take))
            if differing:
                say(kept_first([f"deck edit {id_}" for id_ in differing]))


@deck.command("history")
@click.argument("piece")
@json_option
@db_option
def _history(piece: str, as_json: bool, db: Path | None) -> None:
    """List the edits of a PIECE's deck, the oldest first."""
    from trainer.document.model import Table, columns, listed

    with open_desk(db) as desk:
        entry = desk.pieces.find(piece)
        rows = tuple(
            (edit.at.date(), edit.why or "imported", edit.revision, edit.parent, edit.merged)
            for edit in desk.store.pieces.history(entry.id)
        )
    heads = columns("day", "edit", "revision", "made_from", "met", spare=("met",))
    show(listed("history", f"The edits of {entry.title}", Table(heads, rows)), as_json)


def _asks(incoming: Incoming, yes: bool, take: Take | None) -> bool:
    """Whether a person has to agree first: something changes, and no word was given yet."""
    return not yes and take is None and incoming.relation == "newer"


def _what(incoming: Incoming, known: str) -> list[str]:
    """What the file changes, as lines. `known` says as which piece its music is here already."""
    from trainer.deck.compare import sentence
    from trainer.draw.text import clean, wrapped

    deck = incoming.piece.deck
    head = {
        "unknown": f"{deck.title}: a new piece with {counted(len(deck.starts), 'start')}.",
        "same": f"{deck.title}: the same deck as the one here.",
        "newer": f"{deck.title}: a newer version of the deck here; it changes:",
        "older": f"{deck.title}: an older version of the deck here; it would change back:",
        "apart": f"{deck.title}: edited separately from the deck here; the differences:",
    }[incoming.relation]
    told = [line for one in incoming.changes for line in wrapped(clean(sentence(one)), width() - 2)]
    if known:
        told = wrapped(clean(f"{known}: that one keeps its own starts and attempts."), width() - 2)
    return [head, *(f"  {line}" for line in told)]


def _done(incoming: Incoming, taken: bool, take: Take | None) -> str:
    if not taken:
        return "Nothing was kept."
    if incoming.relation == "unknown":
        return (
            f"Deck imported; open its starts with `trainer open {incoming.piece.deck.title!r} all`."
        )
    if take and incoming.relation == "apart":
        which = "the one in the file" if take == "file" else "the one here"
        return f"The deck is now {which}; both versions and the choice are kept in its history."
    return "Deck imported; all attempts kept."


def _data(incoming: Incoming) -> dict[str, Any]:
    from trainer.deck.compare import sentence
    from trainer.values import plain

    deck = incoming.piece.deck
    return {
        "title": deck.title,
        "id": deck.id,
        "starts": len(deck.starts),
        "relation": incoming.relation,
        "changes": [{**plain(one), "sentence": sentence(one)} for one in incoming.changes],
    }
