"""What music21's streams hold, taken over into plain values: staves, measures, notes, marks.

music21 itself is not imported here: its objects are told apart by the names of their classes.
Nothing that searches a stream for each note is called, so the cost grows with the notes alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache, lru_cache
from itertools import pairwise
from typing import Any

from msgspec.structs import replace

from trainer.errors import TrainerError
from trainer.score.grid import Measure
from trainer.score.model import Mark, MarkKind, Meter, Note, Rest, Sign, Tie
from trainer.score.signs import ARPEGGIOS, SPANS, signs, span_text
from trainer.score.text import clean
from trainer.score.wording import JUMPS, is_tempo, jump_of

_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_TIES: dict[str, Tie] = {"start": "start", "stop": "stop", "continue": "continue"}
_FINEST = 65536
"""No position of written music needs a larger denominator."""
_FARTHEST = 1_000_000
"""Quarter notes; a day of music has fewer."""


@lru_cache(maxsize=65536)
def exact(quarters: float | Fraction) -> Fraction:
    """A position or length as the exact fraction that music21's number stands for.

    Raises ArithmeticError for one that cannot be: negative, endless, or beyond all music.
    """
    if not 0 <= quarters <= _FARTHEST:
        raise ArithmeticError(f"the impossible position or length {float(quarters):.6g}")
    return Fraction(quarters).limit_denominator(_FINEST)


def _offset(element: Any, quarters: float | Fraction) -> Fraction:
    """Where an element stands in its measure. A mark that would stand outside all measures is
    moved to the nearest place; a note there raises ArithmeticError."""
    if "GeneralNote" in element.classSet or "Voice" in element.classSet:
        return exact(quarters)
    return exact(min(max(quarters, 0), _FARTHEST))


@dataclass
class Where:
    """Where a note or chord stands, for the signs that span from one to another."""

    measure: int
    onset: Fraction
    length: Fraction
    staff: int


@dataclass
class Gathered:
    """All that one staff holds, measure by measure."""

    name: str
    measures: list[Measure]
    clef: str = ""
    transposition: int = 0
    keyboard: bool = False
    sung: bool = False


@dataclass
class Gatherer:
    """Walks the staves of one score, from the top. `slashes` says that the file tells a grace
    note with a stroke from one without; `passed` counts the signs that have no place in a score,
    by their names."""

    slashes: bool = False
    passed: dict[str, int] = field(default_factory=dict)
    places: dict[int, Where] = field(default_factory=dict)
    starts: dict[float | Fraction, int] = field(default_factory=dict)  # of measures, in music21
    unpitched: int = 0
    without_length: int = 0
    out_of_range: int = 0
    count: Callable[[int], None] = lambda _notes: None
    notes: int = 0

    def staff(self, part: Any, number: int, sounding: bool) -> Gathered:
        """One part of music21's, which prints as one staff. `sounding` says that its notes are
        given as they sound, whatever the instrument."""
        found = Gathered(clean(part.partName or ""), [])
        walk = _Walk(self, found, number, sounding)
        for element in part.elements:
            classes = element.classSet
            if "Measure" in classes:
                walk.measure(element)
            elif "Instrument" in classes:
                walk.instrument(element)
        for element in part.elements:
            if "RepeatBracket" in element.classSet:
                self._ending(element, part, found)
        return found

    def _ending(self, bracket: Any, part: Any, found: Gathered) -> None:
        """An ending's bracket, from its first measure to its last: music21 names no others."""
        order = [id(one) for one in part.elements if "Measure" in one.classSet]
        places = [order.index(id(m)) for m in bracket.getSpannedElements() if id(m) in order]
        passes = tuple(int(n) for n in bracket.numberRange if 0 < int(n) < 100)
        for measure in found.measures[min(places, default=0) : max(places, default=-1) + 1]:
            measure.endings = passes

    def spans(self, streams: Iterable[Any]) -> Iterator[tuple[Where, Where, Mark]]:
        """The slurs, hairpins and lines of these streams whose ends are known, from where to
        where, and the mark that still lacks its position."""
        seen: set[int] = set()
        for stream in streams:
            for element in stream.elements:
                kind = SPANS.get(type(element).__name__)
                if kind is None or id(element) in seen:
                    continue
                seen.add(id(element))
                found = [one and self._place(one) for one in _ends(element, kind)]
                strokes = getattr(element, "numberOfMarks", None) if kind == "tremolo" else None
                mark = Mark(kind, Fraction(0), span_text(element), value=strokes)
                if found[0] is None or found[-1] is None:
                    continue
                staff = found[0].staff
                for first, last in pairwise(place for place in found if place is not None):
                    yield first, last, replace(mark, staff=staff)

    def _place(self, element: Any) -> Where | None:
        """Where a note stands, or a change of the pedal: that may be in the part that a staff was
        taken from, so its measure is known by its own position."""
        if "PedalObject" not in element.classSet or element.activeSite is None:
            return self.places.get(id(element))
        measure = self.starts.get(element.activeSite.offset)
        if measure is None or not 0 <= element.offset <= _FARTHEST:
            return None
        return Where(measure, exact(element.offset), Fraction(0), -1)


def _ends(spanner: Any, kind: MarkKind) -> list[Any]:
    """Where a spanner begins and ends, and where a pedal is changed on the way."""
    ends = [spanner.getFirst(), spanner.getLast()]
    if kind == "pedal":
        changes = (one for one in spanner.getSpannedElements() if "PedalObject" in one.classSet)
        ends[1:1] = [one for one in changes if one not in ends]
    return ends


class _Walk:
    """One staff on the way through its measures."""

    def __init__(self, owner: Gatherer, found: Gathered, number: int, sounding: bool) -> None:
        self.owner = owner
        self.found = found
        self.number = number
        self.sounding = sounding
        self.transposition = self.told = 0  # in force, and as a staff or a mark has told it
        self.now = Measure()
        self.graces = 0  # before the next note

    def instrument(self, element: Any) -> None:
        self.found.keyboard |= "KeyboardInstrument" in element.classSet
        interval = None if self.sounding else element.transposition
        self.transposition = 0 if interval is None else int(interval.semitones)
        if not self.found.measures and not self.now.notes:
            self.found.transposition = self.told = self.transposition

    def measure(self, element: Any) -> None:
        now = self.now = Measure(
            label=clean(element.measureNumberWithSuffix(), 20),
            number=element.number,
            implicit=element.showNumber == "never",
            suffix=clean(element.numberSuffix or "", 20),
        )
        try:
            self._contents(element)
        except ArithmeticError as error:
            raise TrainerError(
                f"Bar {now.label} has a note or rest with {error} (in quarter notes); "
                "correct the file."
            ) from error
        self.owner.starts.setdefault(element.offset, len(self.found.measures))
        self.found.measures.append(now)
        self.owner.notes += len(now.notes)
        self.owner.count(self.owner.notes)

    def _contents(self, measure: Any) -> None:
        voices = 0
        for element in measure.elements:
            offset = _offset(element, measure.elementOffset(element))
            if "Voice" in element.classSet:
                voices += 1
                self.graces = 0
                voice = _voice_name(element.id, voices)
                for inner in element.elements:
                    within = _offset(inner, element.elementOffset(inner))
                    self._element(inner, offset + within, voice)
            else:
                self._element(element, offset, "1")

    def _element(self, element: Any, offset: Fraction, voice: str) -> None:
        handler = _handler(element.__class__)
        if handler:
            getattr(self, handler)(element, offset, voice)

    def _mark(self, kind: MarkKind, onset: Fraction, text: object = "", **more: Any) -> None:
        self.now.marks.append(Mark(kind, onset, clean(text), self.number, **more))

    # What is played

    def _note(self, element: Any, offset: Fraction, voice: str) -> None:
        self._heads(element, (element,), offset, voice)

    def _chord(self, element: Any, offset: Fraction, voice: str) -> None:
        self._heads(element, element.notes, offset, voice)

    def _heads(self, element: Any, heads: Any, offset: Fraction, voice: str) -> None:
        """The heads of one note or chord, and what is written at it."""
        if _hidden(element):
            return
        length = exact(element.duration.quarterLength)
        grace = bool(element.duration.isGrace)
        if not length and not grace:
            self.owner.without_length += 1
            grace = True
        self.owner.places[id(element)] = Where(
            len(self.found.measures), offset, length, self.number
        )
        if self.transposition != self.told:
            self.told = self.transposition
            self._mark("transposition", offset, value=float(self.told))
        fingers = _fingers(element, len(heads))
        order, self.graces = (self.graces, self.graces + 1) if grace else (0, 0)
        found = tuple(self._signs_of(element, grace))
        shared = tuple(sign for sign in found if sign.kind in ARPEGGIOS)
        highest = _highest(heads) if found and len(heads) > 1 else None
        cue = element.hasStyleInformation and element.style.noteSize == "cue"
        for head, finger in zip(heads, fingers, strict=True):
            if "Unpitched" in head.classSet:
                self.owner.unpitched += 1
                continue
            written = head.pitch
            alter = int(written.alter)
            octave = written.implicitOctave
            pitch = 12 * (octave + 1) + _STEPS[written.step] + alter
            pitch += self.transposition
            if not 0 <= pitch <= 127:
                self.owner.out_of_range += 1
                continue
            self.now.notes.append(
                Note(
                    onset=offset,
                    length=length,
                    pitch=pitch,
                    step=written.step,
                    alter=alter,
                    octave=octave,
                    staff=self.number,
                    voice=voice,
                    tie="" if head.tie is None else _TIES.get(head.tie.type, ""),
                    grace=grace,
                    cue=cue,
                    fingers=finger,
                    signs=found if highest in (None, head) else shared,
                    order=order,
                )
            )
        self.now.end = max(self.now.end, offset + length)
        self._signs(element, offset, offset + length)

    def _signs_of(self, element: Any, grace: bool) -> Iterator[Sign]:
        if element.expressions or element.articulations:
            yield from signs(element, self.owner.passed)
        if grace and self.owner.slashes and getattr(element.duration, "slash", False):
            yield Sign("slashed")

    def _rest(self, element: Any, offset: Fraction, voice: str) -> None:
        length = exact(element.duration.quarterLength)
        self.now.silent_until = max(self.now.silent_until, offset + length)
        if length and not _hidden(element):
            self.now.rests.append(Rest(offset, length, self.number, voice))
            self._signs(element, offset, offset + length)

    def _signs(self, element: Any, onset: Fraction, end: Fraction) -> None:
        """Fermatas, breath marks and words at a note; they last as long as the note."""
        for sign in element.expressions:
            if "Fermata" in sign.classSet:
                self._mark("fermata", onset, end=end)
        for sign in element.articulations:
            if "BreathMark" in sign.classSet or "Caesura" in sign.classSet:
                self._mark("breath", onset, end=end)
        for lyric in element.lyrics:
            if lyric.number == 1 and lyric.text:
                self.found.sung = True
                goes_on = lyric.syllabic in ("begin", "middle")
                self._mark("lyric", onset, lyric.text + ("-" if goes_on else ""))

    # What is written at a place

    def _chord_symbol(self, element: Any, offset: Fraction, _voice: str) -> None:
        self._mark("chord", offset, element.figure)

    def _clef(self, element: Any, offset: Fraction, _voice: str) -> None:
        if element.sign in ("G", "F", "C") and element.line:
            octave = {0: "", 1: "+8", -1: "-8", 2: "+15", -2: "-15"}.get(element.octaveChange, "")
            text = f"{element.sign}{element.line}{octave}"
            self.found.clef = self.found.clef or text
            self._mark("clef", offset, text)

    def _meter(self, element: Any, offset: Fraction, _voice: str) -> None:
        if not offset and element.numerator > 0:
            self.now.meter = Meter(int(element.numerator), int(element.denominator))

    def _key(self, element: Any, _offset: Fraction, _voice: str) -> None:
        if self.now.fifths is None and element.sharps is not None:
            self.now.fifths = int(element.sharps)
            mode = getattr(element, "mode", "") or ""
            self.now.mode = mode if mode in ("major", "minor") else ""

    def _barline(self, element: Any, _offset: Fraction, _voice: str) -> None:
        right = element.location == "right"
        if "Repeat" in element.classSet:
            if element.direction == "start":
                self.now.repeat_start = True
            else:
                self.now.repeat_times = max(2, min(int(element.times or 2), 20))
        elif right:
            self.now.final |= element.type == "final"
            self.now.double |= element.type == "double"
        else:
            self.now.double_before |= element.type == "double"
        if element.pause is not None and right:
            self._mark("fermata", max((n.onset for n in self.now.notes), default=Fraction(0)))

    def _tempo(self, element: Any, offset: Fraction, _voice: str) -> None:
        if "MetronomeMark" in element.classSet:
            value = element.getQuarterBPM() if element.number or element.numberSounding else None
            words = "" if element.textImplicit else element.text or ""
            if value or words:
                self._mark("tempo", offset, words, value=value)
        elif getattr(element, "text", ""):
            self._mark("tempo", offset, element.text)

    def _dynamic(self, element: Any, offset: Fraction, _voice: str) -> None:
        self._mark("dynamic", offset, element.value)

    def _rehearsal(self, element: Any, offset: Fraction, _voice: str) -> None:
        self._mark("rehearsal", offset, element.content)

    def _words(self, element: Any, offset: Fraction, _voice: str) -> None:
        text = clean(element.content or "")
        jump = jump_of(text)
        if jump:
            self._mark("jump", offset, jump)
        elif text:
            self._mark("tempo" if is_tempo(text) else "text", offset, text)

    def _jump(self, element: Any, offset: Fraction, _voice: str) -> None:
        words = jump_of(clean(element.getText() or ""))
        self._mark("jump", offset, words or JUMPS[type(element).__name__])

    def _page(self, element: Any, offset: Fraction, _voice: str) -> None:
        if element.isNew:
            self._mark("page", offset)

    def _change(self, element: Any, _offset: Fraction, _voice: str) -> None:
        self.instrument(element)


_HANDLERS = (
    ("ChordSymbol", "_chord_symbol"),
    ("NoChord", "_chord_symbol"),
    ("ChordBase", "_chord"),
    ("Note", "_note"),
    ("Unpitched", "_note"),
    ("Rest", "_rest"),
    ("Clef", "_clef"),
    ("TimeSignature", "_meter"),
    ("KeySignature", "_key"),
    ("Barline", "_barline"),
    ("TempoIndication", "_tempo"),
    ("Dynamic", "_dynamic"),
    ("RehearsalMark", "_rehearsal"),
    ("TextExpression", "_words"),
    ("PageLayout", "_page"),
    ("Instrument", "_change"),
)


@cache
def _handler(kind: Any) -> str:
    """The method for a class of music21's, or ""; the first name in the table decides."""
    names = {base.__name__ for base in kind.__mro__}
    if kind.__name__ in JUMPS:
        return "_jump"
    return next((method for name, method in _HANDLERS if name in names), "")


def _voice_name(name: object, place: int) -> str:
    """A voice's name as the file has it, or its place: music21 makes one up from an address."""
    return name if isinstance(name, str) and 0 < len(name) < 4 and name.isalnum() else str(place)


def _hidden(element: Any) -> bool:
    return bool(element.hasStyleInformation and element.style.hideObjectOnPrint)


def _highest(heads: Any) -> Any:
    """The head of a chord that its signs stand at."""
    pitched = [head for head in heads if "Unpitched" not in head.classSet]
    return max(pitched, key=lambda head: head.pitch.ps, default=None)


def _fingers(element: Any, heads: int) -> list[tuple[str, ...]]:
    """The fingerings of each head. music21 keeps those of a chord in one list, in order."""
    found = [
        clean(sign.fingerNumber, 10)
        for sign in element.articulations
        if type(sign).__name__ == "Fingering" and sign.fingerNumber is not None
    ]
    if heads == 1:
        return [tuple(found)]
    return [(found[i],) if i < len(found) else () for i in range(heads)]
