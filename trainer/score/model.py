"""What is written in a score, as frozen values with exact positions.

Positions and lengths are fractions of a quarter note (`ql`), counted from the first
written note of the score **in score order**: repeats are not unfolded and all endings
stand in line. A pickup bar begins at position 0.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from fractions import Fraction
from functools import cached_property
from typing import Literal

from trainer.values import Frozen

Tie = Literal["", "start", "continue", "stop"]
Role = Literal["right hand", "left hand", "single"]
MarkKind = Literal[
    "rehearsal",  # a rehearsal mark: text is the mark
    "text",  # words over the staff that are neither tempo nor dynamic
    "tempo",  # tempo words or a metronome mark; `value` is quarter notes a minute
    "dynamic",  # a sign, or "crescendo" or "diminuendo" with an `end`
    "fermata",  # from the onset to the end of the note or rest under it
    "breath",  # breath mark or caesura, after the note that lasts from onset to `end`
    "slur",  # from the first note's onset to the last note's end
    "chord",  # a printed chord symbol
    "lyric",  # a syllable of the first verse; "glo-" where the word goes on
    "clef",  # text is sign and line, such as "G2" or "F4"; "G2-8" sounds an octave lower
    "page",  # a new page begins here
    "jump",  # text: "segno", "coda", "fine", "da capo", "dal segno", "to coda"
    "transposition",  # another instrument from here on: `value` semitones from written to sounding
    "octave",  # an octave line; text: "8va", "8vb", "15ma" or "15mb"; pitches are as they sound
    "pedal",  # pressed at the onset, released at `end`; text: "", "soft" or "sostenuto"
    "glissando",  # from the first note's onset to the last note's end
    "trill line",  # the wavy line after a trill, from the first note's onset to the last's end
    "tremolo",  # between two notes or chords, over both; `value` is the number of strokes
]
SignKind = Literal[
    "trill",
    "turn",
    "inverted turn",
    "delayed turn",
    "delayed inverted turn",
    "mordent",  # with the stroke: to the lower neighbour and back
    "short trill",  # without it, MusicXML's "inverted-mordent": to the upper one and back
    "slide",  # from two steps below, a "Schleifer"
    "tremolo",  # on one note or chord: `strokes` says how quick
    "arpeggio",
    "arpeggio up",
    "arpeggio down",
    "not arpeggiated",  # a bracket: struck together
    "staccato",
    "staccatissimo",
    "tenuto",
    "accent",
    "marcato",
    "portato",
    "slashed",  # of a grace note: with the stroke through its stem
]


class Staff(Frozen, frozen=True):
    """One printed staff. `number` counts all staves of the system from the top, from 0."""

    number: int
    part: str  # the part's name as printed, may be empty
    role: Role = "single"
    transposition: int = 0  # semitones from written to sounding


class Sign(Frozen, frozen=True):
    """Something that the player does with one note or chord.

    `above` and `below` are the accidentals printed with an ornament, for the neighbour above
    and below: -2 to 2 as a note's `alter`, None where none is printed, and the key decides.
    """

    kind: SignKind
    above: int | None = None
    below: int | None = None
    strokes: int = 0  # of a tremolo: 1 in eighths, 2 in sixteenths, 3 in thirty-seconds ...


class Note(Frozen, frozen=True):
    """One written note head.

    `pitch` is the sounding MIDI note number (60 is middle C); `step`, `alter` and `octave`
    are as written. `length` is 0 for a grace note. A tied note is several heads; those
    with `tie` "continue" or "stop" do not sound anew. A chord's `signs` are at its highest
    head, those of an arpeggio at all. `order` counts the grace notes before one note from 0.
    """

    onset: Fraction
    length: Fraction
    pitch: int
    step: str
    alter: int
    octave: int
    staff: int
    voice: str = "1"
    tie: Tie = ""
    grace: bool = False
    cue: bool = False
    fingers: tuple[str, ...] = ()
    signs: tuple[Sign, ...] = ()
    order: int = 0

    @property
    def end(self) -> Fraction:
        return self.onset + self.length

    @property
    def sounds(self) -> bool:
        """Whether the player strikes it: not a tie's later part, not a cue note."""
        return self.tie in ("", "start") and not self.cue

    def has(self, *kinds: SignKind) -> bool:
        """Whether a sign of one of these kinds is at this head."""
        return any(sign.kind in kinds for sign in self.signs)


class Rest(Frozen, frozen=True):
    onset: Fraction
    length: Fraction
    staff: int
    voice: str = "1"


class Mark(Frozen, frozen=True):
    """Something written beside the notes. `staff` is -1 where it belongs to the whole system.

    `end` is where it ceases to hold, exclusive like the end of a note; None where it is a point.
    """

    kind: MarkKind
    onset: Fraction
    text: str = ""
    staff: int = -1
    end: Fraction | None = None
    value: float | None = None


class Meter(Frozen, frozen=True):
    """A time signature. `beat` is the felt beat in ql: a dotted quarter in 6/8."""

    count: int
    unit: int

    @property
    def length(self) -> Fraction:
        return Fraction(4 * self.count, self.unit)

    @property
    def beat(self) -> Fraction:
        compound = self.unit >= 8 and self.count > 3 and self.count % 3 == 0
        return Fraction(4 * (3 if compound else 1), self.unit)

    def __str__(self) -> str:
        return f"{self.count}/{self.unit}"


class Bar(Frozen, frozen=True):
    """One written bar.

    `index` counts bars in document order from 0; `label` is the printed token. `lead` is
    what a full bar would have before this one's first moment: 2 ql for a one-beat pickup
    in 3/4, the length of the first half for the second half of a split bar.
    """

    index: int
    label: str
    start: Fraction
    length: Fraction
    meter: Meter
    fifths: int = 0  # key signature: sharps positive, flats negative
    mode: str = ""  # "major", "minor" or empty where the score does not say
    lead: Fraction = Fraction(0)
    upbeat: bool = False  # a pickup bar
    continues: bool = False  # the later part of a bar that was split in print
    repeat_start: bool = False
    repeat_times: int = 0  # 0: no repeat sign at its end; 2: played twice in all
    endings: tuple[int, ...] = ()  # the passes this bar is an ending of
    double: bool = False  # a double bar line at its end
    final: bool = False

    @property
    def end(self) -> Fraction:
        return self.start + self.length

    def beat_at(self, onset: Fraction) -> Fraction:
        """The felt beat, from 1, at a position inside the bar; 5/2 is half past beat 2."""
        return 1 + (self.lead + onset - self.start) / self.meter.beat


class Passage(Frozen, frozen=True):
    """Bars that are played one after the other, by their indexes, `last` included."""

    first: int
    last: int


class Score(Frozen, frozen=True, dict=True):
    """One piece or movement as printed. Notes, rests and marks are in order of position."""

    title: str
    staves: tuple[Staff, ...]
    bars: tuple[Bar, ...]
    notes: tuple[Note, ...]
    rests: tuple[Rest, ...] = ()
    marks: tuple[Mark, ...] = ()
    source: str = ""  # the file's name, without a path
    warnings: tuple[str, ...] = ()  # what the reader had to pass over or mend
    played: tuple[Passage, ...] = ()  # the bars as played, where a person told it: no sign counts

    @cached_property
    def _bar_starts(self) -> list[Fraction]:
        return [bar.start for bar in self.bars]

    @property
    def end(self) -> Fraction:
        return self.bars[-1].end

    def bar_at(self, onset: Fraction) -> Bar:
        """The bar that holds a position; the first or last bar where it lies outside."""
        return self.bars[max(0, bisect_right(self._bar_starts, onset) - 1)]

    @cached_property
    def _note_onsets(self) -> list[Fraction]:
        return [note.onset for note in self.notes]

    def notes_between(self, start: Fraction, end: Fraction) -> tuple[Note, ...]:
        """Notes whose onset lies in [start, end)."""
        onsets = self._note_onsets
        return self.notes[bisect_left(onsets, start) : bisect_left(onsets, end)]

    def marks_of(self, *kinds: MarkKind) -> tuple[Mark, ...]:
        return tuple(mark for mark in self.marks if mark.kind in kinds)

    @cached_property
    def onsets(self) -> tuple[Fraction, ...]:
        """Every position where a note is struck, grace notes aside, in order, once each."""
        return tuple(sorted({n.onset for n in self.notes if n.sounds and not n.grace}))
