"""Commands on starts: list, edit, open and close."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from trainer.cli.common import (
    db_option,
    full_option,
    listing_options,
    numbers,
    open_desk,
    say,
    several_option,
    show,
    show_data,
    speak,
)
from trainer.deck import edit
from trainer.deck.model import Deck, Piece
from trainer.phrases.model import Density
from trainer.score.cite import counted, entry
from trainer.score.find import find


@click.command()
@click.argument("piece", default="")
@listing_options
def prepare(piece: str, db: Path | None, student: str, as_json: bool) -> None:
    """Correct the starts of a PIECE on its screen; without a terminal, list them.

    The same edits can be made with `trainer start`.
    """
    from trainer.cli.app import on_terminal, run_screens
    from trainer.reports.starts import report

    with open_desk(db) as desk:
        entry_ = desk.pieces.find(piece)
        if as_json or not on_terminal():
            show(report(desk.views.of(desk.students.find(student)), entry_.id), as_json)
            return
    run_screens(db, student=student, prepare=entry_.id)


@click.command("open")
@click.argument("piece")
@click.argument("which")
@several_option
@db_option
def open_(piece: str, which: str, db: Path | None, student: str) -> None:
    """Open starts of a PIECE, such as 3 or 1-4,7 or all: their phrases have been learned."""
    _set_open(piece, which, db, student, opened=True)


@click.command()
@click.argument("piece")
@click.argument("which")
@several_option
@db_option
def close(piece: str, which: str, db: Path | None, student: str) -> None:
    """Close starts of a PIECE: they are not called until they are opened again."""
    _set_open(piece, which, db, student, opened=False)


def _set_open(piece: str, which: str, db: Path | None, student: str, *, opened: bool) -> None:
    with open_desk(db) as desk:
        deck_id = desk.pieces.find(piece).id
        meant = desk.students.several(student)
        for who in meant:
            view = desk.views.of(who)
            deck = view.decks[deck_id]
            chosen = numbers(which, deck)
            desk.pieces.set_open(who, deck, chosen, opened=opened)
            word = "Opened" if opened else "Closed"
            whom = f" for {who.name}" if len(meant) > 1 else ""
            say(f"{word} in {deck.title}{whom}: {', '.join(str(number) for number in chosen)}.")
            out = [s.number for s in deck.starts if s.id in view.left_out and s.number in chosen]
            if opened and out:
                told = ", ".join(str(number) for number in out)
                say(f"Left out for {who.name} and not called: {told}. `trainer own` tells.")


@click.group()
def start() -> None:
    """Show a start of a piece, and edit the starts.

    A PLACE is a printed bar, or a bar and a beat: 12, 12:3, 12:2.5. Attempts
    stay with their start when its number changes; every earlier version is kept (`start undo`).
    """


def _edited(db: Path | None, piece: str, change: Callable[[Piece, str], Deck], why: str) -> None:
    """Make one edit, and say how the numbers changed."""
    with open_desk(db) as desk:
        entry_ = desk.pieces.find(piece)
        before = desk.store.pieces.get(entry_.id)
        after = desk.pieces.edit(entry_.id, lambda found: change(found, desk.new_id()), why)
        say(_told(before, after))


def _told(before: Piece, after: Piece) -> list[str]:
    old = {start.id: start for start in before.deck.starts}
    new = {start.id: start for start in after.deck.starts}
    lines = [f"{after.deck.title} has {counted(len(new), 'start')} now."]
    for one in after.deck.starts:
        place = entry(after.score, one.onset)
        was = old.get(one.id)
        if was is None:
            lines.append(f"  new: {one.number} at {place}")
        elif was.onset != one.onset:
            lines.append(f"  moved: {one.number}, from {entry(before.score, was.onset)} to {place}")
    for gone in before.deck.starts:
        if gone.id not in new:
            lines.append(f"  gone: {gone.number} at {entry(before.score, gone.onset)}")
    changed = [
        f"{old[one.id].number} > {one.number}"
        for one in after.deck.starts
        if one.id in old and old[one.id].number != one.number
    ]
    return [*lines, f"  renumbered: {', '.join(changed)}"] if changed else lines


def _place(piece: Piece, text: str) -> Fraction:
    return find(piece.score, text)


def _command(name: str) -> Callable[[Callable[..., Any]], click.Command]:
    """A subcommand of `start` on a PIECE of the database."""

    def made(function: Callable[..., Any]) -> click.Command:
        with_db = click.option("--db", type=click.Path(path_type=Path), help="The database.")
        return start.command(name)(click.argument("piece")(with_db(function)))

    return made


@start.command("show")
@click.argument("piece")
@click.argument("number", type=int)
@click.option("--spoken", is_flag=True, help="In words, for listening.")
@full_option
@listing_options
def _show(
    piece: str, number: int, spoken: bool, full: bool, db: Path | None, student: str,
    as_json: bool,
) -> None:  # fmt: skip
    """Show everything about start NUMBER of a PIECE.

    Its attempts, how well it holds now and is likely to hold at the recital, its music and first
    hand position, its look-alikes, and where to go on after a slip.
    """
    from trainer.reports.start import about, as_data
    from trainer.reports.start_sections import document

    with open_desk(db) as desk:
        view = desk.views.of(desk.students.find(student), full=full)
        found = view.pieces[desk.pieces.find(piece).id]
        told = about(view, found.deck.id, edit.numbered(found.deck, number).id)
        if as_json:
            show_data(as_data(told))
            return
        if spoken:
            speak()
        show(document(told, found, names=view.names, words=view.words), as_json=False)


@_command("add")
@click.argument("place")
def _add(piece: str, place: str, db: Path | None) -> None:
    """Add a start at a PLACE."""

    def change(found: Piece, new_id: str) -> Deck:
        at = _place(found, place)
        return edit.add(found, at, new_id, parent=edit.inside(found.deck, at))

    _edited(db, piece, change, f"add {place}")


@_command("move")
@click.argument("number", type=int)
@click.argument("place")
def _move(piece: str, number: int, place: str, db: Path | None) -> None:
    """Move start NUMBER to a PLACE."""
    _edited(
        db, piece, lambda p, _: edit.move(p, number, _place(p, place)), f"move {number} to {place}"
    )


@_command("remove")
@click.argument("number", type=int)
def _remove(piece: str, number: int, db: Path | None) -> None:
    """Remove start NUMBER; its attempts are kept."""
    _edited(db, piece, lambda p, _: edit.remove(p, number), f"remove {number}")


@_command("merge")
@click.argument("number", type=int)
def _merge(piece: str, number: int, db: Path | None) -> None:
    """Merge start NUMBER into the one before it, which takes over its attempts."""
    _edited(db, piece, lambda p, _: edit.merge(p, number), f"merge {number}")


@_command("split")
@click.argument("number", type=int)
@click.argument("place")
def _split(piece: str, number: int, place: str, db: Path | None) -> None:
    """Split phrase NUMBER at a PLACE inside it."""
    _edited(
        db,
        piece,
        lambda p, new: edit.split(p, number, _place(p, place), new),
        f"split {number} at {place}",
    )


@_command("renumber")
@click.argument("first", type=int)
def _renumber(piece: str, first: int, db: Path | None) -> None:
    """Number the starts from FIRST."""
    _edited(db, piece, lambda p, _: edit.renumber(p, first), f"renumber from {first}")


@_command("label")
@click.argument("number", type=int)
@click.argument("words", default="")
def _label(piece: str, number: int, words: str, db: Path | None) -> None:
    """Give start NUMBER a name of your own; no WORDS removes it."""
    _edited(db, piece, lambda p, _: edit.relabel(p, number, words), f"label {number}")


@_command("advise")
@click.argument("number", type=int)
@click.argument("words", nargs=-1)
def _advise(piece: str, number: int, words: tuple[str, ...], db: Path | None) -> None:
    """Set the WORDS of advice for start NUMBER; no WORDS removes them."""
    text = (" ".join(words),) if words else ()
    _edited(db, piece, lambda p, _: edit.advise(p, number, text), f"advise {number}")


@_command("finger")
@click.argument("number", type=int)
@click.argument("fingering", default="")
def _finger(piece: str, number: int, fingering: str, db: Path | None) -> None:
    """Set the teacher's FINGERING for start NUMBER; no FINGERING removes it."""
    _edited(db, piece, lambda p, _: edit.finger(p, number, fingering), f"finger {number}")


@_command("cue")
@click.argument("number", type=int)
@click.argument("words", default="")
def _cue(piece: str, number: int, words: str, db: Path | None) -> None:
    """Say in WORDS who gives the entry of start NUMBER in an ensemble; no WORDS removes them."""
    _edited(db, piece, lambda p, _: edit.cue(p, number, words), f"cue {number}")


@_command("density")
@click.argument("density", type=click.Choice(["fewer", "usual", "more"]))
def _density(piece: str, density: Density, db: Path | None) -> None:
    """Use fewer, usual or more proposed starts; starts set by hand stay."""
    from trainer.phrases.segment import propose

    def change(found: Piece, new_id: str) -> Deck:
        proposals = propose(found.score, density)
        ids = [f"{new_id}{n:03x}" for n in range(len(proposals))]
        return edit.respace(found, proposals, ids)

    _edited(db, piece, change, f"{density} starts")


@_command("route")
@click.argument("order", nargs=-1, type=int)
def _route(piece: str, order: tuple[int, ...], db: Path | None) -> None:
    """Set the ORDER in which the starts are played; no ORDER restores the score's."""
    _edited(db, piece, lambda p, _: edit.reroute(p, order), "set the route")


@_command("link")
@click.argument("number", type=int)
@click.argument("other", type=int)
def _link(piece: str, number: int, other: int, db: Path | None) -> None:
    """Say that starts NUMBER and OTHER are easily confused."""
    _edited(db, piece, lambda p, _: edit.link(p, number, other), f"link {number} {other}")


@_command("unlink")
@click.argument("number", type=int)
@click.argument("other", type=int)
def _unlink(piece: str, number: int, other: int, db: Path | None) -> None:
    """Say that starts NUMBER and OTHER are not easily confused."""
    why = f"unlink {number} {other}"
    _edited(db, piece, lambda p, _: edit.link(p, number, other, alike=False), why)


@_command("undo")
def _undo(piece: str, db: Path | None) -> None:
    """Undo the last edit; the undo is logged too, so nothing is lost."""
    with open_desk(db) as desk:
        entry_ = desk.pieces.find(piece)
        before = desk.store.pieces.get(entry_.id)
        taken = desk.store.pieces.undo(entry_.id)
        say([f"Taken back: {taken.why.removeprefix('undo: ')}."])
        say(_told(before, desk.store.pieces.get(entry_.id)))
