"""The pieces of a view, each read when it is first looked at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from msgspec.structs import replace

from trainer.deck.alike import likenesses
from trainer.deck.model import Deck, Likeness, Piece
from trainer.record.layer import Layer, reaches_beyond, with_layer

if TYPE_CHECKING:
    from trainer.score.model import Score
    from trainer.store.store import Store

_MOST_KNOWN = 64
_known: dict[Deck, tuple[Likeness, ...]] = {}
"""The look-alikes of decks with starts of a student's own, by the deck without them. To find
them takes the notes of the score and some milliseconds, at every view of the student."""


class Shelf(Mapping[str, Piece]):
    """The pieces by deck id, with a student's own `layers` over them; a score is read from the
    store when it is first looked at."""

    def __init__(
        self, store: Store, masters: Mapping[str, Deck], layers: Mapping[str, Layer]
    ) -> None:
        self._store = store
        self._masters = masters
        self._layers = layers
        self._pieces: dict[str, Piece | None] = dict.fromkeys(masters)

    def __getitem__(self, deck_id: str) -> Piece:
        piece = self._pieces[deck_id]
        if piece is None:
            piece = self._store.pieces.get(deck_id)
            if layer := self._layers.get(deck_id):
                piece = _with_layer(piece, layer)
            self._pieces[deck_id] = piece
        return piece

    def deck(self, deck_id: str) -> Deck:
        """The deck alone. Its score is read only where a start was added after its last one, and
        where look-alikes of an added start are not known yet."""
        deck, layer = self._masters[deck_id], self._layers.get(deck_id)
        if layer is None:
            return deck
        if reaches_beyond(deck, layer):
            return self[deck_id].deck
        laid = with_layer(deck, layer)
        if len(laid.starts) == len(deck.starts):
            return laid
        return replace(laid, alike=_known[laid]) if laid in _known else self[deck_id].deck

    def __iter__(self) -> Iterator[str]:
        return iter(self._pieces)

    def __len__(self) -> int:
        return len(self._pieces)


class Frames(Mapping[str, "Score"]):
    """The scores of decks, bars alone, each read when it is first looked at."""

    def __init__(self, store: Store, ids: Iterable[str]) -> None:
        self._store = store
        self._frames: dict[str, Score | None] = dict.fromkeys(ids)

    def __getitem__(self, deck_id: str) -> Score:
        frame = self._frames[deck_id]
        if frame is None:
            frame = self._frames[deck_id] = self._store.pieces.frame(deck_id)
        return frame

    def __iter__(self) -> Iterator[str]:
        return iter(self._frames)

    def __len__(self) -> int:
        return len(self._frames)


def _with_layer(piece: Piece, layer: Layer) -> Piece:
    """The piece as this student has it; starts of their own have their look-alikes too."""
    score = piece.score
    laid = with_layer(piece.deck, layer, score.end)
    if len(laid.starts) == len(piece.deck.starts):
        return Piece(laid, score)
    if laid not in _known:
        if len(_known) >= _MOST_KNOWN:
            _known.clear()
        _known[laid] = likenesses(score, laid.starts, laid.told, laid.alike)
    return Piece(replace(laid, alike=_known[laid]), score)
