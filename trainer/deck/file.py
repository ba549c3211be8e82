"""The deck file: what a teacher hands out, as canonical JSON that reads well in a diff.

The format is described for people in decks/FORMAT.md and for programs in
decks/deck.schema.json.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Final, Literal

from msgspec.structs import replace

from trainer.deck.exchange import canonical, counted, kind, opened, read, texts, whole
from trainer.deck.history import DeckEdit, closed
from trainer.deck.model import Deck, Piece, identity, revision
from trainer.deck.original import MOST_NAME, Original
from trainer.deck.sound import MOST_TEXT, sound_deck, sound_ids, sound_score, twice
from trainer.errors import TrainerError
from trainer.score.model import MarkKind, Score
from trainer.values import Frozen

FORMAT: Final = "trainer deck"
VERSION = 1
MOST_EDITS = 20_000
FRAME_MARKS: tuple[MarkKind, ...] = ("rehearsal", "tempo", "page", "jump")
"""The marks that stay where the notes are left out: without them no place can be named and no
order of play be found."""


class DeckFile(Frozen, frozen=True):
    """`format` and `version` say what the file is; the rest is one piece.

    `edits` are the edits that led to this deck, oldest first: by them one revision is known to
    come from another. Where `notes` are "left out", `score` has bars and signs only.
    """

    format: Literal["trainer deck"]
    version: int
    deck: Deck
    score: Score
    notes: Literal["here", "left out"] = "here"
    edits: tuple[DeckEdit, ...] = ()
    original: Original | None = None  # the file that the score was read from


class Found(Frozen, frozen=True):
    """What a deck file brings: a piece, and the edits that the file tells of."""

    piece: Piece
    edits: tuple[DeckEdit, ...] = ()
    original: Original | None = None

    def history(self, now: datetime) -> tuple[DeckEdit, ...]:
        """The edits, the last of which has led to this deck. `now` dates one that is not told."""
        return closed(self.edits, revision(self.piece.deck), now)


def frame(score: Score) -> Score:
    """A score without what its publisher may forbid to hand on: bars and signs of the route are
    left, so that places can still be named."""
    return replace(score, notes=(), rests=(), marks=score.marks_of(*FRAME_MARKS))


def has_notes(piece: Piece) -> bool:
    """Whether the deck's own notes are here, and not only the frame of its score."""
    return bool(piece.score.notes)


def write_deck(
    piece: Piece,
    edits: Sequence[DeckEdit] = (),
    *,
    notes: bool = True,
    original: Original | None = None,
) -> str:
    """The text of a deck file. Equal pieces give equal text; each start, bar and note has a
    line of its own, so that a text diff shows what changed. `edits` are the deck's history,
    the last one current; without `notes` only the score's frame is written. `original`
    is the file that the score was read from, for the others to mark."""
    told = tuple(replace(edit, deck="") for edit in edits)
    if not notes or not has_notes(piece):
        bare = frame(piece.score)
        return canonical(DeckFile(FORMAT, VERSION, piece.deck, bare, "left out", told))
    return canonical(DeckFile(FORMAT, VERSION, piece.deck, piece.score, "here", told, original))


def parse_deck_file(data: bytes, what: str) -> Found:
    """What the bytes of a deck file bring; `what` names the file in errors."""
    if kind(data) not in ("", FORMAT):
        raise TrainerError(f"{what} is not a deck file, but a {kind(data)!r:.60}.")
    opened(data, what, format=FORMAT, version=VERSION, form="deck file")
    found = whole(data, DeckFile, what)
    if not found.deck.score:  # written by hand
        found = replace(found, deck=replace(found.deck, score=identity(found.score)))
    here = found.notes == "here"
    sound_score(found.score, what, notes=here)
    sound_deck(found.deck, what)
    _sound(found, what, here=here)
    return Found(Piece(found.deck, found.score), found.edits, found.original)


def parse_deck(data: bytes, what: str) -> Piece:
    """The piece in the bytes of a deck file; `what` names the file in errors."""
    return parse_deck_file(data, what).piece


def read_deck_file(path: Path) -> Found:
    """What a deck file brings. Raises TrainerError for a file that is not one."""
    return parse_deck_file(read(path), path.name)


def read_deck(path: Path) -> Piece:
    """The piece in a deck file. Raises TrainerError for a file that is not one."""
    return read_deck_file(path).piece


def _sound(found: DeckFile, what: str, *, here: bool) -> None:
    """The claims between the parts of a deck file."""
    deck, score = found.deck, found.score
    if here and deck.score != identity(score):
        raise TrainerError(
            f"{what}: deck.score does not name the score in the same file; it is"
            f" {identity(score)!r}."
        )
    sound_ids(what, "deck.score", [deck.score])
    if found.original is not None:
        texts(what, "original.name", [found.original.name], MOST_NAME)
        found.original.file()
    for place, start in enumerate(deck.starts):
        if not 0 <= start.onset < score.end:
            raise TrainerError(
                f"{what}: deck.starts[{place}].onset is not from 0 on and before {score.end}, where"
                " the bars end."
            )
    counted(what, "edits", found.edits, MOST_EDITS)
    sound_ids(what, "edits[].id", (edit.id for edit in found.edits))
    sound_ids(what, "edits[].revision", (edit.revision for edit in found.edits))
    for name in ("parent", "machine", "why", "undoes", "merged", "deck"):
        texts(what, f"edits[].{name}", (getattr(edit, name) for edit in found.edits), MOST_TEXT)
    for sentence in twice("edits[].id", [edit.id for edit in found.edits]):
        raise TrainerError(f"{what}: {sentence}.")
    for place, edit in enumerate(found.edits):
        if edit.at.utcoffset() is None:
            raise TrainerError(
                f"{what}: edits[{place}].at lacks its offset from UTC, such as +01:00."
            )
