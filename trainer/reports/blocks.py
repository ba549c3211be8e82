"""A phrase as blocked chords."""

from __future__ import annotations

from trainer.deck.model import Piece, Start
from trainer.draw.hints import chord_name, hand_words
from trainer.draw.names import Naming
from trainer.practice.cautions import WIDE
from trainer.reports.table import Table
from trainer.reports.view import where
from trainer.score.blocks import OCTAVE, Block, blocks
from trainer.score.cite import BRITISH, Words, place


def report(
    piece: Piece,
    start: Start,
    *,
    names: Naming = "english",
    words: Words = BRITISH,
    span: int = OCTAVE,
) -> Table:
    """Each block of the phrase with its place, its chord and the notes that each hand holds.

    `span` is the widest reach of a hand in semitones; what is wider is spread, and the caution
    is said.
    """
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
    return Table(
        "blocks",
        f"{piece.deck.title}, start {start.number}, {where(piece, start, words)}: blocked chords",
        ("place", "chord", "hands", "numeral", "offset_ql", "confidence"),
        rows,
        (WIDE,) if wide else (),
        told="hands",
        hidden=("numeral", "offset_ql", "confidence"),
    )


def _hands(piece: Piece, block: Block, names: Naming) -> str:
    """The hands from the top staff down, marked R and L, or by the part's name."""
    signs = {"right hand": "R", "left hand": "L"}
    staves = piece.score.staves
    told = [
        f"{signs.get(staves[hand.staff].role, staves[hand.staff].part)} {hand_words(hand, names)}"
        for hand in block.hands
    ]
    return "; ".join(told).strip()
