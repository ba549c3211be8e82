"""Bars of a score as MEI, the open standard of the Music Encoding Initiative, version 5
(https://music-encoding.org/guidelines/v5/content/). Nothing is engraved here: values in, text out.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections import defaultdict
from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from trainer.draw.words import NO_NOTES
from trainer.errors import TrainerError
from trainer.picture.layers import Layer, Named, Sound, crowded, layers
from trainer.picture.rhythm import PLAIN, Ratio, runs, values
from trainer.picture.signs import (
    GESTURAL,
    Marks,
    accidentals,
    articulations,
    clefs,
    key,
    meter,
    octaves,
    ornaments,
    staff_name,
    stamp,
    tremolo,
)
from trainer.score.model import Bar, Note, Score
from trainer.score.text import clean

GREY = "#8c8c8c"  # of what stands before the entry
MOST_BARS, MOST_NOTES = 400, 20_000  # of a picture
_NO_SIGN = "These bars hold a note that no sign can write; `trainer page` shows them."
_BESIDE = "1.5vu"  # three quarters of a staff's space
_ID = "{http://www.w3.org/XML/1998/namespace}id"
Attributes = dict[str, str]


def mei(score: Score, begin: Fraction, end: Fraction) -> str:
    """The bars that the music from `begin` up to `end` (ql; see deck.page.page_span) stands in.

    Nothing from `end` on is in them. What comes before `begin` in its bar is grey, and ▼ marks
    the entry. A head that a tie carries into the first bar stands in parentheses. Of several grace
    notes whose order a Score of an earlier version does not tell, ~ says where they are. Raises
    TrainerError where the span is empty or outside the score, where the notes are not there, or
    where they cannot be written.
    """
    if not score.notes:
        raise TrainerError(NO_NOTES)
    if not 0 <= begin < end <= score.end:
        raise TrainerError(
            f"Nothing to engrave from {begin} to {end}: the score goes from 0 to {score.end}."
        )
    root = ET.Element("mei", {"xmlns": "http://www.music-encoding.org/ns/mei", "meiversion": "5.0"})
    file = _sub(_sub(root, "meiHead"), "fileDesc")
    _sub(_sub(file, "titleStmt"), "title")
    _sub(file, "pubStmt")
    music = _sub(_sub(_sub(root, "music"), "body"), "mdiv")
    _Page(score, begin, end).write(_sub(music, "score"))
    return ET.tostring(root, encoding="unicode")


def _sub(into: ET.Element, name: str, said: Attributes | None = None, text: str = "") -> ET.Element:
    element = ET.SubElement(into, name, said or {})
    element.text = text or None
    return element


class _Page:
    """The bars asked for, and what stands in them."""

    def __init__(self, score: Score, begin: Fraction, end: Fraction) -> None:
        self.score, self.begin = score, begin
        first = score.bar_at(begin)
        self.start = first.start
        self.bars = [bar for bar in score.bars[first.index :] if bar.start < end]
        self.notes = [
            Named(f"n{at}", note) for at, note in enumerate(score.notes_between(self.start, end))
        ]
        for _, note in self.notes:
            if note.alter not in GESTURAL or not 0 <= note.octave <= 9:
                raise TrainerError(_NO_SIGN)
        if len(self.bars) > MOST_BARS or len(self.notes) > MOST_NOTES:
            raise TrainerError(
                f"A picture holds at most {MOST_BARS} bars and {MOST_NOTES} notes: divide the "
                "phrase with `trainer start add`."
            )
        self.rests = [rest for rest in score.rests if self.start <= rest.onset < end]
        self.clefs = {
            staff.number: clefs(score, staff.number, self.start, end) for staff in score.staves
        }
        self.marks = Marks(score, self.bars, self.notes, self.start, end)
        self.last_values: dict[str, str] = {}  # a note's id to the id of its last written value
        self.tied = self._tied()
        self.led_to = set(self.tied.values())
        self.layer_of: dict[str, int] = {}  # by a note's id, where its staff has several: 1, 2 ...

    def write(self, top: ET.Element) -> None:
        self._heading(top)
        section = holder = _sub(top, "section")
        before: Bar | None = None
        for bar in self.bars:
            if before is not None:
                new = key(bar) if key(bar) != key(before) else {}
                new |= meter(bar) if bar.meter != before.meter else {}
                if new:
                    holder = section
                    _sub(section, "scoreDef", new)
            if before is None or bar.endings != before.endings:
                holder = section
                if bar.endings:
                    passes = ", ".join(f"{number}." for number in bar.endings)
                    holder = _sub(section, "ending", {"n": passes})
            self._measure(holder, bar)
            before = bar

    def _heading(self, top: ET.Element) -> None:
        bar = self.bars[0]
        system = _sub(_sub(top, "scoreDef", key(bar) | meter(bar)), "staffGrp")
        hands = system
        for staff in self.score.staves:
            if staff.role == "right hand":
                hands = _sub(system, "staffGrp", {"symbol": "brace", "bar.thru": "true"})
            holder = system if staff.role == "single" else hands
            clef = self.clefs[staff.number][0][1]
            number = {"n": staff_name(staff.number), "lines": "5"}
            _sub(holder, "staffDef", number | clef.attributes("clef."))

    def _measure(self, holder: ET.Element, bar: Bar) -> None:
        measure = _sub(holder, "measure", _bar_lines(bar))
        here = [one for one in self.notes if bar.start <= one.note.onset < bar.end]
        undrawn = crowded(here)
        drawn = [one for one in here if one not in undrawn]
        signs = accidentals(bar, drawn, self.led_to)
        for staff in self.score.staves:
            mine = [one for one in drawn if one.note.staff == staff.number]
            self._staff(measure, bar, staff.number, mine, signs)
        for at, number in sorted({(one.note.onset, one.note.staff) for one in undrawn}):
            _sub(measure, "dir", self._above(bar, at, number), "~")
        if bar is self.bars[0] and self.begin > self.start:
            above = self._above(bar, self.begin, self.score.staves[0].number)
            _sub(measure, "dir", above, "▼")
        self._beside(measure, bar, drawn)
        for sign in self.marks.of(bar):
            _sub(measure, sign.name, sign.attributes, sign.text)

    def _above(self, bar: Bar, at: Fraction, staff: int) -> Attributes:
        return {"staff": staff_name(staff), "tstamp": stamp(bar, at), "place": "above"}

    def _staff(
        self, measure: ET.Element, bar: Bar, number: int, notes: list[Named], signs: dict[str, str]
    ) -> None:
        element = _sub(measure, "staff", {"n": staff_name(number)})
        rests = [r for r in self.rests if r.staff == number and bar.start <= r.onset < bar.end]
        found = layers(bar, notes, rests)
        if len(found) > 1:
            self.layer_of |= {
                one.id: layer.number for layer in found for s in layer.sounds for one in s.notes
            }
        for layer in found:
            changes = self._clef_changes(bar, number, found, layer)
            into = _sub(element, "layer", {"n": str(layer.number)})
            _Line(self, measure, bar, layer, signs).write(into, changes)

    def _clef_changes(
        self, bar: Bar, staff: int, found: list[Layer], layer: Layer
    ) -> list[tuple[Fraction, ET.Element]]:
        """The clefs that change in this bar, or at its end: those stand before its bar line.
        One layer has the clef itself, if possible one where a sound begins; the others refer."""
        changes: list[tuple[Fraction, ET.Element]] = []
        for place, (at, clef) in enumerate(self.clefs[staff]):
            if place and bar.start < at <= bar.end:
                id_ = f"clef{staff}.{place}"
                owner = next((one for one in found if one.strikes(at)), found[0])
                said = clef.attributes() | {_ID: id_}
                changes.append(
                    (at, ET.Element("clef", said if owner is layer else {"sameas": f"#{id_}"}))
                )
        return changes

    def _beside(self, measure: ET.Element, bar: Bar, here: list[Named]) -> None:
        """Fingers, ornaments, and ties to the notes after."""
        roles = {staff.number: staff.role for staff in self.score.staves}
        for id_, note in here:
            layer = self.layer_of.get(id_, 0)
            below = layer > 1 or roles[note.staff] == "left hand"
            said = {"startid": f"#{id_}", "place": "below" if below else "above"}
            if layer:  # beside the stems, which then all go outwards
                said["ho"] = _BESIDE if below else f"-{_BESIDE}"
            for finger in note.fingers:
                _sub(measure, "fing", said, clean(finger, 10))
            chord = [other for other in here if _together(other.note, note)] if note.signs else []
            for sign in ornaments(Named(id_, note), chord):
                line = self.marks.trill_line(bar, note.staff, note.onset)
                more = line if sign.name == "trill" else {}
                _sub(measure, sign.name, sign.attributes | more, sign.text)
            if id_ in self.tied:
                tie(measure, self.last_values[id_], self.tied[id_])

    def _tied(self) -> dict[str, str]:
        """For each note that is tied to a later one of the page, by their ids, that one: on the
        same line of the same staff, and in the same voice if there is one."""
        led_to: defaultdict[tuple[object, ...], dict[str, str]] = defaultdict(dict)
        for id_, note in self.notes:
            if note.tie in ("continue", "stop") and note.length:
                place = (note.onset, note.staff, note.step, note.alter, note.octave)
                led_to[place][note.voice] = id_
        found: dict[str, str] = {}
        for id_, note in self.notes:
            later = led_to.get((note.end, note.staff, note.step, note.alter, note.octave))
            if later and note.tie in ("start", "continue"):
                found[id_] = later.pop(note.voice if note.voice in later else next(iter(later)))
        return found


def _together(one: Note, other: Note) -> bool:
    """Whether two notes are of one chord."""
    places = ((note.onset, note.staff, note.voice, note.grace) for note in (one, other))
    return next(places) == next(places)


def tie(measure: ET.Element, one: str, other: str) -> None:
    _sub(measure, "tie", {"startid": f"#{one}", "endid": f"#{other}"})


def _bar_lines(bar: Bar) -> Attributes:
    said = {"n": clean(bar.label, 20)}
    if bar.length != bar.meter.length:
        said["metcon"] = "false"
    if bar.repeat_start:
        said["left"] = "rptstart"
    if bar.repeat_times:
        said["right"] = "rptend"
    elif bar.final or bar.double:
        said["right"] = "end" if bar.final else "dbl"
    return said


class _Token(NamedTuple):
    """One written value in a layer. `beam` is the group of beams it may belong to, None where it
    has no flag; `before` stands before it: grace notes, a clef."""

    element: ET.Element
    beam: int | None
    before: list[ET.Element]


class _Line:
    """One layer of one bar, from left to right."""

    def __init__(
        self, page: _Page, measure: ET.Element, bar: Bar, layer: Layer, signs: dict[str, str]
    ) -> None:
        self.page, self.measure, self.bar, self.layer = page, measure, bar, layer
        self.signs = signs
        self.waiting: list[tuple[Fraction, ET.Element]] = []
        staff = min((s.notes[0].note.staff for s in layer.sounds if s.notes), default=None)
        first = layer.number == 1 and staff is not None
        self.syllables = page.marks.syllables(bar, staff or 0) if first else {}

    def write(self, into: ET.Element, changes: list[tuple[Fraction, ET.Element]]) -> None:
        """`changes` are the clefs that change on the way."""
        for one in sorted(self.layer.graces, key=lambda one: (one.note.onset, one.note.order)):
            kind = "unacc" if one.note.has("slashed") else "acc"
            alone = sum(other.note.onset == one.note.onset for other in self.layer.graces) == 1
            grace = {"dur": "8" if alone else "16", "grace": kind} | self._grey(one.note.onset)
            self.waiting.append((one.note.onset, self._note(one, grace, 0)))
            self.page.last_values[one.id] = one.id
        self.waiting = sorted(self.waiting + changes, key=lambda pair: pair[0])
        sounds = self.layer.sounds
        if not sounds:
            _sub(into, "mSpace")
        elif len(sounds) == 1 and sounds[0].rest and sounds[0].length == self.bar.meter.length:
            _sub(into, "mRest", self._grey(self.bar.start))
        else:
            _fill(
                into,
                [
                    (ratio, [token for sound in together for token in self._tokens(ratio, sound)])
                    for ratio, together in runs(sounds, self.bar.start)
                ],
            )
        into.extend(element for _, element in self.waiting)

    def _tokens(self, ratio: Ratio, sound: Sound) -> Iterator[_Token]:
        """The written values of one sound; more than one are tied."""
        at = sound.onset
        pieces = values(ratio.written(sound.length))
        for place, value in enumerate(pieces):
            said = {"dur": value.name} | ({"dots": str(value.dots)} if value.dots else {})
            before = [element for onset, element in self.waiting if onset <= at]
            self.waiting = [pair for pair in self.waiting if pair[0] > at]
            element = self._sound(sound, said | self._grey(sound.onset), place)
            beam = self._beam(at) if sound.notes and value.flagged else None
            yield _Token(element, beam, before)
            at += value.length * ratio.time / ratio.notes
        for id_, _ in sound.notes:
            self.page.last_values[id_] = _piece(id_, len(pieces) - 1)

    def _beam(self, at: Fraction) -> int:
        """Which group of beams a position belongs to: that of its felt beat; of its quarter where
        the beat is shorter; a bar of up to three eighths is one group."""
        meter = self.bar.meter
        least = meter.length if meter.length <= Fraction(3, 2) else Fraction(1)
        return int((self.bar.lead + at - self.bar.start) // max(meter.beat, least))

    def _sound(self, sound: Sound, said: Attributes, place: int) -> ET.Element:
        if not sound.notes:
            return ET.Element("rest" if sound.rest else "space", said)
        if len(sound.notes) == 1:
            element = self._note(sound.notes[0], said, place)
        else:
            element = ET.Element("chord", said)
            element.extend(self._note(one, {}, place) for one in sound.notes)
        heads = [one.note for one in sound.notes]
        for said in articulations(heads) if not place else ():
            _sub(element, "artic", said)
        if sound.onset in self.syllables and not place:
            text = self.syllables[sound.onset]
            more = {"con": "d", "wordpos": "i"} if text.endswith("-") else {}
            _sub(_sub(element, "verse", {"n": "1"}), "syl", more, clean(text.removesuffix("-")))
        if strokes := tremolo(heads):
            element.set("stem.mod", f"{min(strokes, 6)}slash")
            whole = ET.Element("bTrem")
            whole.append(element)
            return whole
        return element

    def _note(self, one: Named, said: Attributes, place: int) -> ET.Element:
        """A head; `place` is its index among the tied heads that make one long note."""
        id_, note = one
        shift = octaves(self.page.score, note)
        said = {
            _ID: _piece(id_, place),
            "pname": note.step.lower(),
            "oct": str(max(0, min(note.octave - shift, 9))),
            **said,
        }
        if shift:
            said["oct.ges"] = str(note.octave)
        if id_ in self.signs and not place:
            said["accid"] = self.signs[id_]
        else:
            said["accid.ges"] = GESTURAL[note.alter]
        if note.cue:
            said["cue"] = "true"
        if not place and note.onset == self.page.start and note.tie in ("continue", "stop"):
            said["head.mod"] = "paren"
        if place:
            tie(self.measure, _piece(id_, place - 1), _piece(id_, place))
        return ET.Element("note", said)

    def _grey(self, onset: Fraction) -> Attributes:
        return {"color": GREY} if onset < self.page.begin else {}


def _piece(id_: str, place: int) -> str:
    return f"{id_}.{place}" if place else id_


# Beams and tuplets

_Group = tuple[Ratio, list[_Token]]


def _fill(into: ET.Element, groups: Iterable[_Group]) -> None:
    """Put the tokens into their layer, under beams and in tuplets."""
    for beam, together in groupby(groups, key=_beam_of_all):
        group = list(together)
        holder = into
        if beam is not None and sum(len(tokens) for _, tokens in group) > 1:
            holder = _opened(into, "beam", {}, group[0][1][0])
        for ratio, tokens in group:
            inner = holder
            if ratio != PLAIN:
                said = {"num": str(ratio.notes), "numbase": str(ratio.time)}
                if not any(token.element.tag in ("note", "chord", "bTrem") for token in tokens):
                    said |= {"num.visible": "false", "bracket.visible": "false"}
                inner = _opened(holder, "tuplet", said, tokens[0])
            _put(inner, tokens, beams=holder is into)


def _beam_of_all(group: _Group) -> int | None:
    """The beam that all tokens of a group can stand under, by where the group begins."""
    tokens = group[1]
    return None if any(token.beam is None for token in tokens) else tokens[0].beam


def _opened(into: ET.Element, name: str, said: Attributes, first: _Token) -> ET.Element:
    """A new element inside; what stands before its first token stands before it."""
    into.extend(first.before)
    first.before.clear()
    return _sub(into, name, said)


def _put(into: ET.Element, tokens: list[_Token], *, beams: bool) -> None:
    """`beams` says whether neighbours with flags are still to be joined."""
    for beam, together in groupby(tokens, key=lambda token: token.beam):
        group = list(together)
        holder = into
        if beams and beam is not None and len(group) > 1:
            holder = _opened(into, "beam", {}, group[0])
        for token in group:
            holder.extend(token.before)
            holder.append(token.element)
