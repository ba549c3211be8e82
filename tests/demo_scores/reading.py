"""A small reader of the demonstration scores for their tests, apart from the program's own."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

FOLDER = Path(__file__).parents[2] / "demo_scores"
STEMS = sorted(path.stem for path in FOLDER.glob("*.musicxml"))
_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


class Head(NamedTuple):
    """A written note head; positions in quarter notes from the beginning of the score."""

    onset: Fraction
    length: Fraction
    pitch: int
    part: int
    staff: int
    struck: bool


@dataclass
class Bar:
    """A measure of the first part, with what fills its voices in all parts."""

    label: str  # the number printed last: the later half of a split bar keeps it
    start: Fraction
    full: Fraction  # what the time signature asks for
    beat: Fraction  # the felt beat
    implicit: bool
    fills: list[Fraction] = field(default_factory=list)  # the length of each voice of each part

    @property
    def length(self) -> Fraction:
        return self.fills[0]


@dataclass
class Page:
    bars: list[Bar]
    heads: list[Head]
    root: ET.Element

    @property
    def onsets(self) -> set[Fraction]:
        return {head.onset for head in self.heads if head.struck}


def number(element: ET.Element, path: str) -> int:
    return int(element.findtext(path) or "0")


@cache
def read(stem: str) -> Page:
    root = ET.parse(FOLDER / f"{stem}.musicxml").getroot()
    page = Page([], [], root)
    for index, part in enumerate(root.iterfind("part")):
        _read_part(page, index, part)
    return page


def _read_part(page: Page, index: int, part: ET.Element) -> None:
    divisions, start, meter, label = 1, Fraction(0), (4, 4), ""
    for count, measure in enumerate(part.iterfind("measure")):
        divisions = number(measure, "attributes/divisions") or divisions
        if measure.find("attributes/time") is not None:
            meter = (number(measure, "attributes/time/beats"), _unit(measure))
        implicit = measure.get("implicit") == "yes"
        if not implicit or not label:
            label = measure.get("number", "")
        if index == 0:
            beat = Fraction(3, 2) if meter[1] == 8 and meter[0] % 3 == 0 else Fraction(4, meter[1])
            full = Fraction(4 * meter[0], meter[1])
            page.bars.append(Bar(label, start, full, beat, implicit))
        bar = page.bars[count]
        assert bar.start == start
        fills, heads = _read_measure(measure, index, start, divisions)
        bar.fills += fills
        page.heads += heads
        start += bar.length


def _unit(measure: ET.Element) -> int:
    return number(measure, "attributes/time/beat-type")


def _read_measure(
    measure: ET.Element, part: int, start: Fraction, divisions: int
) -> tuple[list[Fraction], list[Head]]:
    """How far each voice fills the measure, and its note heads."""
    fills: defaultdict[str, Fraction] = defaultdict(Fraction)
    heads: list[Head] = []
    here = last = Fraction(0)
    for element in measure:
        length = Fraction(number(element, "duration"), divisions)
        if element.tag == "backup":
            here -= length
        elif element.tag in ("note", "forward"):
            chord = element.find("chord") is not None
            onset = last if chord else here
            if not chord:
                voice = element.findtext("voice") or "1"
                assert fills[voice] == here, f"a gap in voice {voice}"
                last, here = here, here + length
                fills[voice] = here
            if element.find("pitch") is not None and element.find("grace") is None:
                heads.append(_head(element, start + onset, length, part))
    return list(fills.values()), heads


def _head(note: ET.Element, onset: Fraction, length: Fraction, part: int) -> Head:
    pitch = (
        12 * (number(note, "pitch/octave") + 1)
        + _SEMITONES[note.findtext("pitch/step") or ""]
        + number(note, "pitch/alter")
    )
    staff = number(note, "staff") or 1
    struck = all(tie.get("type") != "stop" for tie in note.iterfind("tie"))
    return Head(onset, length, pitch, part, staff, struck)


def place(page: Page, label: str, beat: float) -> Fraction:
    """The position of a printed bar number and felt beat.

    A pickup is counted from the end of a full bar, and so is the later half of a split bar.
    """
    for index, bar in enumerate(page.bars):
        late = bar.full - bar.length if bar.implicit else Fraction(0)
        offset = (Fraction(beat).limit_denominator(48) - 1) * bar.beat
        if bar.label == label and late <= offset < late + bar.length:
            assert index == 0 or late == 0 or page.bars[index - 1].length == late
            return bar.start + offset - late
    raise AssertionError(f"no bar {label}, beat {beat}")


def truth(stem: str) -> dict[str, Any]:
    """The composer's own list of starts and look-alikes."""
    found: dict[str, Any] = json.loads((FOLDER / f"{stem}.starts.json").read_text("utf-8"))
    return found


def music_from(page: Page, start: Fraction) -> Iterator[tuple[Fraction, list[tuple[int, ...]]]]:
    """From a start on, moment by moment: its distance, and what is written there."""
    moments: defaultdict[Fraction, list[tuple[Any, ...]]] = defaultdict(list)
    for head in page.heads:
        if head.onset >= start:
            key = (head.part, head.staff, head.pitch, head.length, head.struck)
            moments[head.onset - start].append(key)
    for distance in sorted(moments):
        yield distance, sorted(moments[distance])
