"""The command that puts the start numbers into a copy of the score, or engraves it with them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from trainer import terminal
from trainer.cli.common import db_option, open_desk, say, student_option
from trainer.errors import TrainerError
from trainer.score.cite import counted

if TYPE_CHECKING:
    from trainer.desk import Marked
    from trainer.picture.pages import Paper

COPIES = (".musicxml", ".xml", ".mxl")
ENGRAVED = (".svg", ".pdf")


@click.command()
@click.argument("piece")
@click.argument("score", required=False, type=click.Path(path_type=Path))
@click.option("--out", required=True, type=click.Path(path_type=Path),
              help="The file to write: .musicxml or .mxl; or .svg or .pdf, engraved.")  # fmt: skip
@click.option("--fingering", is_flag=True, help="With the fingering that was written for a start.")
@click.option("--advice", is_flag=True, help="With the advice for each start.")
@click.option("--instead", is_flag=True, help="Replace numbers already in the score.")
@click.option("--paper", type=click.Choice(("a4", "letter")), default="a4", show_default=True,
              help="The size of engraved pages.")  # fmt: skip
@click.option("--replace", is_flag=True, help="Replace the file if it exists.")
@student_option
@db_option
def mark(
    piece: str, score: Path | None, out: Path, fingering: bool, advice: bool, instead: bool,
    paper: Paper, replace: bool, student: str, db: Path | None,
) -> None:  # fmt: skip
    """Put the start numbers of a PIECE into a copy of its MusicXML score, as boxed marks.

    Nothing else in the score is changed, and `trainer add` finds the same starts in the copy.
    The SCORE is needed only if its file was not kept when the piece was added. As .svg or
    .pdf (with the extra `picture`) the score is engraved with the numbers, and with the
    look-alikes of each start. With --student it has that student's own changes.
    """
    from trainer.cli.files import write_file
    from trainer.desk import Wanted
    from trainer.reports.settings import words

    kind = out.suffix.lower()
    if kind not in (*COPIES, *ENGRAVED):
        raise TrainerError(
            f"{out.name} is not a score; end the name in .musicxml, .mxl, .svg or .pdf."
        )
    if out.exists() and not replace:
        raise TrainerError(f"{out.name} exists already; choose another name or give --replace.")
    if kind in ENGRAVED:
        from trainer.picture.engrave import need

        need()
    with open_desk(db) as desk:
        entry = desk.pieces.find(piece)
        if student:
            view = desk.views.of(desk.students.find(student))
            found, said = view.pieces[entry.id], view.words
        else:
            found, said = (
                desk.store.pieces.get(entry.id),
                words(desk.store.settings.get("words") or ""),
            )
        wanted = Wanted(fingering, advice, kind in ENGRAVED, instead, said)
        try:
            made = desk.scores.mark(found, score, wanted, terminal.progress)
        finally:
            terminal.progress("")
    write_file(out, _content(made, kind, paper), replace=replace)
    starts = counted(len(found.deck.starts), "start")
    say(f"{found.deck.title}, {starts}: written to {out.name}.")


def _content(made: Marked, kind: str, paper: Paper) -> str | bytes:
    """What the file is to hold, by the ending of its name."""
    if kind in COPIES:
        return made.file(packed=kind == ".mxl")
    from trainer.picture.pages import as_pdf, as_svg, pages
    from trainer.score.files import decoded

    drawings = pages(decoded(made.engraved), paper)
    return as_svg(drawings) if kind == ".svg" else as_pdf(drawings, paper)
