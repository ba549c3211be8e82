"""The command that lets the opening of a start be heard, or writes it to a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from trainer.cli.common import listing_options, open_desk, say, show_data
from trainer.errors import TrainerError

if TYPE_CHECKING:
    from trainer.score.count import Count
    from trainer.sound.tones import Tone


@click.command()
@click.argument("piece")
@click.argument("number", type=int)
@click.option("--bars", type=click.IntRange(1, 64), default=2, show_default=True,
              help="How many bars, at most to the end of the phrase.")  # fmt: skip
@click.option("--count-in", is_flag=True, help="Count in before it.")
@click.option("--out", type=click.Path(path_type=Path), help="Write it to this WAV file instead.")
@click.option("--replace", is_flag=True, help="Replace the file if it exists.")
@listing_options
def play(
    piece: str,
    number: int,
    bars: int,
    count_in: bool,
    out: Path | None,
    replace: bool,
    db: Path | None,
    student: str,
    as_json: bool,
) -> None:
    """Hear the opening of start NUMBER of a PIECE, as plain notes.

    Playing needs the extra `sound`; --out and --json do not. With --json nothing is played:
    `sounds` has MIDI note numbers, each with its time after the entry and its length in seconds;
    `count` has the beats before the entry.
    """
    from trainer.deck.edit import numbered
    from trainer.deck.page import opening_span
    from trainer.reports.view import where
    from trainer.score.count import count_before
    from trainer.sound.tones import samples, tones, wav

    with open_desk(db) as desk:
        view = desk.views.of(desk.students.find(student))
        found, words = view.pieces[desk.pieces.find(piece).id], view.words
        start = numbered(found.deck, number)
        rate = view.own(found.deck.id, start.id).tempo
        place = where(found, start, words)
        sounds = tones(found.score, *opening_span(found, start, bars), rate)
        count = count_before(found.score, start.onset, rate)
    given = count if count_in else None
    if out:
        from trainer.cli.files import write_file

        write_file(out, wav(samples(sounds, given)), replace=replace)
    if as_json:
        head = {"title": found.deck.title, "number": number, "place": place}
        show_data({**head, **_data(sounds, count)})
        return
    told = f" Count {count.words()}, {count.rate} a minute." if count_in else ""
    say(f"{found.deck.title}, start {number}, {place}.{told}")
    if out:
        say(f"Written to {out.name}.")
        return
    from trainer.sound.player import Player

    try:
        Player().play_to_end(lambda: samples(sounds, given))
    except TrainerError as error:
        raise TrainerError(f"{error} Write it to a file with --out FILE.wav.") from error


def _data(sounds: tuple[Tone, ...], count: Count) -> dict[str, Any]:
    return {
        "count": {"beats": list(count.beats), "seconds": count.seconds, "rate": count.rate},
        "sounds": list(sounds),
    }
