"""One tune of music21's, made into a Score: staves, bars, notes and marks in score order."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from fractions import Fraction
from itertools import zip_longest
from typing import Any

from msgspec.structs import replace

from trainer.errors import TrainerError
from trainer.score import grid
from trainer.score.cite import counted
from trainer.score.fingers import fingered
from trainer.score.gather import Gathered, Gatherer
from trainer.score.hands import in_two_hands
from trainer.score.model import Bar, Mark, Note, Rest, Role, Score, Staff
from trainer.score.spell import named
from trainer.score.text import clean
from trainer.score.wording import is_tempo

_OF_THE_SYSTEM = ("tempo", "rehearsal", "jump", "page", "fermata")
"""Marks that hold for all staves, kept once a position."""
_LONGEST_UNBARRED = 10_000
"""Quarter notes without a bar line beyond which the lengths are wrong, not the bar lines."""
_FILE_NAME = re.compile(r"\.(mxl|xml|musicxml|midi?|krn|abc|mei|mscz|sib|mus)$", re.I)
_TEMPO_ALONE = 3
"""Words: "Allegro con brio" is a tempo, "Sonata in C: Allegro con brio" a title."""
_KEYBOARD = re.compile(
    r"\b(piano|pianoforte|keyboard|clavier|klavier|cembalo|harpsichord|organ|orgel|celesta)\b", re.I
)
_RIGHT = re.compile(r"\b(right|r\.?h\.?|m\.?d\.?)(?!\w)", re.I)
_LEFT = re.compile(r"\b(left|l\.?h\.?|m\.?[sg]\.?)(?!\w)", re.I)


def assemble(
    tune: Any,
    *,
    endings: Mapping[int, tuple[int, ...]] | None,
    title: str,
    name: str,
    stem: str,
    sounding: bool,
    numbered: bool,
    rigid: bool,
    slashes: bool,
    count: Callable[[int], None],
) -> Score:
    """The score of one tune.

    `endings` are the passes of its bars that are endings, by index, where they are known better
    than from the tune. `title` is what the page has for one, `name` is the file's, `stem` stands
    in for a missing title. `sounding` says that pitches are given as they sound, `numbered` that
    the format knows printed bar numbers, `rigid` that there are keys of a keyboard only: the
    metre alone makes the bars, notes are cut to them, named anew and shared between the hands.
    `slashes` says that grace notes are told apart by their stroke.
    Raises TrainerError without notes."""
    warnings: list[str] = []
    parts = _parts(tune, warnings)
    gatherer = Gatherer(slashes, count=count)
    found = [gatherer.staff(part, number, sounding) for number, part in enumerate(parts)]
    if not gatherer.notes:
        what = "only unpitched notes" if gatherer.unpitched else "no notes"
        raise TrainerError(f"{name} has {what}; give a score with notes on staves.")
    warnings += _mended(gatherer, found, rigid)
    columns = [
        [measure for measure in column if measure is not None]
        for column in zip_longest(*(staff.measures for staff in found))
    ]
    for index, column in enumerate(columns if endings is not None else ()):
        for measure in column:
            measure.endings = endings.get(index, ()) if endings else ()
    bars = _numbered(grid.bars(columns, warnings, rigid=rigid), numbered, warnings)
    notes = sorted(_notes(found, bars), key=_note_order)
    if rigid:
        notes = named(notes, bars)
    marks = [*_marks(found, bars), *_spans(gatherer, [tune, *parts], bars)]
    notes, marks = fingered(notes, marks)
    score = Score(
        title=_title(tune, title, stem),
        staves=_staves(parts, found, tune),
        bars=bars,
        notes=tuple(notes),
        rests=tuple(sorted(_rests(found, bars), key=lambda rest: (rest.onset, rest.staff))),
        marks=_in_order(marks),
        source=name,
        warnings=tuple(warnings),
    )
    return in_two_hands(score) if rigid else score


def _parts(tune: Any, warnings: list[str]) -> list[Any]:
    """The parts of a tune, each one staff, with measures."""
    parts = list(tune.parts) if "Score" in tune.classSet else [tune]
    if all(_unbarred(part) for part in parts):
        warnings.append("No bar lines are printed: bars were made from the metre.")
        parts = [part.flatten().makeMeasures() for part in parts]
        for part in parts:
            part.makeTies(inPlace=True)
    return [part if part.hasMeasures() else part.makeMeasures() for part in parts]


def _unbarred(part: Any) -> bool:
    """Whether a part has no bar line although it has a metre that would want some."""
    measures = [element for element in part.elements if "Measure" in element.classSet]
    if len(measures) != 1:
        return not measures
    meter, end = measures[0].timeSignature, measures[0].highestTime
    return meter is not None and 2 * meter.barDuration.quarterLength <= end <= _LONGEST_UNBARRED


def _numbered(bars: tuple[Bar, ...], numbered: bool, warnings: list[str]) -> tuple[Bar, ...]:
    """The bars with their printed labels, or counted where the file has none."""
    if numbered and not grid.unnumbered(bars):
        return bars
    if numbered:
        warnings.append("The file has no bar numbers: bars are counted from its beginning.")
    return grid.counted(bars)


def _mended(gatherer: Gatherer, found: list[Gathered], rigid: bool) -> Iterator[str]:
    if gatherer.unpitched:
        unpitched = counted(gatherer.unpitched, "unpitched note was", "unpitched notes were")
        yield f"{unpitched} left out."
    if gatherer.without_length:
        yield f"Read as grace notes: {counted(gatherer.without_length, 'note')} without a length."
    if gatherer.out_of_range:
        yield f"Left out: {counted(gatherer.out_of_range, 'note')} beyond all instruments."
    if gatherer.passed:
        names = ", ".join(sorted(gatherer.passed))
        yield f"Left out: {counted(sum(gatherer.passed.values()), 'sign')} ({names[:100]})."
    counts = {len(staff.measures) for staff in found}
    if len(counts) > 1 and not rigid:
        yield f"The parts have different numbers of bars ({min(counts)} to {max(counts)})."


def _title(tune: Any, title: str, stem: str) -> str:
    """The work's title, or the movement's, or else `title`, which stands on the page; `stem`, made
    readable, where there is none but a file's name or a tempo."""
    metadata = tune.metadata
    names = (metadata.title, metadata.movementName) if metadata is not None else ()
    for name in (*names, title):
        text = clean(name or "")
        if text and not _FILE_NAME.search(text) and not _only_tempo(text):
            return text
    return " ".join(stem.replace("_", " ").split()) or "Untitled"


def _only_tempo(text: str) -> bool:
    """Whether a title says nothing but how fast the piece goes."""
    return is_tempo(text) and len(text.split()) <= _TEMPO_ALONE


# Staves


def _staves(parts: list[Any], found: list[Gathered], tune: Any) -> tuple[Staff, ...]:
    roles = _roles(parts, found, tune)
    return tuple(
        Staff(number, staff.name, role, staff.transposition)
        for number, (staff, role) in enumerate(zip(found, roles, strict=True))
    )


def _roles(parts: list[Any], found: list[Gathered], tune: Any) -> list[Role]:
    """Right and left hand for the two upper staves of each keyboard part, else single."""
    roles: list[Role] = ["single"] * len(parts)
    for top in _keyboard_tops(parts, found, tune):
        roles[top], roles[top + 1] = "right hand", "left hand"
    return roles


def _keyboard_tops(parts: list[Any], found: list[Gathered], tune: Any) -> Iterator[int]:
    groups = [
        [id(part) for part in group.getSpannedElements()]
        for group in tune.elements
        if "StaffGroup" in group.classSet and group.symbol == "brace"
    ]
    place = 0
    while place + 1 < len(parts):
        upper, lower = parts[place], parts[place + 1]
        staffs = "PartStaff" in upper.classSet and "PartStaff" in lower.classSet
        braced = any(id(upper) in group and id(lower) in group for group in groups)
        if staffs or (braced and not found[place].sung) or _two_hands(found, place):
            yield place
            place += 1
            while staffs and place + 1 < len(parts) and _same_part(parts[place], parts[place + 1]):
                place += 1
        place += 1


def _same_part(upper: Any, lower: Any) -> bool:
    """Whether a third staff (an organ's pedals) belongs to the same part."""
    return "PartStaff" in lower.classSet and upper.partName == lower.partName


def _two_hands(found: list[Gathered], place: int) -> bool:
    """Whether two parts are clearly one keyboard part that was written as two."""
    upper, lower = found[place], found[place + 1]
    if _RIGHT.search(upper.name) and _LEFT.search(lower.name):
        return True
    named = all(
        staff.keyboard or _KEYBOARD.search(staff.name) or not re.search(r"[^\W\d_]", staff.name)
        for staff in (upper, lower)
    )
    apart = upper.clef.startswith("G") and lower.clef.startswith("F")
    known = upper.keyboard or lower.keyboard or bool(_KEYBOARD.search(upper.name + lower.name))
    alone = len(found) == 2 and apart and not (upper.sung or lower.sung)
    same = upper.name == lower.name or len(found) == 2  # "Piano" and "2" are one player's too
    return named and same and (known or alone)


# Notes and rests


def _notes(found: list[Gathered], bars: tuple[Bar, ...]) -> Iterator[Note]:
    for staff in found:
        for measure, bar in zip(staff.measures, bars, strict=False):
            for note in measure.notes:
                onset = min(note.onset, bar.length)
                length = min(note.length, bar.length - onset)
                yield replace(note, onset=bar.start + onset, length=length)


def _note_order(note: Note) -> tuple[Fraction, bool, int, int, int]:
    return note.onset, not note.grace, note.staff, note.order, note.pitch


def _rests(found: list[Gathered], bars: tuple[Bar, ...]) -> Iterator[Rest]:
    for staff in found:
        for measure, bar in zip(staff.measures, bars, strict=False):
            for rest in measure.rests:
                length = min(rest.length, bar.length - rest.onset)
                if length > 0:  # a rest never makes its bar longer
                    yield replace(rest, onset=bar.start + rest.onset, length=length)


# Marks


def _marks(found: list[Gathered], bars: tuple[Bar, ...]) -> Iterator[Mark]:
    for staff in found:
        for measure, bar in zip(staff.measures, bars, strict=False):
            for mark in measure.marks:
                yield _placed(mark, bar)


def _placed(mark: Mark, bar: Bar) -> Mark:
    """A mark of a measure at its position in the score."""
    onset = min(mark.onset, bar.length)
    if mark.kind == "jump" and onset == bar.length:
        onset = max(Fraction(0), bar.length - bar.meter.beat)
    return replace(
        mark,
        onset=bar.start + onset,
        end=None if mark.end is None else bar.start + mark.end,
        staff=-1 if mark.kind in _OF_THE_SYSTEM else mark.staff,
    )


def _spans(gatherer: Gatherer, streams: list[Any], bars: tuple[Bar, ...]) -> Iterator[Mark]:
    for first, last, mark in gatherer.spans(streams):
        begin = bars[first.measure].start + first.onset
        end = bars[last.measure].start + last.onset + last.length
        if end >= begin:
            yield replace(mark, onset=begin, end=end)


def _in_order(marks: list[Mark]) -> tuple[Mark, ...]:
    """Each mark once, in order; of several fermatas at one position the first. Of two coda
    signs without words the first is where the coda is left for (common practice, no source)."""
    seen: dict[object, Mark] = {}
    for mark in sorted(marks, key=lambda mark: (mark.onset, mark.staff)):
        seen.setdefault(("fermata", mark.onset) if mark.kind == "fermata" else mark, mark)
    signs = {mark.text: key for key, mark in reversed(seen.items()) if mark.kind == "jump"}
    codas = sum(1 for mark in seen.values() if (mark.kind, mark.text) == ("jump", "coda"))
    if codas > 1 and "to coda" not in signs:
        seen[signs["coda"]] = replace(seen[signs["coda"]], text="to coda")
    return tuple(seen.values())
