"""The deck file: what a teacher hands out, as canonical JSON that reads well in a diff."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

from trainer.deck.model import Deck, Piece, identity
from trainer.errors import TrainerError
from trainer.score.model import Score
from trainer.values import Frozen, decode, encode

FORMAT = "trainer deck"
VERSION = 1
MAX_BYTES = 50_000_000


class DeckFile(Frozen, frozen=True):
    """`format` and `version` say what the file is; the rest is one piece."""

    format: str
    version: int
    deck: Deck
    score: Score


def write_deck(piece: Piece) -> str:
    """The text of a deck file. Equal pieces give equal text; each start, bar and note has a
    line of its own, so that a text diff shows what changed."""
    whole = msgspec.json.decode(encode(DeckFile(FORMAT, VERSION, piece.deck, piece.score)))
    return "\n".join(_lines(whole, "", 2)) + "\n"


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


def parse_deck(data: bytes, what: str) -> Piece:
    """The piece in the bytes of a deck file; `what` names the file in errors."""
    if len(data) > MAX_BYTES:
        raise TrainerError(f"{what} is larger than {MAX_BYTES:,} bytes; it is no deck file.")
    head = _head(data, what)
    if head.get("format") != FORMAT:
        raise TrainerError(f"{what} is not a deck file; to read a score, use `trainer add`.")
    version = head.get("version")
    if not isinstance(version, int) or version > VERSION:
        raise TrainerError(
            f"{what} was written by a newer version of this program (deck version {version}); "
            "update the program, then take it in again."
        )
    found = decode(data, DeckFile, what)
    _sound(found, what)
    return Piece(found.deck, found.score)


def read_deck(path: Path) -> Piece:
    """The piece in a deck file. Raises TrainerError for a file that is not one."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise TrainerError(f"{path.name} cannot be read: {error.strerror}.") from error
    return parse_deck(data, path.name)


def _head(data: bytes, what: str) -> dict[str, Any]:
    try:
        head = msgspec.json.decode(data, type=dict[str, Any])
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as error:
        raise TrainerError(f"{what} is not a whole deck file: {error}.") from error
    return head


def _sound(found: DeckFile, what: str) -> None:
    """The claims that hold between the fields of a deck file."""
    deck, score = found.deck, found.score
    ids = [start.id for start in deck.starts]
    if not score.bars or not score.notes:
        raise TrainerError(f"{what} holds no notes, so there is nothing to begin.")
    if not ids:
        raise TrainerError(f"{what} holds no starts; add at least one.")
    if deck.score != identity(score):
        raise TrainerError(f"{what}: deck.score does not name the score in the same file.")
    if len(set(ids)) < len(ids):
        raise TrainerError(f"{what}: two starts have the same id.")
    if any(not 0 <= start.onset < score.end for start in deck.starts):
        raise TrainerError(f"{what}: a start lies outside the score.")
    if set(deck.route) - set(ids):
        raise TrainerError(f"{what}: deck.route names a start that is not in the deck.")
