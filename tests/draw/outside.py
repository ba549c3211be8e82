"""What is struck in a bar, straight from the elements of a MusicXML file.

After the MusicXML 4.0 specification (W3C Music Notation Community Group, 2021): durations are
counted with <backup> and <forward>, a note with <tie type="stop"> is not struck. It knows
neither music21 nor the project's reader.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree import ElementTree

Strike = tuple[str, str, int, int]  # beat, step, alter, octave


@dataclass
class Measure:
    number: str
    metre: tuple[int, int]
    full: bool = False  # some part fills it: not a pickup or the part of a split bar
    strikes: set[tuple[str, Fraction, str, int, int]] = field(default_factory=set)

    def counted(self) -> Counter[Strike]:
        """The strikes with their beats; a unison within one staff is one."""
        return Counter(
            (beat_token(onset, self.metre), step, alter, octave)
            for _, onset, step, alter, octave in self.strikes
        )


def beat_token(onset: Fraction, metre: tuple[int, int]) -> str:
    """The ruler's word of a position in a bar, by common practice."""
    compound = metre[1] >= 8 and metre[0] in (6, 9, 12)
    number, rest = divmod(onset / Fraction(4 * (3 if compound else 1), metre[1]), 1)
    words = {"1/3": "&", "2/3": "a"} if compound else {"1/4": "e", "1/2": "&", "3/4": "a"}
    return str(number + 1) if not rest else words.get(str(rest), "·")


def measures(data: bytes) -> list[Measure]:
    found: list[Measure] = []
    for place, part in enumerate(ElementTree.fromstring(data).findall("part")):
        _part(part, place, found)
    return found


def _part(part: ElementTree.Element, place: int, found: list[Measure]) -> None:
    divisions, metre = 1, (4, 4)
    for index, element in enumerate(part.findall("measure")):
        now = onset = Fraction(0)
        if index == len(found):
            found.append(Measure(element.get("number", ""), metre))
        here = found[index]
        for item in element:
            ticks = Fraction(item.findtext("duration") or "0") / divisions
            if item.tag == "attributes":
                divisions = int(item.findtext("divisions") or divisions)
                beats, unit = item.findtext("time/beats"), item.findtext("time/beat-type")
                metre = (int(beats), int(unit)) if beats and unit else metre
                here.metre = metre
            if item.tag in ("backup", "forward"):
                now += -ticks if item.tag == "backup" else ticks
            elif item.tag == "note":
                if item.find("chord") is None:
                    onset, now = now, now + ticks
                _note(item, place, onset, here)
                here.full |= now == Fraction(4 * metre[0], metre[1])


def _note(item: ElementTree.Element, place: int, onset: Fraction, here: Measure) -> None:
    pitch = item.find("pitch")
    skipped = ("grace", "cue", "tie[@type='stop']")
    hidden = item.get("print-object") == "no"  # the playback of a trill, say
    if pitch is None or hidden or any(item.find(tag) is not None for tag in skipped):
        return
    staff = f"{place}/{item.findtext('staff') or '1'}"
    alter = int(float(pitch.findtext("alter") or 0))
    step, octave = pitch.findtext("step") or "", int(pitch.findtext("octave") or 0)
    here.strikes.add((staff, onset, step, alter, octave))
