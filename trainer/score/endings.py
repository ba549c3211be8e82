"""The endings of a score in MusicXML or MEI: which passes each bar is played on.

music21 10 knows the first and the last bar of a MusicXML ending only, and passes over those of MEI
with all that is in them. So they are read from the elements: in MusicXML 4.0 an "ending" starts at
a left bar line and stops or is discontinued at a right one, in MEI 5 it holds its measures.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

Passes = tuple[int, ...]


def endings(root: ElementTree.Element) -> dict[int, Passes]:
    """The passes of each bar that stands under an ending's bracket, by its place in its part. A
    bracket in one part is for all; where two differ, the upper part's holds."""
    found: dict[int, Passes] = {}
    for part in root.findall("part"):
        for first, last, passes in _brackets(part.findall("measure")):
            for index in range(first, last + 1):
                found.setdefault(index, passes)
    return found


def _brackets(measures: list[ElementTree.Element]) -> Iterator[tuple[int, int, Passes]]:
    """First bar, last bar and passes of each bracket. One that is never closed goes up to a
    repeat sign; where the next one begins first, or none comes, it is of one bar."""
    first, passes = -1, Passes()
    for index, measure in enumerate(measures):
        signs = [sign for line in measure.findall("barline") for sign in line]
        for sign in signs:
            if sign.tag == "ending" and sign.get("type") == "start":
                if passes:
                    yield first, first, passes
                first, passes = index, _passes(sign)
        if passes and any(_closes(sign) for sign in signs):
            yield first, index, passes
            passes = Passes()
    if passes:
        yield first, first, passes


def _closes(sign: ElementTree.Element) -> bool:
    if sign.tag == "repeat":
        return sign.get("direction") == "backward"
    return sign.tag == "ending" and sign.get("type") in ("stop", "discontinue")


def _passes(ending: ElementTree.Element) -> Passes:
    """The numbers of an ending: as its text prints them, else as it says, else the first."""
    text, number = (ending.text or "").strip(), ending.get("number", "")
    return _numbers(text if re.fullmatch(r"\d[\d\s.,]*", text) else number)


def _numbers(told: str) -> Passes:
    found = {int(digits) for digits in re.findall(r"\d{1,2}", told)}
    span = re.fullmatch(r"\s*(\d{1,2})\s*-\s*(\d{1,2})\s*", told)
    if span:
        found.update(range(int(span[1]), int(span[2]) + 1))
    return tuple(sorted(found - {0})) or (1,)


def without_endings(root: ElementTree.Element) -> dict[int, Passes]:
    """Take the measures of MEI out of their endings; the passes of each measure that was in one,
    by its place in the file."""
    found: dict[int, Passes] = {}
    measures = 0

    def taken_out(element: ElementTree.Element, passes: Passes) -> list[ElementTree.Element]:
        nonlocal measures
        kept: list[ElementTree.Element] = []
        for child in element:
            name = str(child.tag).rpartition("}")[2]
            if name == "ending":
                kept += taken_out(child, _numbers(child.get("n", "")))
                continue
            if name == "measure":
                if passes:
                    found[measures] = passes
                measures += 1
            elif len(child):
                child[:] = taken_out(child, passes)
            kept.append(child)
        return kept

    root[:] = taken_out(root, Passes())
    return found
