"""The pieces of a view, each read when it is first looked at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from trainer.deck.model import Deck, Piece
from trainer.record.layer import Layer, reaches_beyond, with_layer

if TYPE_CHECKING:
    from trainer.store.store import Store


class Shelf(Mapping[str, Piece]):
    """The pieces by deck id, with a student's own `layers` over them; a score is read from the
    store when it is first looked at."""

    def __init__(self, store: Store, ids: Iterable[str], layers: Mapping[str, Layer]) -> None:
        self._store = store
        self._layers = layers
        self._pieces: dict[str, Piece | None] = dict.fromkeys(ids)

    def __getitem__(self, deck_id: str) -> Piece:
        piece = self._pieces[deck_id]
        if piece is None:
            piece = self._store.piece(deck_id)
            if layer := self._layers.get(deck_id):
                piece = Piece(with_layer(piece.deck, layer, piece.score.end), piece.score)
            self._pieces[deck_id] = piece
        return piece

    def deck(self, deck_id: str) -> Deck:
        """The deck alone; its score is read only where a start was added after its last one."""
        deck, layer = self._store.deck(deck_id), self._layers.get(deck_id)
        if layer is None:
            return deck
        return self[deck_id].deck if reaches_beyond(deck, layer) else with_layer(deck, layer)

    def __iter__(self) -> Iterator[str]:
        return iter(self._pieces)

    def __len__(self) -> int:
        return len(self._pieces)
