"""The command that hears recorded attempts."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import click

from trainer import terminal
from trainer.cli.common import (
    listing_options,
    open_desk,
    plain_ascii,
    say,
    show,
    show_data,
    width,
)
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from trainer.deck.model import Piece
    from trainer.listen.model import Verdict

MOST = 500  # files of a folder


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("piece", default="")
@click.option("--start", type=int, help="The number of the start that was called.")
@click.option("--page", is_flag=True, help="Also show on the music what was heard.")
@listing_options
def hear(
    file: Path,
    piece: str,
    start: int | None,
    page: bool,
    db: Path | None,
    student: str,
    as_json: bool,
) -> None:
    """Hear a recorded attempt at a start of a PIECE, and say what was played and why.

    FILE is a MIDI file or a sound (.wav, .flac, .ogg or .mp3) that begins at the call, or a folder
    of such files. Without --start each file name begins with the number of the start that was
    called, such as "4 Monday.mid". With --page the notes that went wrong are marked on the music;
    with --json each note is listed, with its place; neither where a sound was heard. Nothing is
    added to the log.
    """
    from trainer.draw.heard import heard_page
    from trainer.draw.layout import Style
    from trainer.listen import words as said

    with open_desk(db) as desk:
        view = desk.views.of(desk.students.find(student), log=False)
        found, words, names = view.pieces[desk.pieces.find(piece).id], view.words, view.names
    heard = _all(file, found, start)
    if as_json:
        data = [{"file": name, **said.as_data(verdict, found, words)} for name, verdict in heard]
        show_data(data if file.is_dir() else data[0])
        return
    indent = "  " if file.is_dir() else ""
    look = Style(width() - len(indent), names, plain_ascii())
    for name, verdict in heard:
        lines = said.sentences(verdict, found, words)
        if page and (drawn := heard_page(verdict, found, look).lines):
            lines += ["", *drawn]
        say([*([f"{name}:"] if indent else []), *(indent + line if line else "" for line in lines)])


def _all(file: Path, piece: Piece, start: int | None) -> list[tuple[str, Verdict]]:
    """The verdict on each file, by its name."""
    from trainer.deck.edit import numbered
    from trainer.listen.match import Listener
    from trainer.listen.midi import read_midi
    from trainer.listen.score import waiting
    from trainer.sound.decode import KINDS, read_sound

    files = _files(file)
    ready = waiting(piece)
    heard = []
    for one in files:
        asked = numbered(piece.deck, _asked(one, start)).id
        if one.suffix.lower() in KINDS:
            from trainer.listen.by_sound import hear_sound

            heard.append((one.name, hear_sound(read_sound(one), ready, asked)))
            continue
        listener = Listener(ready, asked)
        for note in read_midi(one):
            listener.hear(note)
        heard.append((one.name, listener.end()))
    return heard


def _files(file: Path) -> list[Path]:
    if not file.is_dir():
        return [file]
    from trainer.sound.decode import KINDS

    kinds = (".mid", ".midi", *KINDS)
    found = sorted(one for one in file.iterdir() if one.suffix.lower() in kinds)
    if not found:
        raise TrainerError(
            f"There is no .mid file in {file.name}, and no sound; choose another folder."
        )
    if len(found) > MOST:
        raise TrainerError(f"{file.name} has more than {MOST} files; give fewer at a time.")
    return found


def _asked(file: Path, start: int | None) -> int:
    """The start that was asked: as typed, or as the file's name begins."""
    if start is not None:
        return start
    match = re.match(r"(\d{1,5})(?!\d)", file.name)
    if match is None:
        raise TrainerError(
            f"Which start was called in {file.name}? Give --start N, or begin the file name with "
            "its number."
        )
    return int(match[1])


@click.command()
@listing_options
def instruments(db: Path | None, student: str, as_json: bool) -> None:
    """List the instruments and microphones that are connected. One of them, or any, hears the drill
    with `trainer settings set instrument NAME`, or once with `trainer drill --instrument NAME`."""
    from trainer.document.model import Table, columns, listed
    from trainer.listen import microphone
    from trainer.listen.midi import inputs
    from trainer.reports.settings import OFF

    with open_desk(db) as desk:
        person = desk.students.find(student)
        now = desk.settings.get(person, "instrument")
        with terminal.quiet():  # or the system's own library tells on the terminal what it lacks
            why = desk.instruments.trouble(person)
    set_now = f"Set now: {now}."
    notes = [set_now if now == OFF else f"{set_now} {why or 'It can be heard.'}"]
    names: tuple[str, ...] = ()
    try:
        with terminal.quiet():
            names = inputs()
        notes += [] if names else ["No instrument is connected."]
    except TrainerError as error:
        notes += [] if str(error) == why else [str(error)]
    names += tuple(f"{microphone.WORD} {name}" for name in microphone.names())
    notes.append(
        "Let one hear the drill: `trainer settings set instrument NAME`, the beginning of the name "
        "will do; or any, off, microphone, a MIDI device's path, or HOST:PORT; the last two need "
        "no library."
    )
    rows = tuple((name,) for name in names)
    show(listed("instruments", "Instruments", Table(columns("name"), rows), tuple(notes)), as_json)
