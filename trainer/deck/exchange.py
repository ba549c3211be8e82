"""What the files that travel between machines share: canonical text, and how one is opened.

Such a file is a stranger's: it is read whole or refused whole.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from stat import S_ISREG
from typing import Any, TypeVar

import msgspec

from trainer.errors import TrainerError
from trainer.text import in_json
from trainer.values import Frozen, decode, encode

T = TypeVar("T")

MAX_BYTES = 50_000_000
_SHOWN = 160  # characters of what a library says of a stranger's file
_QUOTED = 40  # and of a word from the file itself


class _Head(msgspec.Struct, frozen=True):
    """The fields that say what a file is; the others are passed over."""

    format: str = ""
    version: Any = None


def canonical(value: Frozen) -> str:
    """JSON with every field and every entry of a list on a line of its own: equal values give
    equal text, and a text diff shows what changed. Controls stand as their codes."""
    return in_json("\n".join(_lines(msgspec.json.decode(encode(value)), "", 2)) + "\n")


def _lines(value: Any, lead: str, depth: int) -> Iterator[str]:
    """JSON with `depth` levels of objects opened over several lines, and the entries of the
    lists in them on one line each."""
    indent = lead[: len(lead) - len(lead.lstrip(" "))]
    if depth and isinstance(value, dict) and value:
        yield lead + "{"
        for name, item in value.items():
            yield from _comma(_lines(item, f"{indent} {encode(name)}: ", depth - 1), name, value)
        yield indent + "}"
    elif isinstance(value, list) and any(isinstance(item, dict) for item in value):
        yield lead + "["
        last = len(value) - 1
        for position, item in enumerate(value):
            yield f"{indent} {encode(item)}{',' if position < last else ''}"
        yield indent + "]"
    else:
        yield lead + encode(value)


def _comma(lines: Iterator[str], name: str, value: dict[str, Any]) -> Iterator[str]:
    """The lines of one field, with a comma after the last one unless the field is the last."""
    *body, end = lines
    yield from body
    yield end if name == list(value)[-1] else end + ","


def read(path: Path) -> bytes:
    """The bytes of a file of bearable size. Raises TrainerError."""
    try:
        if not S_ISREG(path.stat().st_mode):
            raise TrainerError(f"{path.name} is not a file that can be read; give another.")
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise TrainerError(f"{path.name} cannot be read: {error.strerror}.") from error
    small(data, path.name)
    return data


def small(data: bytes, what: str) -> None:
    """Raises TrainerError for more bytes than such a file may have."""
    if len(data) > MAX_BYTES:
        raise TrainerError(
            f"{what} is larger than {MAX_BYTES:,} bytes, the largest that can be imported."
        )


def kind(data: bytes) -> str:
    """What the file says that it is; empty where it says nothing or is not JSON."""
    try:
        return msgspec.json.decode(data, type=_Head).format
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return ""


def opened(data: bytes, what: str, *, format: str, version: int, form: str) -> None:
    """See that the file is whole JSON, of this `format` and of a version that is known.

    `form` names it for people ("deck file"). Raises TrainerError.
    """
    small(data, what)
    try:
        head = msgspec.json.decode(data, type=_Head)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise TrainerError(
            f"{what} is not a complete {form}: {_word(error)}; copy it again from its source."
        ) from error
    if head.format != format:
        raise TrainerError(f"{what} is not a {form}; its field format is not {format!r}.")
    found = head.version
    if type(found) is not int or found < 1:
        raise TrainerError(f"{what} cannot be read: its field version is wrong.")
    if found > version:
        raise TrainerError(
            f"{what} was written by a newer version of this program ({form} version {found});"
            " update the program, then import it again."
        )


def whole(data: bytes, kind: type[T], what: str) -> T:
    """The value in the file. Raises TrainerError with the path of a field that does not fit."""
    try:
        return decode(data, kind, what)
    except TrainerError as error:
        raise TrainerError(f"{what} cannot be understood: {_word(error.__cause__)}.") from error
    except (ValueError, OverflowError) as error:  # a number or a date beyond all bounds
        raise TrainerError(f"{what} cannot be understood: {_word(error)}.") from error


def counted(what: str, path: str, found: Sequence[Any], most: int) -> None:
    """Raises TrainerError where a list holds more entries than it may."""
    if len(found) > most:
        raise TrainerError(f"{what}: {path} holds {len(found):,} entries; {most:,} are the most.")


def texts(what: str, path: str, values: Iterable[str], most: int) -> None:
    """Raises TrainerError where a text is longer than it may be. In `path`, "[]" stands for the
    place of the value: "deck.starts[].label"."""
    for place, value in enumerate(values):
        if len(value) > most:
            where = at(path, place)
            raise TrainerError(f"{what}: {where} has a text of more than {most:,} characters.")


def at(path: str, place: int) -> str:
    """The path of one entry of a list: "deck.starts[].id" and 3 make "deck.starts[3].id"."""
    return path.replace("[]", f"[{place}]")


def quoted(text: str) -> str:
    """A stranger's word within an error: in one line, cut where it is long."""
    plain = "".join(sign if sign.isprintable() else "\ufffd" for sign in text[:_QUOTED])
    return f'"{plain}…"' if len(text) > _QUOTED else f'"{plain}"'


def _word(error: BaseException | None) -> str:
    """The parser's message, shortened in the middle; the path of the field is at its end."""
    said = str(error).rstrip(".")
    return said if len(said) <= _SHOWN else f"{said[: _SHOWN // 2]} … {said[-_SHOWN // 2 :]}"
