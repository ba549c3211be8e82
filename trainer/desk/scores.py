"""A piece's start numbers in its own score: in a copy of the file, or engraved for the stand."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from trainer.deck.model import Piece, Start
from trainer.deck.original import Original, original
from trainer.desk.base import Part
from trainer.desk.pieces import NOT_KEPT
from trainer.errors import TrainerError
from trainer.reports.lookalikes import parts_at
from trainer.score import files
from trainer.score.cite import BRITISH, Words
from trainer.score.marking import StartMark, marked
from trainer.score.wording import jump_of

if TYPE_CHECKING:
    from trainer.score.model import Score

MOST_ALIKE = 2  # look-alikes named at one start


@dataclass(frozen=True)
class Wanted:
    """What is written beside the number of each start. `instead` takes away the numbers that the
    score has as rehearsal marks of its own."""

    fingering: bool = False
    advice: bool = False
    look_alikes: bool = False
    instead: bool = False
    words: Words = BRITISH


@dataclass(frozen=True)
class Marked:
    """A score with the start numbers: the file that it was made from, its MusicXML text, and that
    for an engraver."""

    source: Original
    text: bytes
    engraved: bytes

    def file(self, packed: bool) -> bytes:
        """The bytes of a file: .mxl if `packed`, MusicXML text otherwise."""
        return (
            files.with_score(self.source.data(), self.text, self.source.name)
            if packed
            else (self.text)
        )


class Scores(Part):
    def mark(
        self,
        piece: Piece,
        score: Path | None,
        wanted: Wanted,
        progress: Callable[[str], None] | None = None,
    ) -> Marked:
        """The score of a piece with its start numbers, from a file or the one that is kept. The
        copy is read once more, and given only where its notes and bars are the piece's and its
        numbers are the piece's starts. A file that was named is kept from now on. Raises
        TrainerError."""
        from trainer.score.read import read_file

        source = self._source(piece, score)
        file = source.file()
        if file.kind != "MusicXML":
            raise TrainerError(
                f"{file.name} is a {file.kind} file: marks can be put into MusicXML only; export"
                " the score as MusicXML."
            )
        marks = [
            StartMark(start.onset, str(start.number), tuple(_beside(piece, start, wanted)))
            for start in piece.deck.starts
        ]
        text = marked(file.data, piece.score, marks, file.name, instead=wanted.instead)
        copy = read_file(file._replace(data=text), progress=progress)
        _check(piece, copy, file.name)
        if score is not None and not self.store.read_only:
            self.store.pieces.keep_original(piece.deck.score, source)
        engraved = marked(
            file.data, piece.score, marks, file.name, instead=wanted.instead, engraved=True
        )
        return Marked(source, text, engraved)

    def _source(self, piece: Piece, score: Path | None) -> Original:
        if score is not None:
            return original(score.name, files.content(score))
        kept = self.store.pieces.original(piece.deck.score)
        if kept is None and not piece.score.notes:
            raise TrainerError(
                f"The notes of {piece.deck.title} are not here, so there is no score to mark: give"
                " it its file with `trainer add FILE --for PIECE`."
            )
        if kept is None:
            raise TrainerError(NOT_KEPT.format(title=piece.deck.title))
        return kept


def _beside(piece: Piece, start: Start, wanted: Wanted) -> Iterator[str]:
    """The words under the number of a start. Raises TrainerError for those that would be read as
    a sign of the order of play."""
    if wanted.look_alikes:
        yield from _alike(piece, start, wanted.words)
    if wanted.fingering and start.fingering:
        yield start.fingering
    for text in start.advice if wanted.advice else ():
        if jump := jump_of(text):
            raise TrainerError(
                f"The advice of start {start.number} would be read as {jump} in the score: word it"
                " otherwise with `trainer start advise`, or leave --advice out."
            )
        yield text


def _alike(piece: Piece, start: Start, words: Words) -> Iterator[str]:
    """ "as 4, parts at b. 31"."""
    for other in piece.deck.kin(start.id)[:MOST_ALIKE]:
        where = parts_at(piece, start.id, other, words).partition(" and ")[0]
        yield f"as {piece.deck.start(other).number}{f', parts at {where}' if where else ''}"


def _check(piece: Piece, copy: Score, name: str) -> None:
    """Raises TrainerError where a marked copy is not the piece with its starts."""
    of = _music if piece.score.notes else _bars
    if of(copy) != of(piece.score):
        raise TrainerError(
            f"{name} is not the score that {piece.deck.title} was made from: give that one, or add"
            " this one as a piece of its own."
        )
    wanted = {(str(start.number), start.onset) for start in piece.deck.starts}
    found = {(mark.text, mark.onset) for mark in copy.marks_of("rehearsal")}
    if missing := sorted(int(number) for number, _ in wanted - found):
        raise TrainerError(
            f"{name} cannot be marked: the copy would not show start {missing[0]} where it is;"
            " export the score again from the program that wrote it."
        )


def _bars(score: Score) -> list[object]:
    return [(bar.label, bar.start, bar.length) for bar in score.bars]


def _music(score: Score) -> list[object]:
    notes = [(n.onset, n.length, n.pitch, n.staff, n.tie, n.grace) for n in score.notes]
    return [_bars(score), notes]
