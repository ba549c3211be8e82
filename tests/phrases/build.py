"""Small scores made in code for the tests of phrase finding."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from msgspec.structs import replace

from trainer.score.model import Bar, Mark, Meter, Note, Rest, Score, Staff

FOUR = Meter(4, 4)
_STEPS = [("C", 0), ("C", 1), ("D", 0), ("E", -1), ("E", 0), ("F", 0), ("F", 1), ("G", 0)]
_STEPS += [("A", -1), ("A", 0), ("B", -1), ("B", 0)]


def note(onset: Fraction | int, length: Fraction | int, pitch: int, staff: int = 0) -> Note:
    step, alter = _STEPS[pitch % 12]
    octave = pitch // 12 - 1
    return Note(Fraction(onset), Fraction(length), pitch, step, alter, octave, staff)


def bars_of(end: Fraction | int, meter: Meter = FOUR, pickup: Fraction | int = 0) -> list[Bar]:
    """Bars up to `end`, the first of them a pickup of that length if there is one."""
    bars: list[Bar] = []
    at = Fraction(0)
    if pickup:
        lead = meter.length - pickup
        bars.append(Bar(0, "0", at, Fraction(pickup), meter, lead=lead, upbeat=True))
        at += pickup
    while at < end or not bars:
        number = len(bars) + (0 if pickup else 1)
        bars.append(Bar(len(bars), str(number), at, meter.length, meter))
        at += meter.length
    return bars


def melody(
    line: Sequence[tuple[int | None, Fraction | int]],
    meter: Meter = FOUR,
    pickup: Fraction | int = 0,
    marks: Sequence[Mark] = (),
) -> Score:
    """A single line of (pitch or None for a rest, length)."""
    at = Fraction(0)
    notes: list[Note] = []
    rests: list[Rest] = []
    for pitch, length in line:
        if pitch is None:
            rests.append(Rest(at, Fraction(length), 0))
        else:
            notes.append(note(at, length, pitch))
        at += length
    bars = tuple(bars_of(at, meter, pickup))
    return Score("Line", (Staff(0, ""),), bars, tuple(notes), tuple(rests), tuple(marks))


def broken_chords(
    chords: Sequence[Sequence[int]], meter: Meter = FOUR, marks: Sequence[Mark] = ()
) -> Score:
    """Two staves, one bar for each chord of a bass note and three others, one figure of eighths
    throughout, without rests or slurs."""
    notes: list[Note] = []
    eighths = int(meter.length * 2)
    for bar, (bass, *upper) in enumerate(chords):
        at = bar * meter.length
        notes.append(note(at, meter.length, bass, staff=1))
        for eighth in range(eighths):
            notes.append(note(at + Fraction(eighth, 2), Fraction(1, 2), upper[eighth % len(upper)]))
    notes.sort(key=lambda n: (n.onset, n.staff, n.pitch))
    staves = (Staff(0, "", "right hand"), Staff(1, "", "left hand"))
    bars = tuple(bars_of(len(chords) * meter.length, meter))
    return Score("Broken chords", staves, bars, tuple(notes), (), tuple(marks))


def moved(score: Score, semitones: int) -> Score:
    """The score transposed by one interval: what was spelled alike stays alike."""
    shift = (7 * semitones + 6) % 12 - 6  # along the line of fifths
    notes = []
    for old in score.notes:
        alter, step = divmod("FCGDAEB".index(old.step) + 7 * old.alter + shift, 7)
        pitch = old.pitch + semitones
        octave = (pitch - alter) // 12 - 1
        spelled = {"step": "FCGDAEB"[step], "alter": alter, "octave": octave}
        notes.append(replace(old, pitch=pitch, **spelled))
    bars = [replace(bar, fifths=(bar.fifths + 7 * semitones + 6) % 12 - 6) for bar in score.bars]
    return replace(score, notes=tuple(notes), bars=tuple(bars))


def with_last_rest(score: Score) -> Score:
    """The score with one more bar that holds a rest."""
    last = score.bars[-1]
    bar = replace(last, index=last.index + 1, label="end", start=last.end, lead=Fraction(0))
    bar = replace(bar, length=bar.meter.length)
    rest = Rest(bar.start, bar.length, 0)
    return replace(score, bars=(*score.bars, bar), rests=(*score.rests, rest))
