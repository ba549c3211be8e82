"""XML that is told in words which music21 10 takes for what they mean.

What it would refuse or take otherwise is written as it expects it, before it reads: timewise
MusicXML, the stroke of a grace note, an arpeggio through several chords, a turn that stands
upright; in MEI 5 the endings, a clef that repeats another, a measure numbered "X1", a syllable that
stands alone, the name of the key's attribute, and the notes inside a tremolo.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

from trainer.score.endings import Passes, without_endings
from trainer.score.files import decoded

Element = ElementTree.Element

_UPRIGHT = {"vertical-turn": "turn", "inverted-vertical-turn": "inverted-turn"}
MEI = "{http://www.music-encoding.org/ns/mei}"
_ID = "{http://www.w3.org/XML/1998/namespace}id"


def tree(data: bytes) -> Element:
    """The root of an XML file, whatever encoding it calls its own. Raises ParseError."""
    try:
        return ElementTree.fromstring(data)
    except (ElementTree.ParseError, LookupError):
        return ElementTree.fromstring(decoded(data))


def music_xml(root: Element) -> Element:
    """The root of MusicXML: a grace note has a stroke only where the file says so (MusicXML 4.0,
    "grace"); an arpeggio that is drawn through several chords is one of each."""
    root = _partwise(root)
    for note in root.iter("note"):  # music21 passes over <cue/>, but knows the size of a note
        kind = note.find("type")
        if kind is not None and note.find("cue") is not None:
            kind.set("size", "cue")
    for grace in root.iter("grace"):
        grace.attrib.setdefault("slash", "no")
    for arpeggio in root.iter("arpeggiate"):
        arpeggio.attrib.pop("number", None)
    for ornaments in root.iter("ornaments"):
        for one in ornaments:
            one.tag = _UPRIGHT.get(one.tag, one.tag)
    return root


def _partwise(root: Element) -> Element:
    """A score whose measures stand inside its parts, as music21 wants it."""
    if root.tag != "score-timewise":
        return root
    parts: dict[str, Element] = {}
    for measure in root.findall("measure"):
        for part in measure.findall("part"):
            name = part.get("id", "")
            whole = parts.setdefault(name, Element("part", id=name))
            ElementTree.SubElement(whole, "measure", measure.attrib).extend(part)
        root.remove(measure)
    root.extend(parts.values())
    root.tag = "score-partwise"
    return root


def mei(root: Element) -> dict[int, Passes]:
    """Mend MEI, and tell the passes of the measures that stood in endings."""
    by_id = {element.get(_ID): element for element in root.iter()}
    for element in root.iter():
        name = element.tag.removeprefix(MEI) if isinstance(element.tag, str) else ""
        if name in ("staffDef", "scoreDef"):  # named so before MEI 5
            if "keysig" in element.attrib:
                element.set("key.sig", element.attrib.pop("keysig"))
            if name == "staffDef":  # else it is taken from the instrument's name
                element.attrib.setdefault("trans.semi", "0")
        elif name == "measure":
            number = re.search(r"\d+", element.attrib.pop("n", ""))
            if number is not None:
                element.set("n", number[0])
        elif name == "syl" and element.get("wordpos") not in ("i", "m", "t"):
            element.attrib.pop("wordpos", None)
        elif name == "clef" and "shape" not in element.attrib:
            same = by_id.get(element.get("sameas", "").removeprefix("#"))
            for attribute, value in same.attrib.items() if same is not None else ():
                element.attrib.setdefault(attribute, value)
    for parent in root.iter():
        for clef in parent.findall(f"{MEI}clef"):
            if not {"shape", "line"} <= clef.attrib.keys() and clef.get("shape") != "perc":
                parent.remove(clef)
    for layer in root.iter(f"{MEI}layer"):
        layer[:] = _unwrapped(layer)
    return without_endings(root)


_KNOWN = {f"{MEI}{name}" for name in ("note", "chord", "rest", "space", "beam", "tuplet")}
_FIRST = {f"{MEI}{name}" for name in ("app", "choice", "subst")}  # of several readings


def _unwrapped(parent: Element) -> Iterator[Element]:
    """What a layer, beam or tuplet holds, with what music21 10 would pass over taken out of its
    wrapping: tremolos, groups of grace notes, what an editor marked. Of two notes that alternate
    each has half the time (MEI 5, "fTrem")."""
    for child in parent:
        if child.tag in _KNOWN or not any(one.tag in _KNOWN for one in child.iter()):
            if child.tag in (f"{MEI}beam", f"{MEI}tuplet"):
                child[:] = _unwrapped(child)
            yield child
            continue
        for one in child:
            if child.tag == f"{MEI}fTrem" and one.get("dur", "").isdigit():
                one.set("dur", str(2 * int(one.get("dur", ""))))
            if child.tag == f"{MEI}graceGrp":
                one.attrib.setdefault("grace", child.get("grace", "unacc"))
        if child.tag in _FIRST:
            del child[1:]
        yield from _unwrapped(child)
