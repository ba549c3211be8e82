"""Scores for property tests: generated ones, and small ones written by hand."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from hypothesis import strategies as st

from trainer.score.model import Bar, Mark, Meter, Note, Rest, Role, Score, Staff

F = Fraction
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
METERS = [(2, 4), (3, 4), (4, 4), (6, 8), (9, 8), (5, 8), (3, 8), (2, 2), (12, 8)]
LENGTHS = [F(1, 8), F(1, 6), F(1, 4), F(1, 3), F(1, 2), F(2, 3), F(3, 4), F(1), F(3, 2), F(2)]
CLEFS = ["G2", "F4", "C3", "C4", "G2-8", "F4+8"]


def note(onset: Fraction | float, length: Fraction | float, name: str, staff: int = 0) -> Note:
    """A note from a name such as "G#5"."""
    step, octave = name[0], int(name[-1])
    alter = name.count("#") - name[1:].count("b")
    pitch = 12 * (octave + 1) + SEMITONES[step] + alter
    return Note(F(onset), F(length), pitch, step, alter, octave, staff)


def score(
    notes: Sequence[Note],
    *,
    meter: tuple[int, int] = (4, 4),
    bars: int = 2,
    staves: int = 2,
    fifths: int = 0,
    rests: Sequence[Rest] = (),
    marks: Sequence[Mark] = (),
    label: int = 1,
) -> Score:
    """A score of full bars in one metre."""
    time = Meter(*meter)
    return Score(
        "A piece",
        parts(staves),
        tuple(
            Bar(i, str(label + i), i * time.length, time.length, time, fifths) for i in range(bars)
        ),
        tuple(sorted(notes, key=lambda n: (n.onset, n.staff, n.pitch))),
        tuple(rests),
        tuple(marks),
    )


def parts(count: int) -> tuple[Staff, ...]:
    keyboard: tuple[Role, ...] = ("right hand", "left hand")
    single: Role = "single"
    roles = keyboard if count == 2 else (single,) * count
    return tuple(Staff(i, f"Part {i + 1}", role) for i, role in enumerate(roles))


@st.composite
def scores(draw: st.DrawFn) -> Score:
    """Up to four bars on one to three staves, one or two voices each: chords, ties, tuplets,
    rests, grace and cue notes, fingers, clefs that change, a pickup, changes of metre."""
    bars = draw(_bars())
    staves = draw(st.integers(1, 3))
    notes: list[Note] = []
    rests: list[Rest] = []
    for staff in range(staves):
        for voice in range(draw(st.integers(1, 2))):
            for bar in bars:
                _fill(draw, bar, staff, str(voice + 1), notes, rests)
    marks = [
        Mark("clef", draw(st.sampled_from(bars)).start, draw(st.sampled_from(CLEFS)), staff)
        for staff in range(staves)
        for _ in range(draw(st.integers(0, 2)))
    ]
    return Score(
        "A piece",
        parts(staves),
        bars,
        tuple(sorted(notes, key=lambda n: (n.onset, n.staff, n.voice, n.pitch))),
        tuple(sorted(rests, key=lambda r: r.onset)),
        tuple(sorted(marks, key=lambda m: m.onset)),
    )


@st.composite
def _bars(draw: st.DrawFn) -> tuple[Bar, ...]:
    bars: list[Bar] = []
    at = F(0)
    meter = Meter(*draw(st.sampled_from(METERS)))
    fifths = draw(st.integers(-7, 7))
    if draw(st.booleans()):
        lead = meter.length - meter.beat
        bars.append(Bar(0, "0", at, meter.beat, meter, fifths, lead=lead, upbeat=True))
        at = meter.beat
    for _ in range(draw(st.integers(1, 4))):
        if draw(st.integers(0, 4)) == 0:
            meter = Meter(*draw(st.sampled_from(METERS)))
        bars.append(Bar(len(bars), str(len(bars) + 8), at, meter.length, meter, fifths))
        at += meter.length
    return tuple(bars)


def _fill(
    draw: st.DrawFn, bar: Bar, staff: int, voice: str, notes: list[Note], rests: list[Rest]
) -> None:
    at = bar.start
    while at < bar.end:
        length = min(draw(st.sampled_from(LENGTHS)), bar.end - at)
        kind = draw(st.integers(0, 9))
        if kind == 0:
            rests.append(Rest(at, length, staff, voice))
        for _ in range(draw(st.integers(1, 4)) if kind else 0):
            step = draw(st.sampled_from("CDEFGAB"))
            alter = draw(st.integers(-2, 2))
            octave = draw(st.integers(1, 7))
            notes.append(
                Note(
                    at,
                    F(0) if kind == 9 else length,
                    12 * (octave + 1) + SEMITONES[step] + alter,
                    step,
                    alter,
                    octave,
                    staff,
                    voice,
                    tie=draw(st.sampled_from(["", "", "", "start", "continue", "stop"])),
                    grace=kind == 9,
                    cue=kind == 8,
                    fingers=("3",) if kind == 7 else (),
                )
            )
        if kind != 9:
            at += length


@st.composite
def passages(draw: st.DrawFn) -> tuple[Score, Fraction, Fraction]:
    """A score and a passage of it, from anywhere to anywhere later."""
    found = draw(scores().filter(lambda music: music.notes))
    places = sorted({bar.start for bar in found.bars} | set(found.onsets) | {found.end})
    start = draw(st.sampled_from(places[:-1]))
    return found, start, draw(st.sampled_from([place for place in places if place > start]))
