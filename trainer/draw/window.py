"""The written music of a passage as moments: what every drawing of a page is made from.

A moment is a position where something begins on one of the staves, or where a felt beat
falls. Grace notes and cue notes are not drawn; a moment says where a grace note stands, and the
window which they are.
Heads of one key in one staff that begin together (a unison of two voices) count as one.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from fractions import Fraction
from itertools import pairwise
from typing import TypeVar

from msgspec.structs import replace

from trainer.draw.signs import Told, told
from trainer.errors import TrainerError
from trainer.score.model import Bar, Note, Score
from trainer.values import Frozen

_SHARPS = "FCGDAEB"
_LOOKBACK = 8  # bars before the window in which a note without ties may have begun


class Head(Frozen, frozen=True):
    """One note head of the page. `struck` is false where a tie or a block's edge carries it on."""

    onset: Fraction
    end: Fraction
    pitch: int
    step: str
    alter: int
    octave: int
    staff: int
    voice: str
    struck: bool = True
    natural: bool = False  # unaltered where the key signature would alter it
    fingers: tuple[str, ...] = ()

    @property
    def place(self) -> int:
        """The diatonic step counted from C0: neighbours on the staff differ by 1."""
        return 7 * self.octave + "CDEFGAB".index(self.step)

    @property
    def held(self) -> bool:
        """Whether it lasts a quarter or longer from here, and so is drawn as held."""
        return self.end - self.onset >= 1


class Moment(Frozen, frozen=True):
    """A position and what begins there, up to the next moment at `until`.

    `index` counts the window's moments from 0; `beat` is the felt beat from 1, `ruler` its
    syllable. `carried` are the heads that began before and sound on here.
    """

    index: int
    onset: Fraction
    until: Fraction
    bar: Bar
    beat: Fraction
    ruler: str
    heads: tuple[Head, ...] = ()
    rests: tuple[int, ...] = ()  # staves that fall silent here
    graces: tuple[int, ...] = ()  # staves with a grace note here
    carried: tuple[Head, ...] = ()
    told: tuple[Told, ...] = ()  # the signs that stand here, or before the next moment

    @property
    def opening(self) -> tuple[Head, ...]:
        """The heads of a drawing that opens here: the carried ones too, cut to this moment."""
        cut = (replace(h, onset=self.onset, struck=False, fingers=()) for h in self.carried)
        return (*self.heads, *cut)


class Window(Frozen, frozen=True):
    """The moments of the chosen staves from the bar line before `entry` up to `end`."""

    score: Score
    staves: tuple[int, ...]
    start: Fraction
    entry: Fraction
    end: Fraction
    moments: tuple[Moment, ...]
    grace_notes: tuple[Note, ...] = ()


def window(
    score: Score, start: Fraction, end: Fraction, staves: Iterable[int] | None = None
) -> Window:
    """The passage from `start` to `end` (quarter notes), with the earlier part of its bar.

    `staves` chooses staves by number, all by default. Raises TrainerError where the passage
    is empty or lies outside the score, or where a staff does not exist.
    """
    known = [staff.number for staff in score.staves]
    chosen = tuple(sorted(set(known if staves is None else staves)))
    if not chosen or not set(chosen) <= set(known):
        raise TrainerError(f"No such staff: choose from {', '.join(map(str, known))}.")
    if not 0 <= start < end <= score.end:
        raise TrainerError(
            f"Nothing to draw from {start} to {end}: the score goes from 0 to {score.end}."
        )
    first = score.bar_at(start).start
    heads = _by_onset((head.onset, head) for head in _heads(score, first, end, chosen))
    rests = _by_onset(_rests(score, first, end, chosen))
    grace_notes = [n for n in score.notes_between(first, end) if n.grace and n.staff in chosen]
    graces = _by_onset((note.onset, note.staff) for note in grace_notes)
    moments: list[Moment] = []
    carried: tuple[Head, ...] = ()
    places = sorted({*heads, *rests, *graces, *_beats(score, first, end)})
    signs = _by_onset(
        (places[bisect_right(places, one.onset) - 1], one)
        for one in told(score, first, end, chosen)
    )
    for index, (onset, until) in enumerate(pairwise([*places, end])):
        bar = score.bar_at(onset)
        beat = bar.beat_at(onset)
        here = tuple(heads.get(onset, ()))
        moments.append(
            Moment(
                index,
                onset,
                until,
                bar,
                beat,
                syllable(beat, in_three=bar.meter.beat.numerator % 3 == 0),
                here,
                tuple(sorted(set(rests.get(onset, ())))),
                tuple(sorted(set(graces.get(onset, ())))),
                carried,
                tuple(signs.get(onset, ())),
            )
        )
        carried = tuple(head for head in (*carried, *here) if head.end > until)
    return Window(score, chosen, first, start, end, tuple(moments), tuple(grace_notes))


def syllable(beat: Fraction, *, in_three: bool = False) -> str:
    """The ruler's word for a felt beat: "1" on it, "e", "&", "a" on its quarters, else "·".

    A beat that divides in three (6/8, 9/8) counts "1 & a". Common practice, no source.
    """
    whole, rest = divmod(beat, 1)
    if not rest:
        return str(whole)
    return (_THIRDS if in_three else _QUARTERS).get(rest, "·")


_QUARTERS = {Fraction(1, 4): "e", Fraction(1, 2): "&", Fraction(3, 4): "a"}
_THIRDS = {Fraction(1, 3): "&", Fraction(2, 3): "a"}

_T = TypeVar("_T")


def _by_onset(pairs: Iterable[tuple[Fraction, _T]]) -> dict[Fraction, list[_T]]:
    grouped: dict[Fraction, list[_T]] = {}
    for onset, item in pairs:
        grouped.setdefault(onset, []).append(item)
    return grouped


def _heads(score: Score, first: Fraction, end: Fraction, staves: tuple[int, ...]) -> list[Head]:
    """The heads of the window, lowest first at each onset; those held into it come cut."""
    merged: dict[tuple[Fraction, int, int], Head] = {}
    for note in _drawn(score, first, end, staves):
        head = _head(score, note, first)
        key = (head.onset, head.staff, head.place * 16 + head.alter)
        other = merged.get(key)
        merged[key] = head if other is None else _merge(other, head)
    return sorted(merged.values(), key=lambda h: (h.onset, h.staff, h.place, h.alter))


def _drawn(score: Score, first: Fraction, end: Fraction, staves: tuple[int, ...]) -> Iterable[Note]:
    lookback = score.bars[max(0, score.bar_at(first).index - _LOOKBACK)].start
    for note in score.notes_between(lookback, end):
        if note.end > first and not note.grace and not note.cue and note.staff in staves:
            yield note


def _head(score: Score, note: Note, first: Fraction) -> Head:
    bar = score.bar_at(note.onset)
    return Head(
        max(note.onset, first),
        note.end,
        note.pitch,
        note.step,
        note.alter,
        note.octave,
        note.staff,
        note.voice,
        struck=note.sounds and note.onset >= first,
        natural=not note.alter and altered(bar, note.step),
        fingers=note.fingers if note.onset >= first else (),
    )


def altered(bar: Bar, step: str) -> bool:
    """Whether the key signature raises or lowers a step."""
    signs = _SHARPS[: bar.fifths] if bar.fifths > 0 else _SHARPS[bar.fifths :] if bar.fifths else ""
    return step in signs


def _merge(one: Head, other: Head) -> Head:
    longer, shorter = (one, other) if one.end >= other.end else (other, one)
    return replace(
        longer,
        struck=one.struck or other.struck,
        fingers=longer.fingers or shorter.fingers,
    )


def _rests(
    score: Score, first: Fraction, end: Fraction, staves: tuple[int, ...]
) -> list[tuple[Fraction, int]]:
    """Where a whole staff falls silent: a rest in it begins and no note of it sounds."""
    sounding = list(_drawn(score, first, end, staves))
    return [
        (rest.onset, rest.staff)
        for rest in score.rests
        if first <= rest.onset < end
        and rest.staff in staves
        and not any(n.staff == rest.staff and n.onset <= rest.onset < n.end for n in sounding)
    ]


def _beats(score: Score, first: Fraction, end: Fraction) -> Iterable[Fraction]:
    """The felt beats of the bars from `first` up to `end`, bar lines among them."""
    for bar in score.bars[score.bar_at(first).index :]:
        if bar.start >= end:
            return
        step = bar.meter.beat
        offset = (-bar.lead) % step
        yield bar.start
        while offset < bar.length and bar.start + offset < end:
            yield bar.start + offset
            offset += step
