"""Score files with a few places spoilt, seeded: what a broken export or a bad disk leaves.

A mutant is made from the bytes of a score by one to four of the changes in `CHANGES`. Numbers
become absurd, signs of the format come where they do not belong, parts are lost, doubled, moved.
"""

from __future__ import annotations

import io
import os
import random
import re
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree

from trainer.errors import TrainerError
from trainer.score.read import read_score

FORMATS = ("musicxml", "mxl", "mid", "abc", "krn", "mei")
SIGNS: dict[str, tuple[bytes, ...]] = {
    "musicxml": (
        b"<chord/>",
        b"<grace/>",
        b"<rest/>",
        b"<cue/>",
        b"</measure>",
        b"<backup>",
        b"<forward>",
        b"<tie type='start'/>",
        b"<dot/>",
        b"<repeat direction='backward' times='9999'/>",
        b"<time><beats>997</beats><beat-type>4</beat-type></time>",
        b"<staff>99</staff>",
        b"<duration>99999999</duration>",
        b"<divisions>0</divisions>",
        b"<ending number='1,x'/>",
        b"<time-modification><actual-notes>0</actual-notes></time-modification>",
        b"&#0;",
        b"&x;",
    ),
    "mid": (
        b"\xff\x58\x04\xff\x09\x18\x08",
        b"\xff\x51\x03\0\0\0",
        b"\x90\x7f\x7f",
        b"\x80\0\0",
        b"\xff\xff\xff\x7f",
        b"\xff\x2f\0",
        b"\xf0\x7f",
        b"\xc0\x7f",
        b"\xff\x59\x02\x7f\x7f",
    ),
    "abc": (
        b"(999:3:999 ",
        b"|:",
        b":|",
        b"[1",
        b"[2",
        b"C9999",
        b"z9999",
        b"///",
        b"{",
        b"}",
        b"[",
        b"]",
        b"\nM:999/4\n",
        b"\nL:999/1\n",
        b"\nK:\n",
        b"\nV:2\n",
        b"\nP:A9\n",
        b"!",
        b'"',
        b"<",
        b"-",
        b"Z9999",
        b"&",
        b"\nX:1\n",
        b"^^^^",
        b",,,,,,,",
    ),
    "krn": (
        b"*^\t*^",
        b"*v\t*v",
        b"*-",
        b"0000c",
        b"*M999/4",
        b"*>[A,A,A]",
        b"....",
        b"1%999",
        b"q",
        b"\n=1\n",
        b"\t",
        b"[[",
        b"cccccccccc",
        b"*x",
        b"\n!!!OTL: \n",
        b"*k[",
        b"*+",
        b"##",
    ),
    "mei": (
        b"<chord>",
        b"</layer>",
        b'dur="0"',
        b'dots="999"',
        b'oct="99"',
        b"<tuplet num='0'>",
        b"<space/>",
        b'meter.count="999"',
        b'tie="x"',
        b"<mRest/>",
        b"<beam>",
        b'grace="acc"',
        b"<multiRest num='9999'/>",
        b'accid="sss"',
        b"<staff n='99'/>",
    ),
}
SIGNS["mxl"] = SIGNS["musicxml"]
NUMBERS = (b"0", b"-1", b"1", b"7", b"255", b"997", b"65536", b"9999999", b"999999999999", b"1e9")


Change = Callable[[bytes, random.Random, str], bytes]


def _number(data: bytes, chance: random.Random, _kind: str) -> bytes:
    found = list(re.finditer(rb"\d+", data))
    if not found:
        return data
    one = chance.choice(found)
    return data[: one.start()] + chance.choice(NUMBERS) + data[one.end() :]


def _sign(data: bytes, chance: random.Random, kind: str) -> bytes:
    at = _place(data, chance)
    return data[:at] + chance.choice(SIGNS[kind]) + data[at:]


def _bytes(data: bytes, chance: random.Random, _kind: str) -> bytes:
    spoilt = bytearray(data)
    for _ in range(chance.randint(1, 8)):
        spoilt[_place(data, chance)] = chance.randrange(256)
    return bytes(spoilt)


def _lost(data: bytes, chance: random.Random, _kind: str) -> bytes:
    begin = _place(data, chance)
    return data[:begin] + data[begin + chance.randint(1, 2 + len(data) // 20) :]


def _doubled(data: bytes, chance: random.Random, _kind: str) -> bytes:
    begin = _place(data, chance)
    part = data[begin : begin + chance.randint(1, 400)]
    return data[:begin] + part * chance.choice((2, 3, 50)) + data[begin:]


def _moved(data: bytes, chance: random.Random, _kind: str) -> bytes:
    lines = data.splitlines(keepends=True) or [data]
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    return b"".join(lines)


def _cut(data: bytes, chance: random.Random, _kind: str) -> bytes:
    return data[: _place(data, chance)]


def _element(data: bytes, chance: random.Random, _kind: str) -> bytes:
    """One element of an XML file lost, doubled, moved, renamed, or with another text or value."""
    try:
        root = ElementTree.fromstring(data)
    except (ElementTree.ParseError, ValueError):
        return data
    holders = [element for element in root.iter() if len(element)]
    holder = chance.choice(holders or [root])
    if not len(holder):
        return data
    at = chance.randrange(len(holder))
    one, change = holder[at], chance.randrange(6)
    if change in (0, 3):
        holder.remove(one)
    if change == 1:
        for _ in range(chance.choice((1, 2, 40))):
            holder.insert(at, one)
    elif change in (2, 3):
        other = chance.choice(holders)
        other.insert(chance.randrange(len(other) + 1), one)
    elif change == 4:
        one.text = chance.choice(NUMBERS).decode()
        for name in one.attrib:
            one.set(name, chance.choice(NUMBERS).decode())
    elif change == 5:
        one.tag = chance.choice(holders).tag
    try:
        return ElementTree.tostring(root)
    except (RecursionError, ValueError):  # an element was put into itself
        return data


def _place(data: bytes, chance: random.Random) -> int:
    return chance.randrange(max(1, len(data)))


CHANGES: tuple[Change, ...] = (
    _number,
    _number,
    _sign,
    _sign,
    _bytes,
    _lost,
    _doubled,
    _moved,
    _cut,
)


def mutant(data: bytes, kind: str, seed: str) -> bytes:
    """A spoilt copy of a score; `data` is the XML where `kind` is "mxl", which is packed here:
    half of these are spoilt within, half as they are packed."""
    chance = random.Random(seed)
    packed = kind == "mxl" and chance.random() < 0.5
    if packed:
        data = packed_xml(data)
    for _ in range(chance.randint(1, 4)):
        change = _bytes if packed else chance.choice(CHANGES)
        if kind in ("musicxml", "mxl", "mei") and not packed and chance.random() < 0.85:
            change = chance.choice((_element, _number))
        data = change(data, chance, kind) or data
    return packed_xml(data) if kind == "mxl" and not packed else data


def packed_xml(xml: bytes) -> bytes:
    """An .mxl file of one score."""
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("score.xml", xml)
    return memory.getvalue()


class Cost(NamedTuple):
    """What one reading came to. `said` is the error's sentence or "", `fault` what must not be:
    an exception of another kind, or a sentence that is none; `megabytes` is the most that any
    process of the reading took."""

    notes: int
    said: str
    fault: str
    seconds: float
    cpu: float
    megabytes: int


def cost(path: Path) -> Cost:
    """Read a file through the real reading process, in a process of its own that is measured."""
    begun = time.monotonic()
    here, there = os.pipe()
    child = os.fork()
    if not child:
        os.write(there, "\0".join(_outcome(path)).encode()[:4000])
        os._exit(0)
    os.close(there)
    with os.fdopen(here, "rb") as answer:
        notes, said, fault = answer.read().decode().split("\0")
    _, _, used = os.wait4(child, 0)
    return Cost(
        int(notes),
        said,
        fault,
        time.monotonic() - begun,
        used.ru_utime + used.ru_stime,
        used.ru_maxrss // 1000,  # KB, as Linux counts
    )


def _outcome(path: Path) -> tuple[str, str, str]:
    try:
        return str(len(read_score(path).notes)), "", ""
    except TrainerError as error:
        said = str(error)
        good = said.endswith(".") and len(said) < 300 and "\n" not in said
        return "0", said, "" if good and "Traceback" not in said else f"no sentence: {said}"
    except BaseException as error:
        return "0", "", f"{type(error).__name__}: {error}".replace("\0", " ")
