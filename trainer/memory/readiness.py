"""What a recital would find: the places that will hold, those that will not, and the way back.

All of it is an estimate from calm tries at home. On the day most joins will be helped by what
comes before, and nerves are not counted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Literal

from msgspec.structs import asdict

from trainer.deck.model import Deck, Piece
from trainer.memory import verdict
from trainer.memory.evidence import Part
from trainer.memory.model import FADING, HOLDS, PARTS, Beliefs, Retention
from trainer.record.people import Recital
from trainer.values import Frozen

NOTE = (
    "An estimate for calm practice at home. On stage, nerves lower it; the music leading up to a "
    "join raises it."
)
WEAKEST = 5


class Place(Frozen, frozen=True):
    """A start, or the join that its phrase runs into, with its retention on the day."""

    deck: str
    start: str
    part: Part
    retention: Retention


class PieceLoss(Frozen, frozen=True):
    """One piece on the day, from its open starts that were tried cold.

    `lost` is how many of them are likely to fail, their joins with them (see `verdict`);
    `all_hold` is the chance (0-1) that none does, None where nothing was tried. `untried` are the
    open starts without a cold try: they are in none of the figures. `closed` are the others of the
    piece, those that are left out for the student not counted.
    """

    deck: str
    title: str
    open: int
    closed: int
    lost: float
    all_hold: float | None
    untried: tuple[str, ...]


class PieceReadiness(PieceLoss, frozen=True):
    """The same with its `weakest` places, these first."""

    weakest: tuple[Place, ...]


class Stage(Frozen, frozen=True):
    """A stage of getting ready, as advice: whether it is reached, and the starts it waits for.
    `days` before the recital is when it should be (0: none is due)."""

    name: Literal["four weeks before", "two weeks before", "one week before", "the day before"]
    days: int
    asks: str
    met: bool
    waits_for: tuple[str, ...] = ()


class Readiness(Frozen, frozen=True):
    """A recital's programme, its pieces that are played from memory, as things stand."""

    recital: str
    day: date
    pieces: tuple[PieceReadiness, ...]
    stages: tuple[Stage, ...]
    note: str = NOTE

    @property
    def lost(self) -> float:
        """How many starts are likely to fail."""
        return sum(piece.lost for piece in self.pieces)


class Catch(Frozen, frozen=True):
    """If memory fails at one bar on the route: the first start ahead that holds.

    `step` is the place on the route (from 0), `bar` the bar's index. `start` is empty where no
    start ahead holds; `chance` is its chance at home, `lost` the bars that are left out, that
    one counted.
    """

    step: int
    bar: int
    start: str
    chance: float | None
    lost: int


def readiness(
    recital: Recital,
    beliefs: Beliefs,
    is_open: frozenset[str],
    decks: Mapping[str, Deck],
    at: datetime,
    left_out: frozenset[str] = frozenset(),
) -> Readiness:
    """The recital's programme as it would be met at `at`, an instant on its day."""
    found = _Found(recital, beliefs, is_open, decks, at, left_out)
    return Readiness(
        recital.id,
        recital.day,
        tuple(found.readiness(deck) for deck in found.decks),
        _stages(found.starts, beliefs, found.verdicts),
    )


def losses(
    recital: Recital,
    beliefs: Beliefs,
    is_open: frozenset[str],
    decks: Mapping[str, Deck],
    at: datetime,
    left_out: frozenset[str] = frozenset(),
) -> tuple[PieceLoss, ...]:
    """What `readiness` says of the pieces, their weakest places left out."""
    found = _Found(recital, beliefs, is_open, decks, at, left_out)
    return tuple(found.loss(deck) for deck in found.decks)


class _Found:
    """What holds on the day, of all pieces from memory together."""

    def __init__(
        self,
        recital: Recital,
        beliefs: Beliefs,
        is_open: frozenset[str],
        decks: Mapping[str, Deck],
        at: datetime,
        left_out: frozenset[str],
    ) -> None:
        wanted = [item.deck for item in recital.programme if item.from_memory != "no"]
        self.decks = [decks[deck] for deck in dict.fromkeys(wanted) if deck in decks]
        self.open = {deck.id: [s.id for s in deck.starts if s.id in is_open] for deck in self.decks}
        self.starts = [start for deck in self.decks for start in self.open[deck.id]]
        self.beliefs, self.at, self.left_out = beliefs, at, left_out
        self.hopes = {part: beliefs.hopes(self.starts, at, part) for part in PARTS}
        self.chances = {part: self.hopes[part].chances() for part in PARTS}
        self.verdicts = verdict.chances(self.chances["start"], self.chances["join"])

    def loss(self, deck: Deck) -> PieceLoss:
        starts = self.open[deck.id]
        both = _some(self.verdicts, starts)
        together = 1.0
        for part in PARTS:
            together *= self.hopes[part].all_hold(_some(self.chances[part], starts))
        ids = {start.id for start in deck.starts}
        return PieceLoss(
            deck.id,
            deck.title,
            len(starts),
            len(ids - set(starts) - self.left_out),
            verdict.failing(both.values()),
            together if both else None,
            tuple(start for start in starts if start not in both),
        )

    def readiness(self, deck: Deck) -> PieceReadiness:
        starts = self.open[deck.id]
        weakest = sorted(
            (chance, starts.index(start), part)
            for part in PARTS
            for start, chance in _some(self.chances[part], starts).items()
            if chance < HOLDS
        )
        places = (
            Place(deck.id, starts[n], part, self.beliefs.retention(starts[n], self.at, part))
            for _, n, part in weakest[:WEAKEST]
        )
        return PieceReadiness(**asdict(self.loss(deck)), weakest=tuple(places))


def _some(chances: Mapping[str, float], starts: Sequence[str]) -> dict[str, float]:
    return {start: chances[start] for start in starts if start in chances}


def _stages(
    starts: Sequence[str], beliefs: Beliefs, known: Mapping[str, float]
) -> tuple[Stage, ...]:
    """The countdown of the trade (common practice, no source), for the open starts."""
    traces = {start: beliefs.trace(start) for start in starts}
    untried = [s for s, t in traces.items() if t is None or not t.tries]
    once = [s for s, t in traces.items() if t is None or t.held < 2]
    failing = [s for s, t in traces.items() if t is None or not t.tries or t.failing]
    chances = [known.get(start, 0.0) for start in starts]
    share = sum(chances) / len(chances) if chances else 0.0
    weak = [s for s, chance in zip(starts, chances, strict=True) if chance < FADING]
    return (
        _stage("four weeks before", 28, "Every start has been tried cold.", untried),
        _stage("two weeks before", 14, "Every start has held cold on two days.", once),
        _stage(
            "one week before",
            7,
            "Nine in ten hold, and none failed last time.",
            failing,
            enough=share >= 0.9,
        ),
        _stage("the day before", 1, "A short, light drill; nothing new.", weak),
    )


def _stage(
    name: Literal["four weeks before", "two weeks before", "one week before", "the day before"],
    days: int,
    asks: str,
    waits_for: Iterable[str],
    *,
    enough: bool = True,
) -> Stage:
    waiting = tuple(waits_for)
    return Stage(name, days, asks, enough and not waiting, waiting)


def recovery(piece: Piece, beliefs: Beliefs, at: datetime) -> tuple[Catch, ...]:
    """For every bar on the route, where the player gets back in if memory fails there.

    A start holds where its `verdict` on the day does. Bars are counted on the route, repeats
    included.
    """
    route = piece.deck.route
    bars = {start.id: _bars(piece, start.id) for start in piece.deck.starts}
    starts, joins = (beliefs.chances(route, at, part) for part in PARTS)
    known = verdict.chances(starts, joins)
    chances = [known.get(start, 0.0) for start in route]
    catches = []
    for step, start in enumerate(route):
        ahead = _way_back(chances, step)
        between = sum(len(bars[s]) for s in route[step + 1 : ahead])
        for i, bar in enumerate(bars[start]):
            lost = len(bars[start]) - i + between
            catches.append(
                Catch(
                    step,
                    bar,
                    route[ahead] if ahead is not None else "",
                    chances[ahead] if ahead is not None else None,
                    lost,
                )
            )
    return tuple(catches)


def _bars(piece: Piece, start_id: str) -> list[int]:
    """The bars of a start's phrase: those that it reaches and that begin in it, the bar it
    begins in counted with it unless that bar's first beat belongs to the phrase before."""
    start = piece.deck.start(start_id)
    end = piece.end_of(start)
    inside = [bar.index for bar in piece.score.bars if start.onset <= bar.start < end]
    return inside or [piece.score.bar_at(start.onset).index]


def _way_back(chances: Sequence[float], step: int) -> int | None:
    """The place on the route of the first start after `step` that holds."""
    ahead = range(step + 1, len(chances))
    return next((place for place in ahead if verdict.band_of(chances[place]) == "holds"), None)
