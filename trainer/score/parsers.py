"""The parsers, one a format: bytes to music21's streams. The one import of music21.

Each gives the tune that was asked for, and how many the file holds.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple, cast
from xml.etree import ElementTree
from xml.sax.saxutils import unescape

from trainer.errors import TrainerError
from trainer.score import files
from trainer.score.cite import counted
from trainer.score.endings import Passes, endings, without_endings
from trainer.score.limits import most_measures
from trainer.score.reading_process import Request

Say = Callable[[str], None]


class Parsed(NamedTuple):
    """The tune that was asked for, and how many the file holds; the passes of the bars that are
    endings, by their index, where the file tells them better than music21 does."""

    tune: Any
    tunes: int
    endings: Mapping[int, Passes] | None = None
    title: str = ""  # as it stands on the page


_MOST_IN_METER = 256
"""The largest number in a time signature; a metre costs music21 the square of its beats."""
_LONGEST_METER = 100
"""Characters of a time signature."""


def load(size: int) -> None:
    """Load music21 for a file of so many bytes, and bound what it may make of it.

    From here on a metre without measure raises TrainerError, and so does a note or rest that
    would be cut into more measures than the file has reason for.
    """
    _bounds().measures = most_measures(size)


@dataclass
class _Bounds:
    measures: int = 0  # that may still be made


@cache
def _bounds() -> _Bounds:
    """Put the bounds into music21, once."""
    from music21 import meter, stream

    bounds = _Bounds()
    signature, measure = cast(Any, meter.TimeSignature), cast(Any, stream.Measure)
    read_meter, make_measure = signature.load, measure.__init__

    def bounded_meter(self: Any, value: str, *more: Any, **named: Any) -> None:
        numbers = [int(number) for number in re.findall(r"\d+", value[:_LONGEST_METER])]
        if len(value) > _LONGEST_METER or max(numbers, default=0) > _MOST_IN_METER:
            raise TrainerError(
                f"The file has a metre, or a bar without one, of {value[:20]}, which no music "
                "has; correct the file."
            )
        read_meter(self, value, *more, **named)

    def bounded_measure(self: Any, *more: Any, **named: Any) -> None:
        bounds.measures -= 1
        if bounds.measures < 0:
            raise TrainerError(
                "The file has notes or rests that would fill thousands of bars; correct their "
                "lengths."
            )
        make_measure(self, *more, **named)

    signature.load, measure.__init__ = bounded_meter, bounded_measure
    return bounds


def _music_xml(data: bytes, request: Request, say: Say) -> Parsed:
    root = _partwise(ElementTree.fromstring(data))
    notes = list(root.iter("note"))
    _refuse_many(len(notes), request, say)
    for note in notes:  # music21 passes over <cue/>, but knows the size of a note
        kind = note.find("type")
        if kind is not None and note.find("cue") is not None:
            kind.set("size", "cue")
    _prepare(root)
    from music21.musicxml.xmlToM21 import MusicXMLImporter

    importer = cast(Any, MusicXMLImporter)()
    passes = endings(root)
    importer.xmlRootToScore(root, importer.stream)
    return _chosen([importer.stream], request)._replace(endings=passes, title=_credit(root))


def _credit(root: ElementTree.Element) -> str:
    """The words on the first page that the file calls the title."""
    for credit in root.findall("credit"):
        if (credit.findtext("credit-type") or "").strip().lower() == "title":
            return " ".join((words.text or "").strip() for words in credit.findall("credit-words"))
    return ""


_UPRIGHT = {"vertical-turn": "turn", "inverted-vertical-turn": "inverted-turn"}


def _prepare(root: ElementTree.Element) -> None:
    """Say in music21's words what it would understand otherwise: a grace note has a stroke only
    where the file says so (MusicXML 4.0, "grace"); an arpeggio that is drawn through several
    chords is one of each; a turn that stands upright is a turn."""
    for grace in root.iter("grace"):
        grace.attrib.setdefault("slash", "no")
    for arpeggio in root.iter("arpeggiate"):
        arpeggio.attrib.pop("number", None)
    for ornaments in root.iter("ornaments"):
        for one in ornaments:
            one.tag = _UPRIGHT.get(one.tag, one.tag)


def _partwise(root: ElementTree.Element) -> ElementTree.Element:
    """A score whose measures stand inside its parts, as music21 wants it."""
    if root.tag != "score-timewise":
        return root
    parts: dict[str, ElementTree.Element] = {}
    for measure in root.findall("measure"):
        for part in measure.findall("part"):
            name = part.get("id", "")
            whole = parts.setdefault(name, ElementTree.Element("part", id=name))
            ElementTree.SubElement(whole, "measure", measure.attrib).extend(part)
        root.remove(measure)
    root.extend(parts.values())
    root.tag = "score-partwise"
    return root


def _mei(data: bytes, request: Request, say: Say) -> Parsed:
    text = files.decoded(data)
    _refuse_many(text.count("<note"), request, say)
    from music21.mei import MeiToM21Converter, base

    cast(Any, base)._transpositionFromAttrs = _semitones
    text, passes = without_endings(text)
    tunes = _tunes(cast(Any, MeiToM21Converter)(_DEFINITION.sub(_told, text)).run())
    title = re.search(r"<title\b[^>]*>([^<]+)", text)
    for tune in tunes:  # music21 10 does not take the title over
        if title is not None and tune.metadata is not None and not tune.metadata.title:
            tune.metadata.title = unescape(title[1])
    parsed = _chosen(tunes, request)
    return parsed if len(tunes) > 1 else parsed._replace(endings=passes)


_DEFINITION = re.compile(r"""<((?:[\w.-]+:)?(?:staff|score)Def)\b((?:[^<>"']|"[^"]*"|'[^']*')*)""")


def _told(definition: re.Match[str]) -> str:
    """The definition of a staff with its transposition told in any case: music21 10 takes that
    of the instrument's name where there is none. The key is told as before MEI 5."""
    name, rest = definition.groups()
    rest = re.sub(r"(\s)keysig(\s*=)", r"\1key.sig\2", rest)
    told = "staff" not in name or re.search(r"\strans\.semi\s*=", rest)
    zero = "" if told else ' trans.semi="0"'
    return f"<{name}{zero}{rest}"


def _semitones(definition: ElementTree.Element) -> Any:
    """From written to sounding. music21 10 fails where no steps of the scale are told."""
    from music21.interval import Interval

    return cast(Any, Interval)(int(definition.get("trans.semi", "0")))


def _midi(data: bytes, request: Request, say: Say) -> Parsed:
    _refuse_many(sum(data.count(0x90 + channel) for channel in range(16)), request, say)
    from music21.midi.translate import midiStringToStream

    return _chosen(_tunes(cast(Any, midiStringToStream)(data)), request)


def _abc(data: bytes, request: Request, say: Say) -> Parsed:
    head, *tunes = re.split(r"(?m)^(?=X:)", files.decoded(data))
    chosen = _chosen([head + tune for tune in tunes] or [head], request)
    text = chosen.tune
    _refuse_many(len(re.findall("[A-Ga-g]", text)), request, say)
    from music21 import converter

    return Parsed(_tunes(converter.parseData(text, format="abc"))[0], chosen.tunes)


def _kern(data: bytes, request: Request, say: Say) -> Parsed:
    text = files.decoded(data)
    _refuse_many(len(re.findall(r"\d[.]*[A-Ga-g]", text)), request, say)
    from music21 import converter

    return _chosen(_tunes(converter.parseData(text, format="humdrum")), request)


def _tunes(stream: Any) -> list[Any]:
    """The scores of an opus, or the one score."""
    return list(stream.scores) if "Opus" in stream.classSet else [stream]


def _chosen(tunes: list[Any], request: Request) -> Parsed:
    """The tune asked for, and how many there are. Raises TrainerError where it is not one."""
    if not 1 <= request.movement <= len(tunes):
        raise TrainerError(
            f"{request.name} has {counted(len(tunes), 'tune')}, so there is no number"
            f" {request.movement}."
        )
    return Parsed(tunes[request.movement - 1], len(tunes))


def _refuse_many(notes: int, request: Request, say: Say) -> None:
    """Say how many notes there are, or refuse them before any time is spent."""
    if notes > request.limits.notes:
        raise TrainerError(
            f"{request.name} has about {notes:,} notes, more than the "
            f"{request.limits.notes:,} allowed; split it into movements."
        )
    say(f"reading {counted(notes, 'note')}" if request.kind == "MusicXML" else "reading")


PARSERS: dict[str, Callable[[bytes, Request, Say], Parsed]] = {
    "MusicXML": _music_xml,
    "MEI": _mei,
    "MIDI": _midi,
    "ABC": _abc,
    "kern": _kern,
}
