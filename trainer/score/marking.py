"""Start numbers written into a MusicXML file: boxed rehearsal marks, and nothing else changed.

The bytes of the file are walked with an event parser that tells where in them each note begins.
A cursor runs through each measure as MusicXML 4.0 says ("The MusicXML format: backup, forward,
duration"): a note moves it on by its duration, a note of a chord and a grace note do not, backup
and forward move it alone. A mark is a `direction` put in just before the first note of the topmost
part that stands where the start is, before its grace notes; all other bytes stay as they are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple
from xml.parsers import expat
from xml.sax.saxutils import escape

from trainer.errors import TrainerError
from trainer.score.cite import counted, place
from trainer.score.model import Score

_MARK = '<rehearsal enclosure="square">{}</rehearsal>'
_BOXED = '<words enclosure="square" font-style="normal" font-weight="bold">{}</words>'
CLOSE = Fraction(1, 16)
"""Quarter notes by which a file that rounds its lengths may be beside the place of a start."""


class StartMark(NamedTuple):
    """What is written at one start: its number, and words under it."""

    onset: Fraction  # ql, in score order
    text: str
    words: tuple[str, ...] = ()


class _Point(NamedTuple):
    """Where a note or rest begins: the number of its part and measure in the file, its place in
    the measure in ql, its first byte, whether its part has several staves, and the parts into
    which the file divides a quarter there."""

    part: int
    measure: int
    at: Fraction
    byte: int
    staves: bool
    divisions: Fraction


@dataclass
class _Note:
    byte: int
    chord: bool = False
    grace: bool = False
    length: Fraction = Fraction(0)


@dataclass
class _Own:
    """A direction of the file with rehearsal marks: where it stands, and its first byte and the
    first one of its end tag. `alone` says that there is nothing else in it."""

    part: int
    measure: int
    at: Fraction
    byte: int
    end: int = 0
    texts: list[str] = field(default_factory=list)
    alone: bool = True


@dataclass
class _Walk:
    """One walk through the events of a file."""

    points: list[_Point] = field(default_factory=list)
    own: list[_Own] = field(default_factory=list)
    parts: dict[str, int] = field(default_factory=dict)
    divisions: dict[int, Fraction] = field(default_factory=dict)
    staves: dict[int, bool] = field(default_factory=dict)
    path: list[str] = field(default_factory=list)
    text: list[str] = field(default_factory=list)
    timewise: bool = False
    part: int = 0
    measures: int = -1
    measure: int = -1
    at: Fraction = Fraction(0)
    note: _Note | None = None
    direction: _Own | None = None

    def begin(self, name: str, attributes: dict[str, str], byte: int) -> None:
        self.path.append(name)
        self.text = []
        if name == "score-timewise":
            self.timewise = True
        elif name == "part":
            self.part = self.parts.setdefault(attributes.get("id", ""), len(self.parts))
            self._top(self.measure if self.timewise else -1)
        elif name == "measure":
            self._top(self.measure + 1)
        elif name == "note":
            self.note = _Note(byte)
        elif name == "direction":
            self.direction = _Own(self.part, self.measure, self.at, byte)
        elif self.direction and name not in ("direction-type", "rehearsal", "staff", "offset"):
            self.direction.alone = False
        elif self.note is not None and name in ("chord", "grace"):
            setattr(self.note, name, True)

    def text_of(self, text: str) -> None:
        self.text.append(text)

    def _top(self, measure: int) -> None:
        self.measure, self.at = measure, Fraction(0)
        self.measures = max(self.measures, measure)

    def end(self, name: str, byte: int) -> None:
        self.path.pop()
        text = "".join(self.text).strip()
        self.text = []
        if name == "divisions":
            self.divisions[self.part] = _number(text) or Fraction(1)
        elif name == "staves":
            self.staves[self.part] = _number(text) > 1
        elif name == "duration":
            self._duration(_number(text) / self.divisions.get(self.part, Fraction(1)))
        elif name == "rehearsal":
            self._rehearsal(text)
        elif name == "direction":
            self._direction(byte)
        elif name == "note":
            self._note()

    def _rehearsal(self, text: str) -> None:
        if self.direction is not None:
            self.direction.texts.append(text)

    def _direction(self, byte: int) -> None:
        found, self.direction = self.direction, None
        if found is not None and any(text.isdecimal() for text in found.texts):
            found.end = byte
            self.own.append(found)

    def _duration(self, length: Fraction) -> None:
        holder = self.path[-1] if self.path else ""
        if self.note is not None:
            self.note.length = length
        elif holder == "backup":
            self.at = max(Fraction(0), self.at - length)
        elif holder == "forward":
            self.at += length

    def _note(self) -> None:
        note, self.note = self.note, None
        if note is None or note.chord:
            return
        several = self.staves.get(self.part, False)
        divisions = self.divisions.get(self.part, Fraction(1))
        self.points.append(_Point(self.part, self.measure, self.at, note.byte, several, divisions))
        if not note.grace:
            self.at += note.length


def _number(text: str) -> Fraction:
    try:
        return Fraction(text)
    except (ValueError, ZeroDivisionError):
        return Fraction(0)


def marked(
    data: bytes,
    score: Score,
    marks: Sequence[StartMark],
    name: str,
    *,
    instead: bool = False,
    engraved: bool = False,
) -> bytes:
    """The MusicXML text `data`, which `score` was read from, with these marks in it. `name` is
    the file's, for errors; `instead` takes away the numbers that the file has as rehearsal marks.

    `engraved` writes the numbers as boxed words instead of rehearsal marks: verovio 6.4 draws a
    rehearsal mark at its bar line, wherever it stands (measured).

    A mark that the file has already is not put in again. Raises TrainerError for a text that does
    not fit the score, for a place where the file has neither a note nor a rest, and for a number
    that the file has elsewhere.
    """
    walk = _walked(data, name)
    if walk.measures + 1 != len(score.bars):
        raise TrainerError(
            f"{name} has {counted(walk.measures + 1, 'measure')}, but the piece"
            f" {counted(len(score.bars), 'bar')}: no marks can be put into it; export the score"
            " again with its bar lines."
        )
    edits = [
        (own.byte, 0, _end_of(data, own.end), "")
        for own in walk.own
        if instead and _may_go(own, score, name)
    ]
    encoding = _encoding(data)
    there: set[StartMark] = set() if instead else _there(walk, score, marks, name)
    for order, mark in enumerate(marks, 1):
        point, later = _point(walk, score, mark)
        byte = point.byte
        lead = _lead(data, byte, encoding)
        number = "" if mark in there else _BOXED if engraved else _MARK
        told = _directions(mark, point, later, number)
        edits.append((byte, order, byte, "".join(one + lead for one in told)))
    pieces: list[bytes] = []
    done = 0
    for first, _, end, text in sorted(edits):
        pieces += [data[done:first], text.encode(encoding, "xmlcharrefreplace")]
        done = end
    return b"".join([*pieces, data[done:]])


def _there(walk: _Walk, score: Score, marks: Sequence[StartMark], name: str) -> set[StartMark]:
    """The marks that the file has. Raises TrainerError for a number that is none of them."""
    found = set()
    for own in walk.own:
        onset = score.bars[own.measure].start + own.at
        same = [m for m in marks if own.texts == [m.text] and abs(m.onset - onset) <= CLOSE]
        if not same:
            raise TrainerError(
                f"{name} has a rehearsal mark {own.texts[0]} of its own at {place(score, onset)}:"
                " --instead puts the start numbers in the place of all its numbers."
            )
        found.update(same)
    return found


def _may_go(own: _Own, score: Score, name: str) -> bool:
    """True; raises TrainerError for a mark that does not stand alone in its direction."""
    if own.alone and all(text.isdecimal() for text in own.texts):
        return True
    raise TrainerError(
        f"{name} has a rehearsal mark {own.texts[0]} with other words in one sign at"
        f" {place(score, score.bars[own.measure].start + own.at)}: take it out of the file first."
    )


def _walked(data: bytes, name: str) -> _Walk:
    walk = _Walk()
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartElementHandler = lambda tag, attributes: walk.begin(
        tag, attributes, parser.CurrentByteIndex
    )
    parser.EndElementHandler = lambda tag: walk.end(tag, parser.CurrentByteIndex)
    parser.CharacterDataHandler = walk.text_of
    try:
        parser.Parse(data, True)
    except (expat.ExpatError, ValueError, LookupError) as error:
        raise TrainerError(
            f"{name} is not complete XML ({error}); export the score again."
        ) from error
    return walk


def _point(walk: _Walk, score: Score, mark: StartMark) -> tuple[_Point, Fraction]:
    """The first note or rest of the topmost part at the place of a mark, and 0; where nothing
    begins there, the last one before it that is so many whole divisions earlier, and these."""
    bar = score.bar_at(mark.onset)
    at = mark.onset - bar.start
    here = [point for point in walk.points if point.measure == bar.index]
    if near := [point for point in here if abs(point.at - at) <= CLOSE]:
        best = min(near, key=lambda point: (point.part, abs(point.at - at), point.byte))
        return best, Fraction(0)
    earlier = [
        point
        for point in here
        if point.at < at and ((at - point.at) * point.divisions).denominator == 1
    ]
    if not earlier:
        raise TrainerError(
            f"Start {mark.text} ({place(score, mark.onset)}) stands where the file has neither a"
            " note nor a rest: move it with `trainer start move`."
        )
    best = min(earlier, key=lambda point: (point.part, -point.at, point.byte))
    return best, (at - best.at) * best.divisions


def _directions(mark: StartMark, point: _Point, later: Fraction, number: str) -> Iterator[str]:
    after = f"<offset>{later}</offset>" if later else ""
    staff = "<staff>1</staff>" if point.staves else ""
    for words in (
        *([number.format(escape(mark.text))] if number else []),
        *(f'<words font-style="italic">{escape(text)}</words>' for text in mark.words),
    ):
        kind = f"<direction-type>{words}</direction-type>"
        yield f'<direction placement="above">{kind}{after}{staff}</direction>'


def _encoding(data: bytes) -> str:
    """The encoding of an XML text: its byte order mark, else what it declares, else UTF-8."""
    if data.startswith(b"\xff\xfe") or data[:4] == b"<\0?\0":
        return "utf-16-le"
    if data.startswith(b"\xfe\xff") or data[:4] == b"\0<\0?":
        return "utf-16-be"
    return "ascii"  # with character references, that is right in UTF-8 and in all that hold ASCII


def _end_of(data: bytes, end_tag: int) -> int:
    """The first byte after an end tag, and after the white space that follows it."""
    encoding = _encoding(data)
    closing = ">".encode(encoding)
    end = data.index(closing, end_tag) + len(closing)
    while any(data.startswith(sign.encode(encoding), end) for sign in " \t\r\n"):
        end += len(closing)
    return end


def _lead(data: bytes, byte: int, encoding: str) -> str:
    """The white space that stands before an element."""
    before = data[max(0, byte - 400) : byte]
    if encoding != "ascii" and len(before) % 2:
        before = before[1:]
    text = before.decode(encoding, "replace")
    return text[len(text.rstrip(" \t\r\n")) :]
