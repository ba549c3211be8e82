"""What each attempt of one student says: a pure replay of the log.

A cold try is the evidence. This module only decides which tries are cold, which were cued or
repeated, and to which start a try belongs after merges; how much each kind weighs is the
model's business.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from hashlib import sha256
from itertools import pairwise
from typing import Literal

from trainer.deck.model import Deck
from trainer.record.attempt import PAGE, Attempt, Outcome
from trainer.values import Frozen

Part = Literal["start", "join"]

RUN, SLIP = "run-through", "slip"
CUES_THE_PIECE = frozenset({RUN, SLIP})  # the kinds that play it in its order
JOINS = "joins"  # the kind that leaves the start out
APART = frozenset({"away", "blocks"})  # those that do not play the phrase as it goes
SURE = 0.75  # what is heard with less says nothing against the player
JUST_AFTER = timedelta(minutes=10)  # so long does the phrase before still ring in the ear


class Try(Frozen, frozen=True):
    """An attempt and what it is worth.

    `start` is the start that has it now (a merged start's tries go to the one that took it
    in); `confused` is the start begun instead, as said or as heard, found in the same way, or
    empty. `cold` is the evidence; otherwise the try was `cued` by what was played before it, or a
    `repeat` of the same practice day, or both, or it stands `apart`. `lent` names the starts that
    were split off from `start`: its history is a weak hint at theirs.
    """

    attempt: Attempt
    start: str
    cold: bool
    cued: bool = False
    repeat: bool = False
    confused: str = ""
    lent: tuple[str, ...] = ()

    def held(self, part: Part = "start") -> bool | None:
        """Whether that part held; None where this try did not observe it."""
        if self.attempt.drill == RUN and self._untold:
            return None
        if part == "join":
            return None if self.attempt.drill in (*APART, SLIP) else self.attempt.outcome.join_held
        return None if self.attempt.drill == JOINS else self.attempt.outcome.start_held

    @property
    def apart(self) -> bool:
        """Whether the phrase was not played as it goes, but thought of or played in blocks."""
        return self.attempt.drill in APART

    @property
    def fresh(self) -> bool:
        """Whether nothing led up to it on that day: cold, or apart and the first."""
        return not self.cued and not self.repeat

    @property
    def _untold(self) -> bool:
        """Whether this is a slip of which nobody said where it was."""
        one = self.attempt
        return one.outcome is Outcome.BROKE_OFF and one.broke_at is None and not one.elsewhere


class _Kin:
    """Which start has a start's history now, and which starts were split off from it."""

    def __init__(self, deck: Deck | None) -> None:
        former = deck.former if deck else ()
        self._into = {gone.id: gone.into for gone in former if gone.fate == "merged" and gone.into}
        self._lent: dict[str, tuple[str, ...]] = {}
        for start in deck.starts if deck else ():
            if start.parent and start.parent != start.id:
                parent = self.heir(start.parent)
                self._lent[parent] = (*self._lent.get(parent, ()), start.id)
        route = deck.route if deck else ()
        self._leads = frozenset(pairwise(route))

    def heir(self, start: str) -> str:
        """Follows merges to the end; a circle in the data stops where it closes."""
        if start not in self._into:
            return start
        seen = {start}
        while (after := self._into.get(start, "")) and after not in seen:
            start = after
            seen.add(start)
        return start

    def lent(self, start: str) -> tuple[str, ...]:
        return self._lent.get(start, ())

    def leads(self, before: str, start: str) -> bool:
        return (before, start) in self._leads


def kinship(deck: Deck | None) -> str:
    """A digest of all in a deck that decides what its tries are worth."""
    if deck is None:
        return ""
    merged = [(gone.id, gone.into) for gone in deck.former if gone.fate == "merged"]
    parents = [(start.id, start.parent) for start in deck.starts if start.parent]
    return sha256(f"{merged}{parents}{deck.route}".encode()).hexdigest()[:16]


@dataclass
class _Day:
    """What was already played of one piece on one practice day."""

    tried: set[str] = field(default_factory=set)
    witnessed: set[str] = field(default_factory=set)  # heard, or judged by the teacher
    missed: set[str] = field(default_factory=set)  # and the page seen
    played_through: bool = False


def _standing(attempts: Sequence[Attempt]) -> list[Attempt]:
    """Each attempt once, oldest first, without those that another one corrects."""
    amended = {attempt.amends for attempt in attempts if attempt.amends}
    kept = {attempt.id: attempt for attempt in attempts if attempt.id not in amended}
    return sorted(kept.values(), key=lambda attempt: (attempt.at, attempt.id))


def _begun(attempt: Attempt) -> str:
    """The start whose phrase was really played."""
    return attempt.elsewhere or attempt.start


def _instead(attempt: Attempt) -> str:
    """The start that was begun instead, by the player's word or, where that says nothing of it,
    as it was heard; empty where there was none."""
    heard = attempt.heard
    told = heard.elsewhere if heard and heard.sure >= SURE else ""
    return attempt.elsewhere or told


def _just_after(before: Attempt | None, attempt: Attempt, kin: _Kin) -> bool:
    if before is None or before.deck != attempt.deck or before.day != attempt.day:
        return False
    near = attempt.at - before.at <= JUST_AFTER
    return near and kin.leads(kin.heir(_begun(before)), kin.heir(attempt.start))


def weigh(attempts: Sequence[Attempt], decks: Mapping[str, Deck]) -> tuple[Try, ...]:
    """One student's tries, oldest first, each with what it is worth.

    `attempts` are those that stand (`record.attempt.standing`), in any order; duplicates count
    once. A try whose deck is not among `decks` keeps its start's id and has nothing to be cued
    by. Raises nothing.
    """
    kin: dict[str, _Kin] = {}
    days: dict[tuple[str, date], _Day] = {}
    tries: list[Try] = []
    before: Attempt | None = None
    for attempt in _standing(attempts):
        of_deck = kin.get(attempt.deck)
        if of_deck is None:
            of_deck = kin[attempt.deck] = _Kin(decks.get(attempt.deck))
        day = days.get((attempt.deck, attempt.day))
        if day is None:
            day = days[attempt.deck, attempt.day] = _Day()
        tries.append(_weighed(attempt, before, day, of_deck))
        before = attempt
    return tuple(tries)


def _weighed(attempt: Attempt, before: Attempt | None, day: _Day, kin: _Kin) -> Try:
    """One try, and `day` brought up to date."""
    start = kin.heir(attempt.start)
    in_order = attempt.drill in CUES_THE_PIECE
    witnessed = attempt.judge != "self"
    cued = day.played_through or in_order or _just_after(before, attempt, kin)
    # A miss is taken at the player's word: what an instrument hears after it is a repeat.
    again = attempt.judge == "heard" and start in day.missed
    again = again or PAGE in attempt.hints
    repeat = again or start in (day.witnessed if witnessed else day.tried)
    day.played_through |= in_order
    day.tried.add(start)
    if witnessed or attempt.heard is not None:
        day.witnessed.add(start)
    if not attempt.outcome.start_held:
        day.missed.add(start)
    return Try(
        attempt=attempt,
        start=start,
        cold=not cued and not repeat and attempt.drill not in APART,
        cued=cued,
        repeat=repeat,
        # Where it is played in its order, `elsewhere` is where the playing was taken up again.
        confused="" if in_order else kin.heir(_instead(attempt)),
        lent=kin.lent(start),
    )
