"""The deck of one piece: its entry points, their route, and what belongs to them."""

from __future__ import annotations

import hashlib
from fractions import Fraction
from typing import Literal

from trainer.phrases.model import Reason
from trainer.score.model import Score
from trainer.values import Frozen, encode


class Start(Frozen, frozen=True):
    """An entry point. The `id` is global and stays; the `number` is for people and may change.

    `parent` is the start it was split from, empty otherwise.
    """

    id: str
    number: int
    onset: Fraction
    reasons: tuple[Reason, ...] = ()
    label: str = ""
    advice: tuple[str, ...] = ()
    parent: str = ""
    fingering: str = ""  # the teacher's, where the score's will not do: "R 1-3-5, L 5-2"
    cue: str = ""  # who gives the entry in an ensemble: "the piano's B flat, then a breath"


class Former(Frozen, frozen=True):
    """A start that is no longer called; its attempts are kept. `into` inherits them on a merge.
    One that was thinned out went with a lower density and may come back with a higher one."""

    id: str
    number: int
    onset: Fraction
    fate: Literal["removed", "merged", "thinned"]
    into: str = ""


class Likeness(Frozen, frozen=True):
    """Two starts whose openings are alike, by their ids, the earlier one first.

    `kind` is how: the same notes, the same but transposed, the same rhythm and shape, or told
    so by a person. `parts_one` and `parts_other` are the places where they go different ways,
    None where they never do or nobody knows; `repeat` says that the whole phrase comes again
    note for note. `words` is the sentence on how they differ. `from_one` is where the stretch
    that is alike begins, where it does not begin with the start itself.
    """

    one: str
    other: str
    kind: Literal["same", "transposed", "shape", "told"]
    parts_one: Fraction | None = None
    parts_other: Fraction | None = None
    repeat: bool = False
    words: str = ""
    from_one: Fraction | None = None

    def parts_from(self, start_id: str) -> Fraction | None:
        """Where this one of the two goes its own way."""
        return self.parts_one if start_id == self.one else self.parts_other


class Told(Frozen, frozen=True):
    """A person's word on two starts, which outranks what was found: alike, or not."""

    one: str
    other: str
    alike: bool


class Deck(Frozen, frozen=True):
    """The entry points of one piece, in score order, and the route over them.

    `route` lists the ids of starts in the order in which they are played; an id comes again
    where a passage is repeated. `score` is the score's identity (see `identity`).
    """

    id: str
    title: str
    score: str
    starts: tuple[Start, ...]
    route: tuple[str, ...]
    former: tuple[Former, ...] = ()
    first: int = 1  # the number of the first start
    route_by_hand: bool = False
    alike: tuple[Likeness, ...] = ()
    told: tuple[Told, ...] = ()

    def start(self, start_id: str) -> Start:
        """The start with that id. Raises KeyError for an unknown or former start."""
        for start in self.starts:
            if start.id == start_id:
                return start
        raise KeyError(start_id)

    def likenesses(self, start_id: str) -> tuple[Likeness, ...]:
        """The look-alikes of a start, the most confusable first: the same notes, then what a
        person said, then transposed ones, then those alike in shape only."""
        rank = ("same", "told", "transposed", "shape")
        found = [like for like in self.alike if start_id in (like.one, like.other)]
        return tuple(sorted(found, key=lambda like: rank.index(like.kind)))

    def kin(self, start_id: str) -> tuple[str, ...]:
        """The starts that are easily taken for this one, the likeliest first. Those alike in
        shape only are left out: in a piece with one figure all would be."""
        return tuple(
            like.other if start_id == like.one else like.one
            for like in self.likenesses(start_id)
            if like.kind != "shape"
        )

    def following(self, start_id: str) -> tuple[str, ...]:
        """Which starts come next on the route, first pass first, each once."""
        pairs = zip(self.route, self.route[1:], strict=False)
        return tuple(dict.fromkeys(after for here, after in pairs if here == start_id))

    def leading(self, start_id: str) -> tuple[str, ...]:
        """Which starts lead into this one on the route, each once."""
        pairs = zip(self.route, self.route[1:], strict=False)
        return tuple(dict.fromkeys(here for here, after in pairs if after == start_id))


class Piece(Frozen, frozen=True):
    """A deck with the score it was made from."""

    deck: Deck
    score: Score

    def end_of(self, start: Start) -> Fraction:
        """Where the phrase of a start ends in score order: at the next start, or the end."""
        later = [other.onset for other in self.deck.starts if other.onset > start.onset]
        return min(later, default=self.score.end)


def identity(score: Score) -> str:
    """A score's identity: a digest of all that is written in it, not of its file's bytes."""
    return hashlib.sha256(encode(score).encode()).hexdigest()[:16]


def revision(deck: Deck) -> str:
    """A deck's revision: a digest of its content, equal for equal decks on any machine."""
    return hashlib.sha256(encode(deck).encode()).hexdigest()[:12]
