"""A phrase as blocked chords."""

from __future__ import annotations

from trainer.deck.model import Piece, Start
from trainer.document.model import Column, Document, Table, listed
from trainer.draw.hints import chord_name, hand_words
from trainer.draw.names import Naming
from trainer.draw.words import NO_NOTES
from trainer.errors import TrainerError
from trainer.practice.cautions import WIDE
from trainer.reports.view import where
from trainer.score.blocks import OCTAVE, Block, blocks
from trainer.score.cite import BRITISH, Words, place

COLUMNS = (
    Column("place"),
    Column("chord"),
    Column("hands", kind="sentence"),
    *(Column(key, hidden=True) for key in ("numeral", "onset", "confidence")),
)


def report(
    piece: Piece,
    start: Start,
    *,
    names: Naming = "english",
    words: Words = BRITISH,
    span: int = OCTAVE,
) -> Document:
    """Each block of the phrase with its place, its chord and the notes that each hand holds.

    `span` is the widest reach of a hand in semitones; what is wider is spread, and the caution
    is said.
    """
    if not piece.score.notes:
        raise TrainerError(NO_NOTES)
    found = blocks(piece.score, start.onset, piece.end_of(start), span=span)
    rows = tuple(
        (
            place(piece.score, block.onset, words=words),
            chord_name(block, names),
            _hands(piece, block, names),
            block.numeral,
            float(block.onset),
            None if block.chord is None else block.chord.confidence,
        )
        for block in found
    )
    wide = any(hand.wide for block in found for hand in block.hands)
    at = where(piece, start, words)
    title = f"{piece.deck.title}, start {start.number}, {at}: blocked chords"
    return listed("blocks", title, Table(COLUMNS, rows), (WIDE,) if wide else ())


def _hands(piece: Piece, block: Block, names: Naming) -> str:
    """The hands from the top staff down, marked R and L, or by the part's name."""
    signs = {"right hand": "R", "left hand": "L"}
    staves = piece.score.staves
    told = [
        f"{signs.get(staves[hand.staff].role, staves[hand.staff].part)} {hand_words(hand, names)}"
        for hand in block.hands
    ]
    return "; ".join(told).strip()
