"""Commands on pieces: add, phrases, pieces, page, map."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trainer import terminal
from trainer.cli.common import (
    db_option,
    desk_options,
    full_option,
    json_option,
    listing_options,
    open_desk,
    plain_ascii,
    say,
    show,
    show_data,
    width,
)
from trainer.score.cite import bar_count, counted

if TYPE_CHECKING:
    from trainer.deck.model import Piece
    from trainer.desk import Desk
    from trainer.document.model import Document
    from trainer.phrases.model import Proposal
    from trainer.record.people import Student
    from trainer.reports.view import View

density_option = click.option(
    "--density",
    type=click.Choice(["fewer", "usual", "more"]),
    default="usual",
    show_default=True,
    help="How many starts to propose.",
)
score_argument = click.argument("score", type=click.Path(path_type=Path))


@click.command()
@click.argument("score", type=click.Path(path_type=Path), required=False)
@density_option
@click.option("--learned", is_flag=True, help="Open all its starts, for a piece already learned.")
@click.option("--again", is_flag=True, help="Add it even if the same music is here already.")
@click.option("--for", "into", default="", metavar="PIECE", help="The printed piece it is.")
@click.option("--yes", is_flag=True, help="With --for: do not ask first.")
@click.option("--paper", default="", metavar="TITLE", help="Add a printed piece without a file.")
@click.option("--bars", type=int, default=0, help="With --paper: how many full bars it has.")
@click.option("--meter", default="4/4", show_default=True, help="With --paper: its metre.")
@click.option("--pickup", default="", help="With --paper: the beats before bar 1, such as 1.")
@click.option("--starts", default="1", help="With --paper: phrases begin here: 1,9,25:3.")
@click.option("--route", default="", help="With --paper: bars as played: 1-16 1-15 17-64.")
@desk_options
def add(
    score: Path | None,
    density: str,
    learned: bool,
    again: bool,
    into: str,
    yes: bool,
    db: Path | None,
    student: str,
    **paper: Any,
) -> None:
    """Read a SCORE (MusicXML, .mxl, MIDI, ABC, **kern, MEI) and propose starts for it.

    Repeats are not unfolded. The score is kept in the database; its file is not needed again.
    A printed piece can be added by its bars with --paper; only what needs notes does not work.
    When its file comes later, --for gives the piece its notes; starts and attempts stay.
    """
    if (score is None) == (not paper["paper"]):
        raise click.UsageError("Name a score, or a printed piece with --paper TITLE --bars 64.")
    if into and (score is None or learned):
        raise click.UsageError("--for needs the score of a piece on paper, and no --learned.")
    with open_desk(db) as desk:
        who = desk.students.find(student) if learned else None
        try:
            if score is None:
                piece = _on_paper(desk, who, **paper)
            elif into:
                _take_over(desk, score, into, again=again, yes=yes)
                return
            else:
                piece = desk.pieces.add(
                    score, density=density, again=again, learned_by=who, progress=terminal.progress
                )
        finally:
            terminal.progress("")
        _say_added(desk, piece, learned)


def _on_paper(
    desk: Desk,
    who: Student | None,
    *,
    paper: str,
    bars: int,
    meter: str,
    pickup: str,
    starts: str,
    route: str,
) -> Piece:
    """Keep a printed piece."""
    from trainer.score.on_paper import on_paper, places

    score = on_paper(paper, bars, meter, pickup, route)
    return desk.pieces.add_on_paper(score, places(score, starts), who)


def _take_over(desk: Desk, score: Path, into: str, *, again: bool, yes: bool) -> None:
    """Let a score take a piece on paper over, after a question where it is longer."""
    from trainer.deck.compare import sentence
    from trainer.draw.text import clean, wrapped

    entry = desk.pieces.find(into)
    found = desk.takeovers.look_at(entry.id, score, again=again, progress=terminal.progress)
    terminal.progress("")
    if found.more and not yes:
        bars = counted(len(found.more), "bar")
        say(f"{score.name} goes on to bar {found.more[-1]}, {bars} more than {entry.title} has.")
        if not terminal.confirm("Take it over all the same?"):
            say("Nothing was changed.")
            return
    desk.takeovers.take_over(found)
    say(f"{entry.title} has its notes now, from {score.name}; all attempts are kept.")
    for change in found.changes:
        if change.kind != "score":
            say(f"  {line}" for line in wrapped(clean(sentence(change)), width() - 2))


def _say_added(desk: Desk, piece: Piece, learned: bool) -> None:
    number, count = len(desk.store.pieces.all()), len(piece.deck.starts)
    first = piece.deck.first
    some = f"{first}-{first + min(count, 4) - 1}" if count > 1 else f"{first}"
    say(f"{piece.deck.title}: {counted(bar_count(piece.score), 'bar')}, "
        f"{counted(len(piece.deck.starts), 'start')}. It is piece {number}.")  # fmt: skip
    for warning in piece.score.warnings:
        say(f"Note: {warning}")
    say(f"See them with `trainer starts {number}`.")
    if not learned:
        say(f"Open those that have been learned: `trainer open {number} {some}` (or all).")


@click.command()
@score_argument
@density_option
@json_option
def phrases(score: Path, density: str, as_json: bool) -> None:
    """Show where the phrases of a SCORE begin, and why; nothing is saved.

    With --json, `offset_ql` counts quarter notes from the start in score order, repeats not
    unfolded; `measure_index` counts bars in document order from 0.
    """
    from trainer.phrases.segment import propose
    from trainer.reports.proposals import report
    from trainer.score.read import read_score

    try:
        found = read_score(score, progress=terminal.progress)
    finally:
        terminal.progress("")
    proposals = propose(found, density)  # type: ignore[arg-type]
    document = report(found, proposals)
    if as_json:
        show_data(_proposal_data(found.title, document, proposals))
    else:
        show(document, as_json=False)


def _proposal_data(title: str, document: Document, proposals: Sequence[Proposal]) -> dict[str, Any]:
    """The report's rows with the reasons as a list, under the name that other programs use."""
    from trainer.document.data import as_data

    rows = as_data(document)["rows"]
    for row, proposal in zip(rows, proposals, strict=True):
        row["reasons"] = [reason.words for reason in proposal.reasons]
    return {"title": title, "starts": rows}


@click.group()
def piece() -> None:
    """Rename a piece, move it in the list, remove it or bring it back."""


@piece.command("rename")
@click.argument("piece")
@click.argument("title")
@db_option
def _rename(piece: str, title: str, db: Path | None) -> None:
    """Give a PIECE another TITLE."""
    with open_desk(db) as desk:
        entry = desk.pieces.find(piece)
        made = desk.pieces.rename(entry.id, title)
        say(f"{entry.title} is now called {made.deck.title}.")


@piece.command("move")
@click.argument("piece")
@click.argument("number", type=int)
@db_option
def _move(piece: str, number: int, db: Path | None) -> None:
    """Move a PIECE to that NUMBER in the list; the others keep their order."""
    with open_desk(db) as desk:
        desk.pieces.order(desk.pieces.find(piece).id, number)
        say(f"{one.number}  {one.title}" for one in desk.store.pieces.all())


@piece.command("remove")
@click.argument("piece")
@db_option
def _remove(piece: str, db: Path | None) -> None:
    """Remove a PIECE from the lists; its starts and all attempts are kept."""
    with open_desk(db) as desk:
        entry = desk.pieces.find(piece)
        desk.store.pieces.remove(entry.id)
        say(f"{entry.title} is out of sight; all its attempts are kept.")
        say(f"`trainer piece restore {entry.title!r}` brings it back.")


@piece.command("restore")
@click.argument("title", default="")
@db_option
def _restore(title: str, db: Path | None) -> None:
    """Bring a removed piece back, by its TITLE; without one, list those that were removed."""
    with open_desk(db) as desk:
        if not title:
            gone = desk.store.pieces.removed()
            say([one.title for one in gone] or "No piece was removed.")
            return
        entry = desk.store.pieces.find_removed(title)
        desk.store.pieces.remove(entry.id, removed=False)
        number = next(one.number for one in desk.store.pieces.all() if one.id == entry.id)
        say(f"{entry.title} is back, as piece {number}.")


@click.command()
@click.argument("piece")
@click.argument("number", type=int)
@click.option("--spoken", is_flag=True, help="In words, for listening.")
@click.option("--picture", is_flag=True, help="Engraved, after `trainer picture --try`.")
@listing_options
def page(
    piece: str,
    number: int,
    spoken: bool,
    picture: bool,
    db: Path | None,
    student: str,
    as_json: bool,
) -> None:
    """Show the written music of start NUMBER of a PIECE, up to the bar line before the next."""
    from trainer.deck.edit import numbered
    from trainer.deck.page import page_span
    from trainer.draw.page import page as drawn
    from trainer.draw.speech import spoken as words
    from trainer.reports.view import where

    if picture and (spoken or as_json):
        raise click.UsageError("Do not give --spoken or --json with --picture.")
    with open_desk(db) as desk:
        view = desk.views.of(desk.students.find(student))
        found = view.pieces[desk.pieces.find(piece).id]
        names = view.names
        start = numbered(found.deck, number)
        begin, end = page_span(found, start)
        if as_json:
            show_data({"title": found.deck.title, "number": number,
                       "place": where(found, start, view.words),
                       "notes": list(found.score.notes_between(begin, end))})  # fmt: skip
            return
        if picture:
            from trainer.cli.picture import show_picture

            show_picture(desk, view, found, start)
            return
        say(f"{found.deck.title}, start {number}, {where(found, start, view.words)}")
        if spoken:
            say(words(found.score, begin, end, names=names, words=view.words))
        else:
            say(drawn(found.score, begin, end, width=width(), names=names, ascii=plain_ascii()))


@click.command()
@click.argument("piece")
@click.argument("number", type=int)
@click.option(
    "--span",
    type=click.IntRange(5, 24),
    help="The widest reach of a hand, in semitones; by default as the setting `span` says.",
)
@listing_options
def blocks(
    piece: str, number: int, span: int | None, db: Path | None, student: str, as_json: bool
) -> None:
    """Show the phrase of start NUMBER as blocked chords: what each hand holds at once.

    Spread any block wider than the span: never stretch a hand to reach it.
    """
    from trainer.deck.edit import numbered
    from trainer.reports.blocks import report

    with open_desk(db) as desk:
        view = desk.views.of(desk.students.find(student))
        found = view.pieces[desk.pieces.find(piece).id]
        start = numbered(found.deck, number)
        show(
            report(found, start, names=view.names, words=view.words, span=span or view.span),
            as_json,
        )


@click.command("map")
@click.argument("piece", default="")
@click.option("--spoken", is_flag=True, help="In words, for listening.")
@full_option
@listing_options
def map_(
    piece: str, spoken: bool, full: bool, db: Path | None, student: str, as_json: bool
) -> None:
    """Show a PIECE bar by bar, its starts, and what holds.

    `trainer start show` says more about one of them.
    """
    from trainer.reports.retention import bands

    with open_desk(db) as desk:
        entry = desk.pieces.find(piece)
        view = desk.views.of(desk.students.find(student), full=full)
        if as_json:
            found = bands(view, entry.id)
            show_data({
                "title": entry.title,
                "starts": [
                    {"number": start.number, "id": start.id, "offset_ql": float(start.onset),
                     "stands": found[start.id].band, "chance": found[start.id].chance,
                     "stuck": start.id in view.stuck}
                    for _, start in view.starts(entry.id)
                ],
            })  # fmt: skip
            return
        say([entry.title, *map_lines(view, entry.id, spoken=spoken)])


def map_lines(view: View, deck_id: str, *, spoken: bool = False) -> list[str]:
    """The piece map as text, or in words; a child's shows no chances."""
    from trainer.draw.map import piece_map, spoken_map
    from trainer.reports.retention import bands
    from trainer.reports.start import figures

    piece, found = view.pieces[deck_id], bands(view, deck_id)
    stands = {key: one.band for key, one in found.items()}
    chances = figures(view, found)
    if spoken:
        return spoken_map(piece, stands, chances=chances, words=view.words)
    return piece_map(
        piece,
        stands,
        width=width(),
        ascii=plain_ascii(),
        chances=chances,
    )
