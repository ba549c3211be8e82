"""Blocked chords: a passage with the notes of each hand put together, chord by chord.

A block is what a hand can hold at once. Where the chord is sure, the hand holds its tones of
the chord and the rest pass by, but the bass with which it begins always belongs to it; where it
is not, it holds what sounds first. What is wider than the hand's span, or has more notes than
fingers, is spread: taken in several grips from the lowest note up, none of them wider than the
span. A wide block is flagged, and whoever shows it shows the caution too.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from fractions import Fraction

from msgspec.structs import replace

from trainer.score.chords import Chord, numeral
from trainer.score.harmony import Stretch, harmony
from trainer.score.key import Key
from trainer.score.keys import keys
from trainer.score.model import Note, Score
from trainer.score.sounding import Sounding, rounded
from trainer.values import Frozen

OCTAVE = 12
FINGERS = 5
SURE = 0.5  # the chance that the key is right, below which no numeral is given


class BlockNote(Frozen, frozen=True):
    """A note as written; `pitch` is the sounding MIDI note number."""

    pitch: int
    step: str
    alter: int
    octave: int
    finger: str = ""


class HandBlock(Frozen, frozen=True):
    """What one staff has in a block; both tuples lowest note first, each pitch once.

    `spread` is empty where one grip holds all `notes`; else the grips in their order.
    """

    staff: int
    notes: tuple[BlockNote, ...]  # to hold together
    passing: tuple[BlockNote, ...] = ()  # heard in this block, but no part of it
    wide: bool = False  # wider than the span: show the caution
    spread: tuple[tuple[BlockNote, ...], ...] = ()


class Block(Frozen, frozen=True):
    """One chord's time, never across a bar line. Staves that are silent in it are left out.

    `chord` is None and `numeral` empty where the harmony is not sure. `key` is the local key.
    `pedal` is the bass where it is foreign to the chord and stays: the block before or after has
    the same (pedal point).
    """

    onset: Fraction
    end: Fraction
    hands: tuple[HandBlock, ...]
    chord: Chord | None
    numeral: str
    key: Key
    pedal: BlockNote | None = None

    @property
    def bass(self) -> BlockNote | None:
        """The lowest note that a hand holds."""
        notes = (note for hand in self.hands for note in hand.notes)
        return min(notes, key=lambda note: note.pitch, default=None)


def blocks(
    score: Score,
    begin: Fraction | int = 0,
    end: Fraction | None = None,
    *,
    span: int = OCTAVE,
    local: Sequence[Key] | None = None,
) -> tuple[Block, ...]:
    """The blocks of the passage [begin, end), without gaps; to the score's end if None.

    `span` is the widest reach of a hand in semitones, at least 1; `local` the result of `keys`
    where it is known already. The harmony is that of the whole bars that the passage touches.
    Empty where the passage is.
    """
    begin = max(Fraction(begin), Fraction(0))
    end = score.end if end is None else min(end, score.end)
    if begin >= end:
        return ()
    sounding = Sounding(score.notes)
    local = keys(score, sounding) if local is None else local
    first = score.bar_at(begin).index
    last = bisect_left([bar.start for bar in score.bars], end)
    around = slice(max(first - 1, 0), last + 1)
    found = harmony(score, score.bars[around], local[around], sounding)
    followed = zip(found, [*(stretch.sure for stretch in found[1:]), None], strict=True)
    kept = [
        (stretch._replace(onset=max(stretch.onset, begin), end=min(stretch.end, end)), following)
        for stretch, following in followed
        if stretch.end > begin and stretch.onset < end
    ]
    heard = sounding.within(float(begin), float(end))
    return _with_pedals(
        [
            _block(stretch, part, following, local[stretch.bar], span)
            for (stretch, following), part in zip(kept, _shared_out(heard, kept), strict=True)
        ]
    )


def _with_pedals(found: Sequence[Block]) -> tuple[Block, ...]:
    bass = [block.bass for block in found]
    around = [None, *(note and note.pitch for note in bass), None]
    return tuple(
        replace(block, pedal=low)
        if low and block.chord and low.pitch % 12 not in block.chord.tones and low.pitch in beside
        else block
        for block, low, beside in zip(
            found, bass, zip(around, around[2:], strict=False), strict=True
        )
    )


def _shared_out(
    sounding: Sounding, stretches: Sequence[tuple[Stretch, Chord | None]]
) -> list[list[Note]]:
    """The notes of each stretch: those struck in it, and those that sound on into it."""
    import numpy as np

    starts = rounded([float(stretch.onset) for stretch, _ in stretches])
    first = np.maximum(np.searchsorted(starts, sounding.onset, side="right") - 1, 0)
    last = np.maximum(np.searchsorted(starts, sounding.end), first + 1)
    parts: list[list[Note]] = [[] for _ in stretches]
    for note, i, j in zip(sounding.notes, first.tolist(), last.tolist(), strict=True):
        for place in range(i, j):
            parts[place].append(note)
    return parts


def _block(
    stretch: Stretch, notes: list[Note], following: Chord | None, key: Key, span: int
) -> Block:
    chord = stretch.sure
    sure = key.confidence >= SURE
    return Block(
        stretch.onset,
        stretch.end,
        tuple(_hands(notes, chord, span)),
        chord,
        numeral(chord, key, following) if chord is not None and sure else "",
        key,
    )


def _hands(notes: list[Note], chord: Chord | None, span: int) -> Iterator[HandBlock]:
    staves: dict[int, list[Note]] = {}
    for note in notes:
        staves.setdefault(note.staff, []).append(note)
    bass = _bass(notes)
    for staff in sorted(staves):
        yield _hand(staff, staves[staff], chord, span, bass)


def _bass(notes: list[Note]) -> int | None:
    """The lowest pitch that sounds as a block begins; grace notes aside."""
    timed = [note for note in notes if note.length]
    first = min((note.onset for note in timed), default=None)
    return min((note.pitch for note in timed if note.onset == first), default=None)


def _hand(
    staff: int, notes: list[Note], chord: Chord | None, span: int, bass: int | None
) -> HandBlock:
    tones = chord.tones if chord else ()
    if chord is None:
        timed = [note for note in notes if note.length] or notes
        together = {n.pitch for n in timed if n.onset <= timed[0].onset}
    else:
        together = {n.pitch for n in notes if n.pitch % 12 in tones or n.pitch == bass}
    written: dict[int, BlockNote] = {}
    for note in notes:
        finger = note.fingers[0] if note.fingers else ""
        written.setdefault(
            note.pitch, BlockNote(note.pitch, note.step, note.alter, note.octave, finger)
        )
    pitches = sorted(written)
    held = tuple(written[pitch] for pitch in pitches if pitch in together)
    grips = tuple(_grips(held, span))
    return HandBlock(
        staff,
        held,
        tuple(written[pitch] for pitch in pitches if pitch not in together),
        wide=bool(held) and held[-1].pitch - held[0].pitch > span,
        spread=grips if len(grips) > 1 else (),
    )


def _grips(notes: Sequence[BlockNote], span: int) -> Iterator[tuple[BlockNote, ...]]:
    """The notes from the lowest up, in grips that a hand can hold."""
    grip: list[BlockNote] = []
    for note in notes:
        if grip and (note.pitch - grip[0].pitch > span or len(grip) == FINGERS):
            yield tuple(grip)
            grip = []
        grip.append(note)
    if grip:
        yield tuple(grip)
