"""The voices of a staff in one bar, as layers: lines without gaps and without overlaps."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from trainer.picture.rhythm import gaps
from trainer.score.model import Bar, Note, Rest


class Named(NamedTuple):
    """A note and the id that it has in the text."""

    id: str
    note: Note


class Sound(NamedTuple):
    """Notes that begin and end together, a rest, or (neither) an empty place."""

    onset: Fraction
    length: Fraction
    notes: tuple[Named, ...] = ()
    rest: bool = False

    @property
    def end(self) -> Fraction:
        return self.onset + self.length


@dataclass
class Layer:
    """One line of a staff in one bar: it fills the bar, or holds nothing. `number` counts from 1.

    `graces` are the grace notes that can be drawn in it.
    """

    number: int
    sounds: list[Sound]
    graces: list[Named] = field(default_factory=list)

    def strikes(self, onset: Fraction) -> bool:
        return any(sound.onset == onset for sound in self.sounds)


def layers(bar: Bar, notes: Iterable[Named], rests: Iterable[Rest]) -> list[Layer]:
    """The layers of one staff in one bar, at least one. A voice whose notes overlap, as chords of
    unequal lengths do, has several. Nothing is drawn longer than the bar; a note without a length
    is a grace note."""
    voices: dict[str, list[Sound]] = defaultdict(list)
    chords: dict[tuple[str, Fraction, Fraction, bool], list[Named]] = defaultdict(list)
    graces: list[Named] = []
    for one in notes:
        note = one.note
        if _grace(note):
            graces.append(one)
        else:
            chords[note.voice, note.onset, note.length, note.cue].append(one)
    for (voice, onset, length, _), heads in chords.items():
        voices[voice].append(Sound(onset, min(length, bar.end - onset), tuple(heads)))
    for rest in rests:
        if rest.length:
            length = min(rest.length, bar.end - rest.onset)
            voices[rest.voice].append(Sound(rest.onset, length, rest=True))
    found: list[Layer] = []
    for voice in sorted(voices, key=_order):
        lines = _lines(voices[voice])
        mine = [one for one in graces if one.note.voice == voice]
        graces = [one for one in graces if one.note.voice != voice]
        for place, line in enumerate(lines):
            found.append(Layer(len(found) + 1, _filled(line, bar), [] if place else mine))
    if not found:
        return [Layer(1, [], graces)]
    found[0].graces += graces
    return found


def crowded(notes: Iterable[Named]) -> set[Named]:
    """The grace notes that stand with others before one note of a voice where nobody knows their
    order: in scores of earlier versions, and in chords. They are not drawn."""
    graces = [one for one in notes if _grace(one.note)]
    places = Counter(_before(one.note) for one in graces)
    return {one for one in graces if places[_before(one.note)] > 1}


def _before(grace: Note) -> tuple[int, str, Fraction, int]:
    return grace.staff, grace.voice, grace.onset, grace.order


def _grace(note: Note) -> bool:
    return note.grace or not note.length


def _order(voice: str) -> tuple[int, str]:
    return (int(voice), "") if voice.isdecimal() else (1000, voice)


def _lines(sounds: list[Sound]) -> list[list[Sound]]:
    """The sounds of one voice in as few lines as are needed for none to overlap."""
    lines: list[list[Sound]] = []
    for sound in sorted(sounds, key=lambda s: (s.onset, s.rest, -s.length)):
        line = next((line for line in lines if line[-1].end <= sound.onset), None)
        if line is None:
            lines.append([sound])
        else:
            line.append(sound)
    return lines


def _filled(line: list[Sound], bar: Bar) -> list[Sound]:
    """The line with empty places where nothing stands, so that it fills the bar."""
    filled: list[Sound] = []
    at = bar.start
    for sound in line:
        filled += [Sound(*gap) for gap in gaps(at, sound.onset, bar.start)]
        filled.append(sound)
        at = sound.end
    return filled + [Sound(*gap) for gap in gaps(at, bar.end, bar.start)]
