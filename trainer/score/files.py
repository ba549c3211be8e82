"""A score file before it is understood: what kind it is, and whether it is safe to read on.

The content decides, not the ending of the name. Nothing is unpacked to disk.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from io import BytesIO
from pathlib import Path, PurePosixPath
from typing import Literal, NamedTuple
from xml.etree import ElementTree

from trainer.errors import TrainerError
from trainer.score.text import clean

Kind = Literal["MusicXML", "MEI", "MIDI", "ABC", "kern"]

MEGABYTE = 1_000_000
LARGEST = 50 * MEGABYTE
"""Bytes of one score, unpacked."""
RATIO = 300
"""How far a packed score may unpack. The 535 that come with music21 10.5: median 19, at most 55."""

_CONTAINER_NAME = "META-INF/container.xml"
_CONTAINER = b"""<?xml version="1.0" encoding="UTF-8"?>
<container><rootfiles><rootfile full-path="score.musicxml"/></rootfiles></container>
"""
_READABLE = "give a MusicXML, .mxl, MIDI, ABC, **kern or MEI file"
_FOREIGN = (
    (b"%PDF", "a PDF, a picture of the pages"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"RIFF", "a sound file"),
    (b"ID3", "a sound file"),
    (b"OggS", "a sound file"),
    (b"fLaC", "a sound file"),
    (b"SQLite format 3", "a database"),
    (b"\x1f\x8b", "a packed file"),
    (b"7z\xbc\xaf", "a packed file"),
)


_DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    OSError,
)


class ScoreFile(NamedTuple):
    """The content of a score file, unpacked. `data` is as the file has it, text or not."""

    name: str  # the file's name, cleaned
    kind: Kind
    data: bytes


def load(path: Path) -> ScoreFile:
    """The content of a score file and its kind. Raises TrainerError for all that is not one."""
    name = clean(path.name)
    return opened(name, content(path))


def opened(name: str, data: bytes) -> ScoreFile:
    """The same for the bytes of a score file, packed or not."""
    if data.startswith(b"PK\x03\x04"):
        data = _unpacked(data, name)
        if _kind(data, name) != "MusicXML":
            raise TrainerError(f"{name} is a packed file without a MusicXML score; {_READABLE}.")
    return ScoreFile(name, _kind(data, name), data)


def content(path: Path) -> bytes:
    """The bytes of a score file as they are on disk. Raises TrainerError."""
    name = clean(path.name)
    try:
        if path.is_dir():
            raise TrainerError(f"{name} is a folder; give one score file.")
        if not path.exists():
            raise TrainerError(f"{name} was not found; check the name and the folder.")
        if not path.is_file():
            raise TrainerError(f"{name} is not a file on disk; {_READABLE}.")
        size = path.stat().st_size
        if size > LARGEST:
            raise TrainerError(f"{name} has {size // MEGABYTE} MB, more than the 50 MB allowed.")
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "its name is not a file name"
        raise TrainerError(f"{name} could not be opened: {reason}.") from error
    if not data.strip(b"\0 \t\r\n"):
        raise TrainerError(f"{name} is empty; export the score again.")
    return data


def _kind(data: bytes, name: str) -> Kind:
    if data.startswith(b"MThd"):
        return "MIDI"
    for magic, words in _FOREIGN:
        if data.startswith(magic):
            locked = "encrypted and " if b"/Encrypt" in data else ""
            raise TrainerError(f"{name} is {locked}{words}, not a score; {_READABLE}.")
    text = decoded(data)
    if text.lstrip().startswith("<"):
        return _xml_kind(text, name)
    if "\0" not in text:
        if re.search(r"^\*\*kern\b", text, re.MULTILINE) or "\t**kern" in text:
            return "kern"
        if re.search(r"^[XK]:", text, re.MULTILINE):
            return "ABC"
    raise TrainerError(f"{name} is not a score that can be read; {_READABLE}.")


def _xml_kind(text: str, name: str) -> Kind:
    if "<!ENTITY" in text:
        raise TrainerError(
            f"{name} was refused: it declares XML entities, which a score does not "
            "need; export it again."
        )
    match = re.search(r"<(?:\w+:)?(score-partwise|score-timewise|mei|music)\b", text)
    if match is None:
        raise TrainerError(f"{name} is XML, but neither MusicXML nor MEI; {_READABLE}.")
    return "MusicXML" if match[1].startswith("score") else "MEI"


def decoded(data: bytes) -> str:
    """Text in any of the encodings that scores come in; never fails."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    if data[:4] in (b"<\0?\0", b"\0<\0?"):
        return data.decode("utf-16-le" if data[:1] == b"<" else "utf-16-be", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _unpacked(data: bytes, name: str) -> bytes:
    """The score inside an .mxl file (MusicXML 4.0, "Compressed .mxl files")."""
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            for entry in archive.infolist():
                _check_entry(entry, name)
            if sum(entry.file_size for entry in archive.infolist()) > LARGEST:
                raise TrainerError(f"{name} would unpack to more than 50 MB and is refused.")
            return archive.read(_root_file(archive, name))
    except _DAMAGED as error:
        raise TrainerError(f"{name} is damaged: it cannot be unpacked; export it again.") from error
    except (KeyError, ElementTree.ParseError, zipfile.LargeZipFile, ValueError) as error:
        raise TrainerError(f"{name} is a packed file without a score; {_READABLE}.") from error


def with_score(packed: bytes, score: bytes, name: str) -> bytes:
    """An .mxl file with another score in it; all that it holds beside it stays. Without one
    (`packed` is a score by itself) a new .mxl file (MusicXML 4.0, "Compressed .mxl files")."""
    if packed.startswith(b"PK\x03\x04"):
        with zipfile.ZipFile(BytesIO(packed)) as archive:
            root = _root_file(archive, name)
            entries = [(entry, archive.read(entry)) for entry in archive.infolist()]
    else:
        root = "score.musicxml"
        entries = [(zipfile.ZipInfo(_CONTAINER_NAME), _CONTAINER), (zipfile.ZipInfo(root), b"")]
    out = BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for entry, data in entries:
            new = score if entry.filename == root else data
            made.writestr(entry, new, entry.compress_type if data else zipfile.ZIP_DEFLATED)
    return out.getvalue()


def _check_entry(entry: zipfile.ZipInfo, name: str) -> None:
    inside = PurePosixPath(entry.filename.replace("\\", "/"))
    if inside.is_absolute() or ".." in inside.parts or ":" in entry.filename:
        raise TrainerError(
            f"{name} was refused: it contains a file that points outside it; export it again."
        )
    if entry.flag_bits & 1:
        raise TrainerError(f"{name} is encrypted; save it without a password.")
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise TrainerError(
            f"{name} is compressed in a way that .mxl files are not; export it again."
        )
    bomb = entry.file_size > RATIO * max(entry.compress_size, 1)
    if entry.file_size > LARGEST or (entry.file_size > MEGABYTE and bomb):
        raise TrainerError(
            f"{name} would unpack to {entry.file_size / MEGABYTE:,.0f} MB from "
            f"{entry.compress_size / MEGABYTE:,.2f} and is refused."
        )


def _root_file(archive: zipfile.ZipFile, name: str) -> str:
    """The name of the score in the archive: what the container says, or the only XML file."""
    if _CONTAINER_NAME not in archive.namelist():
        scores = [n for n in archive.namelist() if n.lower().endswith((".xml", ".musicxml"))]
        if len(scores) != 1:
            raise TrainerError(f"{name} is a packed file without a MusicXML score; {_READABLE}.")
        return scores[0]
    text = decoded(archive.read(_CONTAINER_NAME))
    if "<!ENTITY" in text:
        raise TrainerError(
            f"{name} was refused: it declares XML entities, which a score does not "
            "need; export it again."
        )
    for element in ElementTree.fromstring(text).iter():
        if element.tag.rpartition("}")[2] == "rootfile":
            return element.get("full-path", "")
    raise KeyError("rootfile")
