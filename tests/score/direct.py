"""An independent reading of MusicXML, straight from the elements, to check the reader against.

It follows the MusicXML 4.0 specification (W3C Music Notation Community Group, 2021) and knows
neither music21 nor the reader: durations are counted with <backup> and <forward>.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree import ElementTree

from trainer.score.files import ScoreFile

_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@dataclass
class Direct:
    """What the elements say: bars by the first part, notes of all parts by bar index."""

    numbers: list[str] = field(default_factory=list)
    lengths: list[Fraction] = field(default_factory=list)  # of the fullest part, in quarters
    metres: list[str] = field(default_factory=list)
    fifths: list[int] = field(default_factory=list)
    notes: set[tuple[int, Fraction, int, bool]] = field(default_factory=set)
    heads: int = 0
    grace: int = 0
    slurs: int = 0  # those that end somewhere
    backward: int = 0  # repeat signs at the end of a bar of the first part


def direct(file: ScoreFile) -> Direct:
    """Read the score-partwise file; a note is (bar index, onset in the bar, pitch, grace)."""
    found = Direct()
    for place, part in enumerate(ElementTree.fromstring(file.data).findall("part")):
        _part(part, place == 0, found)
    return found


def _part(part: ElementTree.Element, first: bool, found: Direct) -> None:
    divisions, transpose, fifths, metre = 1, 0, 0, ""
    for index, measure in enumerate(part.findall("measure")):
        now = end = onset = Fraction(0)
        for element in measure:
            ticks = Fraction(element.findtext("duration") or "0") / divisions
            if element.tag == "attributes":
                divisions = int(element.findtext("divisions") or divisions)
                fifths = int(element.findtext("key/fifths") or fifths)
                transpose = int(element.findtext("transpose/chromatic") or transpose)
                if element.find("time/beats") is not None:
                    metre = f"{element.findtext('time/beats')}/{element.findtext('time/beat-type')}"
            elif element.tag == "backup":
                now -= ticks
            elif element.tag == "forward":
                now += ticks
            elif element.tag == "note":
                if element.find("chord") is None:
                    onset, now = now, now + ticks
                _note(element, index, onset, transpose, found)
                if element.find("rest") is None:
                    end = max(end, now)
            elif element.tag == "barline" and first:
                found.backward += element.find("repeat[@direction='backward']") is not None
        if first:
            found.numbers.append(measure.get("number", ""))
            found.metres.append(metre)
            found.fifths.append(fifths)
            found.lengths.append(end)
        elif index < len(found.lengths):
            found.lengths[index] = max(found.lengths[index], end)


def _note(
    element: ElementTree.Element, index: int, onset: Fraction, transpose: int, found: Direct
) -> None:
    found.slurs += len(element.findall("notations/slur[@type='stop']"))
    pitch = element.find("pitch")
    if pitch is None or element.get("print-object") == "no":
        return
    number = (
        12 * (int(pitch.findtext("octave") or 0) + 1)
        + _STEPS[pitch.findtext("step") or "C"]
        + int(float(pitch.findtext("alter") or 0))
        + transpose
    )
    grace = element.find("grace") is not None
    found.heads += 1
    found.grace += grace
    found.notes.add((index, onset, number, grace))
