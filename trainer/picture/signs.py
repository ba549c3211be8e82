"""The signs before and beside the notes: clefs, keys, accidentals, dynamics, words."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Container, Iterable, Iterator
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from msgspec.structs import replace

from trainer.picture.layers import Named
from trainer.score.model import Bar, Mark, Note, Score, SignKind
from trainer.score.text import clean

_ORDER = "FCGDAEB"  # of the sharps in a key signature; the flats come the other way round
ALTERATIONS = {-3: "tf", -2: "ff", -1: "f", 0: "n", 1: "s", 2: "x", 3: "ts"}
_HAIRPINS = {"crescendo": "cres", "diminuendo": "dim"}
GESTURAL = ALTERATIONS | {2: "ss"}  # as MEI tells what sounds, where it tells what is printed


class Clef(NamedTuple):
    """A sign on a line (1-5 from below); `octaves` is +1 where the notes sound an octave higher
    than without the 8, -1 where lower."""

    sign: str
    line: int
    octaves: int = 0

    def attributes(self, before: str = "") -> dict[str, str]:
        """MEI's; in a staff's definition their names begin with `before`."""
        said = {"shape": self.sign, "line": str(self.line)}
        if self.octaves:
            said["dis"] = {1: "8", 2: "15"}[abs(self.octaves)]
            said["dis.place"] = "above" if self.octaves > 0 else "below"
        return {before + name: value for name, value in said.items()}


def clefs(score: Score, staff: int, start: Fraction, end: Fraction) -> list[tuple[Fraction, Clef]]:
    """The clef in force at `start`, and those that it changes to before `end`.

    Before the first one, the first holds; a staff without any has the one that suits most notes.
    """
    told = [
        (mark.onset, clef)
        for mark in sorted(score.marks_of("clef"), key=lambda mark: mark.onset)
        if mark.staff == staff and (clef := _clef(mark.text)) is not None
    ]
    earlier = [clef for onset, clef in told if onset <= start]
    opening = earlier[-1] if earlier else told[0][1] if told else _suiting(score, staff)
    found = [(start, opening)]
    for onset, clef in told:
        if start < onset < end and clef != found[-1][1]:
            found.append((onset, clef))
    return found


def _clef(text: str) -> Clef | None:
    match = re.fullmatch(r"([GFC])([1-5])([+-](?:8|15))?", text)
    octaves = {"+8": 1, "-8": -1, "+15": 2, "-15": -2}
    return Clef(match[1], int(match[2]), octaves.get(match[3], 0)) if match else None


def _suiting(score: Score, staff: int) -> Clef:
    pitches = sorted(note.pitch for note in score.notes if note.staff == staff)
    return Clef("F", 4) if pitches and pitches[len(pitches) // 2] < 60 else Clef("G", 2)


def fifths(bar: Bar) -> int:
    """The key signature that is printed: none beyond seven signs."""
    return bar.fifths if abs(bar.fifths) <= 7 else 0


def key(bar: Bar) -> dict[str, str]:
    signs = fifths(bar)
    return {"keysig": f"{abs(signs)}{'s' if signs > 0 else 'f'}" if signs else "0"}


def meter(bar: Bar) -> dict[str, str]:
    return {"meter.count": str(bar.meter.count), "meter.unit": str(bar.meter.unit)}


def accidentals(bar: Bar, notes: Iterable[Named], led_to: Container[str]) -> dict[str, str]:
    """The accidentals printed in a bar, by the ids of the notes that have one.

    One holds to the end of its bar for its own line or space, in its own staff. Where two voices
    have two of them at once, each is printed, and so is the next. `led_to` has the ids of notes
    that a tie of the page leads to, which need none over a bar line.
    """
    signs = fifths(bar)
    raised, lowered = _ORDER[: max(0, signs)], _ORDER[::-1][: max(0, -signs)]
    held: dict[tuple[int, str, int], int | None] = {}
    found: dict[str, str] = {}
    fresh = [n for n in notes if n.note.onset > bar.start or n.id not in led_to]
    for _, together in groupby(fresh, key=lambda one: one.note.onset):
        lines: defaultdict[tuple[int, str, int], list[Named]] = defaultdict(list)
        for one in together:
            lines[one.note.staff, one.note.step, one.note.octave].append(one)
        for line, heads in lines.items():
            of_key = 1 if line[1] in raised else -1 if line[1] in lowered else 0
            alters = {one.note.alter for one in heads}
            if len(alters) > 1:
                found |= {one.id: ALTERATIONS[one.note.alter] for one in heads}
                held[line] = None
            elif alters != {held.get(line, of_key)}:
                found[heads[0].id] = ALTERATIONS[heads[0].note.alter]
                held[line] = heads[0].note.alter
    return found


class Sign(NamedTuple):
    """An element of a measure: its name, its attributes, and its text."""

    name: str
    attributes: dict[str, str]
    text: str = ""


def staff_name(number: int) -> str:
    """MEI's number of a staff, from 1."""
    return str(number + 1)


def stamp(bar: Bar, at: Fraction) -> str:
    """A position as MEI's timestamp: in beats of the metre's unit, from 1."""
    return f"{float(1 + (at - bar.start) * bar.meter.unit / 4):.5g}"


def _pace(bar: Bar, quarters: float) -> str:
    """A metronome mark, from quarter notes a minute: of the dotted quarter where that is felt."""
    if bar.meter.beat == Fraction(3, 2):
        return f"♩. = {quarters * 2 / 3:.4g}"
    return f"♩ = {quarters:.4g}"


_ARTICULATIONS: dict[SignKind, str] = {
    "staccato": "stacc",
    "staccatissimo": "stacciss",
    "tenuto": "ten",
    "accent": "acc",
    "marcato": "marc",
    "portato": "ten-stacc",
}
_ORNAMENTS: dict[SignKind, tuple[str, dict[str, str]]] = {
    "trill": ("trill", {}),
    "turn": ("turn", {"form": "upper"}),
    "inverted turn": ("turn", {"form": "lower"}),
    "delayed turn": ("turn", {"form": "upper", "delayed": "true"}),
    "delayed inverted turn": ("turn", {"form": "lower", "delayed": "true"}),
    "mordent": ("mordent", {"form": "lower"}),
    "short trill": ("mordent", {"form": "upper"}),
    "arpeggio": ("arpeg", {}),
    "arpeggio up": ("arpeg", {"arrow": "true", "order": "up"}),
    "arpeggio down": ("arpeg", {"arrow": "true", "order": "down"}),
    "not arpeggiated": ("arpeg", {"order": "nonarp"}),
    "slide": ("dir", {"place": "above"}),
}
"""What MEI 5 calls a sign: the element, and how its form is told."""


def articulations(notes: Iterable[Note]) -> Iterator[dict[str, str]]:
    """The articulations of a note or chord, each the attributes of an "artic"."""
    for sign in (sign for note in notes for sign in note.signs):
        if sign.kind in _ARTICULATIONS:
            for name in _ARTICULATIONS[sign.kind].split("-"):
                yield {"artic": name}


def tremolo(notes: Iterable[Note]) -> int:
    """The strokes through the stem of a note or chord, 0 where it is none."""
    return max((s.strokes for n in notes for s in n.signs if s.kind == "tremolo"), default=0)


def ornaments(one: Named, chord: Iterable[Named]) -> Iterator[Sign]:
    """The ornaments at a note; an arpeggio at the lowest note of its `chord` only, for all."""
    ids = [other.id for other in sorted(chord, key=lambda other: other.note.pitch)]
    for sign in one.note.signs:
        if sign.kind not in _ORNAMENTS:
            continue
        name, form = _ORNAMENTS[sign.kind]
        said = {"startid": f"#{one.id}"} | form
        if name == "arpeg":
            if one.id != ids[0]:
                continue
            said = {"plist": " ".join(f"#{id_}" for id_ in ids)} | form
        for attribute, alter in (("accidupper", sign.above), ("accidlower", sign.below)):
            if alter is not None:
                said[attribute] = ALTERATIONS[alter]
        yield Sign(name, said, "slide" if sign.kind == "slide" else "")


_OCTAVES = {"8va": 1, "8vb": -1, "15ma": 2, "15mb": -2}


def octaves(score: Score, note: Note) -> int:
    """How many octaves higher a note sounds than it is printed, by the octave lines over it."""
    lines = (m for m in score.marks_of("octave") if m.staff == note.staff and m.end is not None)
    over = (mark for mark in lines if mark.onset <= note.onset < (mark.end or 0))
    return sum(_OCTAVES.get(mark.text, 0) for mark in over)


class Marks:
    """The marks of a page's bars, each at its place."""

    def __init__(
        self, score: Score, bars: list[Bar], notes: list[Named], start: Fraction, end: Fraction
    ) -> None:
        self._bars, self._notes, self._end = bars, notes, end
        self._top = score.staves[0].number
        self._marks = [mark for mark in score.marks if start <= mark.onset < end]
        self._marks += [  # lines that go on from before
            replace(mark, onset=start)
            for mark in score.marks_of("octave", "pedal")
            if mark.onset < start and mark.end is not None and mark.end > start
        ]
        self._sung = {mark.staff for mark in score.marks_of("lyric")}

    def of(self, bar: Bar) -> Iterator[Sign]:
        """What begins in a bar."""
        for mark in self._marks:
            if bar.start <= mark.onset < bar.end:
                yield from self._sign(bar, mark)
            if mark.kind == "pedal" and mark.end is not None and bar.start < mark.end <= bar.end:
                said = {"staff": staff_name(mark.staff), "tstamp": stamp(bar, mark.end)}
                yield Sign("pedal", said | {"dir": "up"})

    def syllables(self, bar: Bar, staff: int) -> dict[Fraction, str]:
        return {
            mark.onset: mark.text
            for mark in self._marks
            if (mark.kind, mark.staff) == ("lyric", staff) and bar.start <= mark.onset < bar.end
        }

    def _sign(self, bar: Bar, mark: Mark) -> Iterator[Sign]:
        staff = mark.staff if mark.staff >= 0 else self._top
        said = {"staff": staff_name(staff), "tstamp": stamp(bar, mark.onset)}
        above = said | {"place": "above"}
        text = clean(mark.text)
        if mark.kind == "dynamic":
            said["place"] = "above" if mark.staff in self._sung else "below"
            if mark.end is None:
                yield Sign("dynam", said, text)
            elif text in _HAIRPINS:
                said["tstamp2"] = self._until(bar, mark.end)
                yield Sign("hairpin", said | {"form": _HAIRPINS[text]})
        elif mark.kind == "tempo":
            pace = _pace(bar, mark.value) if mark.value else ""
            yield Sign("tempo", above, f"{text} ({pace})" if text and pace else text or pace)
        elif mark.kind in ("text", "jump") and text:
            yield Sign("dir", above, text)
        elif mark.kind == "rehearsal" and text:
            yield Sign("reh", above, text)
        elif mark.kind == "chord" and text:
            yield Sign("harm", above, text)
        elif mark.kind == "fermata":
            yield Sign("fermata", above)
        elif mark.kind == "breath" and mark.end is not None and mark.end <= self._end:
            yield Sign("breath", said | {"tstamp": stamp(bar, min(mark.end, bar.end))})
        elif mark.kind in ("slur", "glissando"):
            yield from self._between("slur" if mark.kind == "slur" else "gliss", mark)
        elif mark.kind == "tremolo":
            yield Sign("dir", above, "trem.")
        elif mark.kind == "trill line" and (line := self.trill_line(bar, staff, mark.onset)):
            here = [n.note for n in self._notes if n.note.onset == mark.onset]
            if not any(note.staff == staff and note.has("trill") for note in here):
                yield Sign("trill", said | line)
        elif mark.kind == "octave" and mark.end is not None and text in _OCTAVES:
            up = _OCTAVES[text] > 0
            said |= {"dis": "8" if abs(_OCTAVES[text]) == 1 else "15"}
            said |= {"dis.place": "above" if up else "below"}
            yield Sign("octave", said | {"tstamp2": self._until(bar, mark.end)})
        elif mark.kind == "pedal" and mark.end is not None:
            yield Sign("pedal", said | {"dir": "down"})

    def trill_line(self, bar: Bar, staff: int, onset: Fraction) -> dict[str, str]:
        """How far the wavy line after a trill goes; nothing where there is none."""
        for mark in self._marks:
            if (mark.kind, mark.staff, mark.onset) == ("trill line", staff, onset) and mark.end:
                return {"tstamp2": self._until(bar, mark.end), "extender": "true"}
        return {}

    def _until(self, bar: Bar, end: Fraction) -> str:
        """Where a hairpin ends: so many bars on, and at which beat. Never beyond the page."""
        end = min(end, self._end)
        last = next(other for other in reversed(self._bars) if other.start < end)
        return f"{last.index - bar.index}m+{stamp(last, min(end, last.end))}"

    def _between(self, name: str, mark: Mark) -> Iterator[Sign]:
        """A slur or line from its first note to its last, where both are on the page, in one
        voice."""
        mine = [one for one in self._notes if one.note.staff == mark.staff and not one.note.grace]
        first = {n.note.voice: n.id for n in reversed(mine) if n.note.onset == mark.onset}
        last = {n.note.voice: n.id for n in reversed(mine) if n.note.end == mark.end}
        for voice, id_ in first.items():
            if last.get(voice, id_) != id_:
                yield Sign(name, {"startid": f"#{id_}", "endid": f"#{last[voice]}"})
                return
