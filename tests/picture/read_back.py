"""A second reading of MEI, from its guidelines alone: what stands where, and how long it sounds.

Pitches are worked out from the printed accidentals and the key signature, as a player reads them.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from trainer.score.model import Note, Score

NS = "{http://www.music-encoding.org/ns/mei}"
ID = "{http://www.w3.org/XML/1998/namespace}id"
SEMITONES = dict(zip("cdefgab", (0, 2, 4, 5, 7, 9, 11), strict=True))
SIGNS = {"n": 0, "s": 1, "f": -1, "x": 2, "ss": 2, "ff": -2, "ts": 3, "tf": -3}
LENGTHS = {"breve": Fraction(8)} | {str(2**n): Fraction(4, 2**n) for n in range(12)}
SHARPS = "fcgdaeb"


class Held(NamedTuple):
    """What is held from a stroke to its end, ties included: by staff (from 0), position and
    length in quarter notes, and the written pitch as a MIDI note number."""

    staff: int
    onset: Fraction
    length: Fraction
    pitch: int


class Head(NamedTuple):
    held: Held
    alter: int


Line = tuple[str, str]  # a line or space of a staff: the name of its notes, their octave


def _line(note: ET.Element) -> Line:
    return note.attrib["pname"], note.attrib["oct"]


class Text:
    """A text in MEI, read from its first bar on, which begins at `start`."""

    def __init__(self, text: str, start: Fraction) -> None:
        self.root = ET.fromstring(text)
        self.at = start
        self.heads: dict[str, Head] = {}
        self.grace: list[ET.Element] = []
        self.rests: list[tuple[int, Fraction, Fraction]] = []
        self.fills: list[tuple[Fraction, Fraction]] = []  # each layer's length and its bar's
        self.ties = [
            (tie.attrib["startid"][1:], tie.attrib["endid"][1:])
            for tie in self.root.iter(NS + "tie")
        ]
        self.key = 0
        self.meter = Fraction(4)
        for element in self.root.iter():
            if element.tag == NS + "scoreDef":
                self._definition(element)
            elif element.tag == NS + "measure":
                self._measure(element)

    @property
    def bars(self) -> list[str]:
        return [measure.attrib["n"] for measure in self.root.iter(NS + "measure")]

    def all(self, name: str) -> list[ET.Element]:
        return list(self.root.iter(NS + name))

    def written(self) -> list[Held]:
        """Each head as it stands in the score: what is tied only because one value does not do
        is one head. Such pieces share an id up to its dot."""
        pieces = {a: b for a, b in self.ties if a.split(".")[0] == b.split(".")[0]}
        return joined({id_: head.held for id_, head in self.heads.items()}, pieces)

    def held(self) -> list[Held]:
        """All that is struck, with the heads that ties lead to put to those they come from."""
        return joined({id_: head.held for id_, head in self.heads.items()}, dict(self.ties))

    def _definition(self, element: ET.Element) -> None:
        key = element.get("keysig")
        if key is not None:
            self.key = 0 if key == "0" else int(key[:-1]) * (1 if key[-1] == "s" else -1)
        if element.get("meter.count"):
            count, unit = int(element.attrib["meter.count"]), int(element.attrib["meter.unit"])
            self.meter = Fraction(4 * count, unit)

    def _measure(self, measure: ET.Element) -> None:
        longest = Fraction(0)
        for staff in measure.iterfind(NS + "staff"):
            number = int(staff.attrib["n"]) - 1
            found: list[tuple[Fraction, Fraction, ET.Element]] = []
            for layer in staff.iterfind(NS + "layer"):
                walked = list(self._walk(layer, Fraction(1)))
                place = Fraction(0)
                for element, length in walked:
                    found.append((place, length, element))
                    place += length
                if not any(element.tag == NS + "mSpace" for element, _ in walked):
                    self.fills.append((self.at, place))
                    longest = max(longest, place)
            self._staff(number, found)
        self.at += longest

    def _walk(self, parent: ET.Element, ratio: Fraction) -> Iterator[tuple[ET.Element, Fraction]]:
        for element in parent:
            name = element.tag.removeprefix(NS)
            if name == "tuplet":
                shorter = Fraction(int(element.attrib["numbase"]), int(element.attrib["num"]))
                yield from self._walk(element, ratio * shorter)
            elif name == "beam":
                assert len([one for one in element.iter() if one.get("dur")]) > 1
                yield from self._walk(element, ratio)
            elif name == "mRest":
                yield element, self.meter
            elif name == "mSpace" or element.get("grace"):
                if element.get("grace"):
                    self.grace.append(element)
                yield element, Fraction(0)
            elif name in ("note", "chord", "rest", "space"):
                dots = int(element.get("dots", "0"))
                yield element, LENGTHS[element.attrib["dur"]] * (2 - Fraction(1, 2**dots)) * ratio

    def _staff(self, number: int, found: list[tuple[Fraction, Fraction, ET.Element]]) -> None:
        """The heads of one staff in one bar. A sign holds for all heads of its line that begin
        with it or after it, one beside another sign for its own head only."""
        signs: dict[Line, set[int]] = {}
        places = groupby(sorted(found, key=lambda one: one[0]), key=lambda one: one[0])
        for place, group in places:
            together = list(group)
            printed: defaultdict[Line, set[int]] = defaultdict(set)
            for note in (n for _, _, element in together for n in element.iter(NS + "note")):
                if "accid" in note.attrib:
                    printed[_line(note)].add(SIGNS[note.attrib["accid"]])
            signs |= printed
            for _, length, element in together:
                if element.tag in (NS + "rest", NS + "mRest"):
                    self.rests.append((number, self.at + place, length))
                for note in element.iter(NS + "note"):
                    alter = self._alter(note, signs)
                    if not element.get("grace"):
                        name, octave = _line(note)
                        pitch = 12 * (int(octave) + 1) + SEMITONES[name] + alter
                        held = Held(number, self.at + place, length, pitch)
                        self.heads[note.attrib[ID]] = Head(held, alter)

    def _alter(self, note: ET.Element, signs: dict[Line, set[int]]) -> int:
        """How a player reads the head, which has to be what the text tells besides."""
        if "accid" in note.attrib:
            return SIGNS[note.attrib["accid"]]
        before = [one for one, other in self.ties if other == note.attrib[ID]]
        if before:
            alter = self.heads[before[0]].alter
        else:
            held = signs.get(_line(note), {self._of_key(note.attrib["pname"])})
            assert len(held) == 1, f"{note.attrib} may be read as any of {held}"
            alter = min(held)
        assert SIGNS[note.attrib["accid.ges"]] == alter, f"{note.attrib} is read as {alter}"
        return alter

    def _of_key(self, name: str) -> int:
        signs = SHARPS[: self.key] if self.key > 0 else SHARPS[::-1][: -self.key]
        return (1 if self.key > 0 else -1) if name in signs else 0


def joined(heads: dict[str, Held], ties: dict[str, str]) -> list[Held]:
    """Heads by their ids, with those that ties lead to added to those they come from."""
    led_to = set(ties.values())
    found = []
    for id_, head in heads.items():
        if id_ not in led_to:
            whole = head
            while id_ in ties:
                id_ = ties[id_]
                assert heads[id_].onset == whole.onset + whole.length
                assert heads[id_].pitch == whole.pitch
                whole = whole._replace(length=whole.length + heads[id_].length)
            found.append(whole)
    return sorted(found)


def written(score: Score, start: Fraction, end: Fraction) -> list[Held]:
    """The heads of a Score itself from the bar of `start` up to `end`, grace notes left out."""
    return sorted(_heads(score, start, end).values())


def held(score: Score, start: Fraction, end: Fraction) -> list[Held]:
    """The same with what ties lead to put to what they come from."""
    heads = _heads(score, start, end)
    led_to: dict[tuple[int, Fraction, int], list[str]] = defaultdict(list)
    for id_, head in heads.items():
        if score.notes[int(id_)].tie in ("continue", "stop"):
            led_to[head.staff, head.onset, head.pitch].append(id_)
    ties: dict[str, str] = {}
    for id_, head in heads.items():
        later = led_to.get((head.staff, head.onset + head.length, head.pitch))
        if later and score.notes[int(id_)].tie in ("start", "continue"):
            ties[id_] = later.pop(0)
    return joined(heads, ties)


def _heads(score: Score, start: Fraction, end: Fraction) -> dict[str, Held]:
    first = score.bar_at(start).start
    return {
        str(place): Held(note.staff, note.onset, note.length, written_pitch(note))
        for place, note in enumerate(score.notes)
        if first <= note.onset < end and not note.grace
    }


def written_pitch(note: Note) -> int:
    return 12 * (note.octave + 1) + SEMITONES[note.step.lower()] + note.alter
