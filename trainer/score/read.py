"""Reading a score: the one import of music21, in a process of its own.

`read_score` is for everyone. What stands under "In the child" runs only in the process that it
starts, so that no caller ever loads music21, and a bad file can do no harm.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, cast
from xml.etree import ElementTree
from xml.sax.saxutils import unescape

from msgspec.structs import replace

from trainer.errors import TrainerError
from trainer.score import files
from trainer.score.cite import counted
from trainer.score.files import ScoreFile
from trainer.score.model import Score
from trainer.score.reading_process import Limits, Request, Stop, ask
from trainer.score.text import clean
from trainer.values import decode, encode

__all__ = ["Limits", "Stop", "read_score"]


def read_score(
    path: Path,
    *,
    progress: Callable[[str], None] | None = None,
    limits: Limits | None = None,
    movement: int = 1,
    stop: Stop | None = None,
) -> Score:
    """The score in a file: MusicXML, .mxl, MIDI, ABC, **kern or MEI.

    `movement` counts the tunes of a file that holds several, from 1. `progress` is called with
    a few words at each phase; `stop` ends the reading from another thread. What had to be
    mended is said in the score's `warnings`. Raises TrainerError for every file that does not
    give a score within the limits.
    """
    if progress is not None:
        progress("opening the file")
    file = files.load(path)
    return read_file(file, progress=progress, limits=limits, movement=movement, stop=stop)


def read_file(
    file: ScoreFile,
    *,
    progress: Callable[[str], None] | None = None,
    limits: Limits | None = None,
    movement: int = 1,
    stop: Stop | None = None,
) -> Score:
    """The score in a file that was opened, as `read_score` gives it."""
    limits = limits or Limits()
    stem = clean(Path(file.name).stem)
    request = Request(file.name, file.kind, stem, movement, limits)
    answer = ask(encode(request).encode(), file, limits=limits, progress=progress, stop=stop)
    return decode(answer, Score, f"The reader's answer for {file.name}")


# In the child


def child() -> None:
    """Answer one request on standard input; see `reading_process` for the form."""
    import gc

    gc.disable()  # the process is short, and its memory is limited
    out = os.fdopen(os.dup(1), "w", encoding="utf-8", errors="replace")
    os.dup2(2, 1)  # what a library prints goes nowhere

    def say(word: str, text: str) -> None:
        out.write(f"{word}{text}\n")
        out.flush()

    request = decode(sys.stdin.buffer.readline(), Request, "The reader's request")
    try:
        _limit(request.limits)
        say("S", encode(understand(request, sys.stdin.buffer.read(), lambda text: say("P", text))))
    except TrainerError as error:
        say("E", str(error))
    except MemoryError:
        say("E", f"{request.name} needs too much memory to read; split it into movements.")
    except Exception as error:
        reason = clean(str(error) or type(error).__name__, 120).rstrip(".")
        say("E", f"{request.name} cannot be read as {request.kind} ({reason}); export it again.")
    finally:
        out.flush()
        os._exit(0)  # nothing is left to tidy, and tidying a large score takes its time


def _limit(limits: Limits) -> None:
    """Hold this process to its limits, where the system can."""
    try:
        import resource
    except ImportError:  # Windows has none
        return
    wanted = (
        (resource.RLIMIT_AS, limits.memory * 1_000_000),
        (resource.RLIMIT_CPU, int(limits.seconds) + 1),
        (resource.RLIMIT_CORE, 0),
    )
    for what, amount in wanted:
        try:
            _, hard = resource.getrlimit(what)
            most = amount if hard == resource.RLIM_INFINITY else min(amount, hard)
            resource.setrlimit(what, (most, hard))
        except (ValueError, OSError):
            continue  # a system that refuses one limit may still keep the others


def understand(request: Request, data: bytes, say: Callable[[str], None]) -> Score:
    """The score in a file's bytes, as `read_score` gives it; loads music21 into this process."""
    from trainer.score.assemble import assemble

    say("loading the reader")
    tune, tunes = _PARSERS[request.kind](data, request, say)
    score = assemble(
        tune,
        name=request.name,
        stem=request.stem,
        sounding=request.kind not in ("MusicXML", "MEI"),
        numbered=request.kind not in ("ABC", "MIDI"),
        rigid=request.kind == "MIDI",
        count=_counter(say),
    )
    return replace(score, warnings=(*_cautions(request, tunes), *score.warnings))


def _counter(say: Callable[[str], None]) -> Callable[[int], None]:
    """Says the number of notes each time another thousand is taken over."""
    said = 0

    def count(notes: int) -> None:
        nonlocal said
        if notes >= said + 1000:
            said = notes
            say(counted(notes, "note"))

    return count


def _cautions(request: Request, tunes: int) -> Iterator[str]:
    if tunes > 1:
        yield f"The file holds {tunes} tunes; this is number {request.movement}."
    if request.kind == "MIDI":
        yield "Bars are counted from the MIDI file's metre and may differ from the print."


# The parsers, one a format: each gives the tune asked for, and how many the file holds


def _music_xml(data: bytes, request: Request, say: Callable[[str], None]) -> tuple[Any, int]:
    root = _partwise(ElementTree.fromstring(data))
    notes = list(root.iter("note"))
    _refuse_many(len(notes), request, say)
    if any(re.search(r"\d{4}", beats.text or "") for beats in root.iter("beats")):
        raise TrainerError(f"{request.name} has a metre of thousands of beats; correct the file.")
    for note in notes:  # music21 passes over <cue/>, but knows the size of a note
        kind = note.find("type")
        if kind is not None and note.find("cue") is not None:
            kind.set("size", "cue")
    from music21.musicxml.xmlToM21 import MusicXMLImporter

    importer = cast(Any, MusicXMLImporter)()
    importer.xmlRootToScore(root, importer.stream)
    return _chosen([importer.stream], request)


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


def _mei(data: bytes, request: Request, say: Callable[[str], None]) -> tuple[Any, int]:
    text = files.decoded(data)
    _refuse_many(text.count("<note"), request, say)
    from music21.mei import MeiToM21Converter, base

    cast(Any, base)._transpositionFromAttrs = _semitones
    tunes = _tunes(cast(Any, MeiToM21Converter)(_DEFINITION.sub(_told, text)).run())
    title = re.search(r"<title\b[^>]*>([^<]+)", text)
    for tune in tunes:  # music21 10 does not take the title over
        if title is not None and tune.metadata is not None and not tune.metadata.title:
            tune.metadata.title = unescape(title[1])
    return _chosen(tunes, request)


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


def _midi(data: bytes, request: Request, say: Callable[[str], None]) -> tuple[Any, int]:
    _refuse_many(sum(data.count(0x90 + channel) for channel in range(16)), request, say)
    from music21.midi.translate import midiStringToStream

    return _chosen(_tunes(cast(Any, midiStringToStream)(data)), request)


def _abc(data: bytes, request: Request, say: Callable[[str], None]) -> tuple[Any, int]:
    head, *tunes = re.split(r"(?m)^(?=X:)", files.decoded(data))
    text, count = _chosen([head + tune for tune in tunes] or [head], request)
    _refuse_many(len(re.findall("[A-Ga-g]", text)), request, say)
    from music21 import converter

    return _tunes(converter.parseData(text, format="abc"))[0], count


def _kern(data: bytes, request: Request, say: Callable[[str], None]) -> tuple[Any, int]:
    text = files.decoded(data)
    _refuse_many(len(re.findall(r"\d[.]*[A-Ga-g]", text)), request, say)
    from music21 import converter

    return _chosen(_tunes(converter.parseData(text, format="humdrum")), request)


def _tunes(stream: Any) -> list[Any]:
    """The scores of an opus, or the one score."""
    return list(stream.scores) if "Opus" in stream.classSet else [stream]


def _chosen(tunes: list[Any], request: Request) -> tuple[Any, int]:
    """The tune asked for, and how many there are. Raises TrainerError where it is not one."""
    if not 1 <= request.movement <= len(tunes):
        raise TrainerError(
            f"{request.name} holds {counted(len(tunes), 'tune')}, so there is no number"
            f" {request.movement}."
        )
    return tunes[request.movement - 1], len(tunes)


def _refuse_many(notes: int, request: Request, say: Callable[[str], None]) -> None:
    """Say how many notes there are, or refuse them before any time is spent."""
    if notes > request.limits.notes:
        raise TrainerError(
            f"{request.name} holds about {notes:,} notes, more than the "
            f"{request.limits.notes:,} allowed; split it into movements."
        )
    say(f"reading {counted(notes, 'note')}" if request.kind == "MusicXML" else "reading")


_PARSERS: dict[str, Callable[[bytes, Request, Callable[[str], None]], tuple[Any, int]]] = {
    "MusicXML": _music_xml,
    "MEI": _mei,
    "MIDI": _midi,
    "ABC": _abc,
    "kern": _kern,
}
