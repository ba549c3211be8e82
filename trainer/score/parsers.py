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

from trainer.errors import TrainerError
from trainer.score import abc, files, mend
from trainer.score.cite import counted
from trainer.score.endings import Passes, endings
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
    root = mend.music_xml(mend.tree(data))
    _refuse_many(sum(1 for _ in root.iter("note")), request, say)
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


def _mei(data: bytes, request: Request, say: Say) -> Parsed:
    root = mend.tree(data)
    passes = mend.mei(root)
    _refuse_many(sum(str(one.tag).endswith("}note") for one in root.iter()), request, say)
    from music21.mei import MeiToM21Converter, base

    library = cast(Any, base)
    library._transpositionFromAttrs, library.beamTogether = _semitones, lambda notes: notes
    converter = cast(Any, MeiToM21Converter)()
    converter.documentRoot = root
    tunes = _tunes(converter.run())
    title = next((one.text or "" for one in root.iter(f"{mend.MEI}title")), "")
    for tune in tunes:  # music21 10 does not take the title over
        if title and tune.metadata is not None and not tune.metadata.title:
            tune.metadata.title = title
    parsed = _chosen(tunes, request)
    return parsed if len(tunes) > 1 else parsed._replace(endings=passes)


def _semitones(definition: ElementTree.Element) -> Any:
    """From written to sounding. music21 10 fails where no steps of the scale are told."""
    from music21.interval import Interval

    return cast(Any, Interval)(int(definition.get("trans.semi", "0")))


def _midi(data: bytes, request: Request, say: Say) -> Parsed:
    _refuse_many(sum(data.count(0x90 + channel) for channel in range(16)), request, say)
    from music21.midi import MidiFile
    from music21.midi.translate import midiFileToStream

    midi = cast(Any, MidiFile)()
    midi.readstr(data)
    _refuse_free(midi, request)
    return _chosen(_tunes(cast(Any, midiFileToStream)(midi)), request)


_ONSETS, _ON_THE_BEAT = 32, 0.6
"""How many moments it takes to tell; the share of them on the beat of what is no performance. Of
moments by chance a third are; of 50 files made of scores the least had 0.80."""


def _refuse_free(midi: Any, request: Request) -> None:
    """Refuse what was played without a beat: no bars can be made of it. A moment is on the beat
    if it is within a hundredth part of a quarter of its eighths or twelfths."""
    quarter = midi.ticksPerQuarterNote
    moments = set()
    for track in midi.tracks:
        now = 0
        for event in track.events:
            if event.isDeltaTime():
                now += event.time
            elif event.isNoteOn():
                moments.add(now)
    near = [
        min(abs(p / quarter * n - round(p / quarter * n)) / n for n in (8, 12)) for p in moments
    ]
    share = sum(distance <= 0.01 for distance in near) / max(len(near), 1)
    if len(near) >= _ONSETS and share < _ON_THE_BEAT:
        raise TrainerError(
            f"{request.name} was played freely: only {share:.0%} of its notes stand on a beat, so "
            "no bars can be told; give the written score, as MusicXML if there is one."
        )


def _abc(data: bytes, request: Request, say: Say) -> Parsed:
    head, *tunes = re.split(r"(?m)^(?=X:)", files.decoded(data))
    chosen = _chosen([head + tune for tune in tunes] or [head], request)
    text = chosen.tune
    _refuse_many(len(re.findall("[A-Ga-g]", text)), request, say)
    from music21 import articulations, converter, expressions

    plain, decorated = abc.without_decorations(text)
    tune = _tunes(converter.parseData(plain, format="abc"))[0]
    abc.decorate(tune, decorated, expressions, articulations)
    return Parsed(tune, chosen.tunes)


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
