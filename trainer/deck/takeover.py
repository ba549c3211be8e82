"""A score for a piece that has no notes yet: each start finds its place in it.

Bars are matched by their printed numbers. A place keeps its distance from the first beat of its
bar, whatever stands in the bars before, so that an upbeat of another length or a bar cut short at
a repeat moves nothing. The first moment of the one is that of the other. Numbers and metres of all
bars must agree, and the order of play where it was told; else the score is of another piece or
edition. Ids stay, and with them all that was tried.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise, takewhile, zip_longest

from msgspec.structs import replace

from trainer.deck.alike import likenesses
from trainer.deck.model import Piece, Start, identity
from trainer.deck.route import phrase_route
from trainer.errors import TrainerError
from trainer.score.cite import counted, entry, label, ordinal
from trainer.score.model import Bar, Score
from trainer.score.route import bar_route

_ELSE = "add the file as a piece of its own, without --for"


def more_bars(piece: Piece, score: Score) -> list[str]:
    """The bars of a score, as printed, that come after the last one of a piece."""
    last = _numbered(piece.score)[-1].label
    labels = [bar.label for bar in _numbered(score)]
    return labels[labels.index(last) + 1 :] if last in labels else []


def taken_over(piece: Piece, score: Score) -> Piece:
    """The piece with this score in place of its own bars. Raises TrainerError, which says where,
    for a score that does not fit."""
    fits = Fit(piece, score)
    fits.check()
    starts = tuple(replace(start, onset=fits.onset(start)) for start in piece.deck.starts)
    for one, other in pairwise(starts):
        if one.onset == other.onset:
            raise TrainerError(
                f"Starts {one.number} and {other.number} would both begin at "
                f"{entry(score, other.onset)} in {fits.name}: remove one of them first."
            )
    deck = piece.deck
    deck = replace(
        deck,
        score=identity(score),
        starts=starts,
        route=deck.route if deck.route_by_hand else phrase_route(score, starts),
        former=tuple(replace(gone, onset=fits.near(gone.onset)) for gone in deck.former),
        alike=likenesses(score, starts, deck.told, deck.alike),
    )
    return Piece(deck, score)


class Fit:
    """How a piece's bars lie in another score."""

    def __init__(self, piece: Piece, score: Score) -> None:
        self._old, self._new = piece.score, score
        self._title = piece.deck.title
        self.name = score.source or "the file"
        self._bars: dict[str, Bar] = {}
        for bar in _numbered(score):
            if self._bars.setdefault(bar.label, bar) is not bar:
                raise self._error(f"has two bars printed {bar.label}")

    def _error(self, what: str) -> TrainerError:
        return TrainerError(f"{self.name} does not fit {self._title}: it {what}; {_ELSE}.")

    def check(self) -> None:
        """Raises TrainerError for bars that are missing or in another metre, and for another order
        of play."""
        bars = _numbered(self._old)
        for bar in bars:
            other = self._bars.get(bar.label)
            if other is None:
                last, count = _numbered(self._new)[-1].label, counted(len(bars), "bar")
                raise self._error(f"has no bar {bar.label} and ends with bar {last}, of {count}")
            if other.meter != bar.meter:
                raise self._error(
                    f"is in {other.meter} in bar {bar.label}, the piece in {bar.meter}"
                )
        self._check_order([bar.label for bar in bars])

    def _check_order(self, printed: list[str]) -> None:
        old = _order(self._old)
        if not self._old.played and old == printed:
            return  # nobody told any order
        known = set(old)
        new = [number for number in _order(self._new) if number in known]
        for at, (here, there) in enumerate(zip_longest(old, new)):
            if here != there:
                before = old[at - 1] if at else "none"
                time = old[:at].count(before)
                times = f" the {ordinal(time)} time" if time > 1 else ""
                raise self._error(
                    f"{_goes_on(there)} after bar {before}{times}, the piece {_goes_on(here)}"
                )

    def onset(self, start: Start) -> Fraction:
        """Where a start begins. Raises TrainerError where its bar is too short for it."""
        at = self._at(start.onset)
        if at is None:
            where = entry(self._old, start.onset)
            raise self._error(f"has no place for start {start.number}, {where}")
        return at

    def near(self, onset: Fraction) -> Fraction:
        """The place of a position, or where the bar begins that is too short for it."""
        at = self._at(onset)
        return at if at is not None else self._parts(onset)[0].start

    def _at(self, onset: Fraction) -> Fraction | None:
        if onset == 0:
            return Fraction(0)
        was = self._old.bar_at(onset)
        for bar in self._parts(onset):
            at = bar.start - bar.lead + was.lead + onset - was.start
            if bar.start <= at < bar.end:
                return at
        return None

    def _parts(self, onset: Fraction) -> list[Bar]:
        """The printed bar that is here: what of it stands in the new score, up to the next one."""
        was = self._old.bar_at(onset)
        if was.upbeat and not was.index:
            return [self._new.bars[0]]
        first = self._bars[label(self._old, was)]
        rest = takewhile(lambda bar: bar.upbeat or bar.continues, self._new.bars[first.index + 1 :])
        return [first, *rest]


def _numbered(score: Score) -> list[Bar]:
    """The bars that count, each once."""
    return [bar for bar in score.bars if not (bar.upbeat or bar.continues)]


def _order(score: Score) -> list[str]:
    """The numbered bars in the order in which they are played."""
    visited = (score.bars[visit.bar] for visit in bar_route(score))
    return [bar.label for bar in visited if not (bar.upbeat or bar.continues)]


def _goes_on(number: str | None) -> str:
    return "ends" if number is None else f"goes on with bar {number}"
