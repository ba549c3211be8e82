"""What each attempt of one student says: a pure replay of the log.

A cold try is the evidence. This module only decides which tries are cold, which were cued or
repeated, and to which start a try belongs after merges; how much each kind weighs is the
model's business.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from hashlib import sha256
from itertools import pairwise
from typing import Literal

from trainer.deck.model import Deck
from trainer.practice.drills import PLAYED, evidence_of
from trainer.record.attempt import PAGE, Attempt, Judge, Outcome
from trainer.values import Frozen

Part = Literal["start", "join"]

RUN, SLIP = "run-through", "slip"
CUES_THE_PIECE = frozenset(PLAYED)  # what plays it in its order
SURE = 0.75  # what is heard with less says nothing against the player
JUST_AFTER = timedelta(minutes=10)  # so long does the phrase before still ring in the ear
ACCIDENT = 20.0  # seconds: a run-through that stops sooner at an unknown place reached nothing
INSTANT = timedelta(milliseconds=1)  # what is lost where seconds are written as a fraction


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
        if _unplaced(self.attempt):
            return None
        if part == "join":
            unseen = self.apart or self.attempt.drill == SLIP
            return None if unseen else self.attempt.outcome.join_held
        left_out = evidence_of(self.attempt.drill) == "join"
        return None if left_out else self.attempt.outcome.start_held

    @property
    def apart(self) -> bool:
        """Whether the phrase was not played as it goes, but thought of or played in blocks."""
        return evidence_of(self.attempt.drill) == "apart"

    @property
    def fresh(self) -> bool:
        """Whether nothing led up to it on that day: cold, or apart and the first."""
        return not self.cued and not self.repeat


def _unplaced(attempt: Attempt) -> bool:
    """Whether this is a slip of which nobody said where it was."""
    return (
        attempt.drill == RUN
        and attempt.outcome is Outcome.BROKE_OFF
        and attempt.broke_at is None
        and not attempt.elsewhere
    )


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
        self._route = deck.route if deck else ()
        self._leads = frozenset(pairwise(self._route))

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

    def following(self, start: str) -> frozenset[str]:
        return frozenset(after for before, after in self._leads if before == start)

    def along(self, begin: int, end: int | None = None) -> frozenset[str]:
        """The starts of a stretch of the route."""
        return frozenset(self._route[begin:end])

    def place(self, start: str, since: int) -> int:
        """The place of a start on the route: the next one from `since` on, else its first; 0
        where the route does not have it."""
        places = [place for place, there in enumerate(self._route) if there == start]
        return next((place for place in places if place >= since), places[0] if places else 0)


def kinship(deck: Deck | None) -> str:
    """A digest of all in a deck that decides what its tries are worth."""
    if deck is None:
        return ""
    merged = [(gone.id, gone.into) for gone in deck.former if gone.fate == "merged"]
    parents = [(start.id, start.parent) for start in deck.starts if start.parent]
    return sha256(f"{merged}{parents}{deck.route}".encode()).hexdigest()[:16]


@dataclass
class _Day:
    """What was already played of one piece on one practice day. `going` is the run-through that
    goes on: the place on the route from which the playing of the moment came."""

    tried: set[str] = field(default_factory=set)
    witnessed: set[str] = field(default_factory=set)  # heard, or judged by the teacher
    missed: set[str] = field(default_factory=set)  # and the page seen
    reached: set[str] = field(default_factory=set)  # played in the piece's order
    going: int = 0
    last_slip: datetime | None = None

    def play_on(self, attempt: Attempt, kin: _Kin) -> None:
        """What an attempt in the piece's order has reached. A slip of which nobody said where it
        was is no place: it cues nothing, unless the run-through was long under way."""
        here, resumed = kin.heir(attempt.start), kin.heir(attempt.elsewhere)
        if attempt.drill == SLIP:
            self.reached |= {here, *kin.following(here), *({resumed} if resumed else ())}
            return
        if self._is_new(attempt):
            self.going = 0
        if attempt.outcome is not Outcome.BROKE_OFF:
            self.reached |= kin.along(self.going)
            self.going = 0
        elif _unplaced(attempt):
            if (attempt.seconds or 0.0) > ACCIDENT:
                self.reached |= kin.along(self.going)
        else:
            broke = kin.place(here, self.going)
            begin = self.going if broke >= self.going else 0  # else it began anew
            self.reached |= {here} | kin.along(begin, broke + 1)
            self.going = broke
            if resumed:
                self.reached.add(resumed)
                self.going = kin.place(resumed, broke)
        self.last_slip = attempt.at

    def note(self, attempt: Attempt, start: str) -> None:
        """An attempt at a start."""
        self.tried.add(start)
        if attempt.judge != "self" or attempt.heard is not None:
            self.witnessed.add(start)
        if not attempt.outcome.start_held:
            self.missed.add(start)

    def _is_new(self, attempt: Attempt) -> bool:
        """Whether the run-through of an attempt began after the last one that was noted."""
        began = attempt.at - timedelta(seconds=attempt.seconds or 0.0)
        return attempt.seconds is not None and (
            self.last_slip is None or began > self.last_slip + INSTANT
        )


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
    log = _Replay(decks)
    return tuple(log.take(attempt) for attempt in _standing(attempts))


def not_cold(
    attempts: Sequence[Attempt], decks: Mapping[str, Deck], judge: Judge = "self"
) -> frozenset[str]:
    """The starts of which no attempt by this judge counts as cold any more, by their ids.

    `attempts` are those of one practice day. What is cued for some minutes only (the phrase that
    leads into it was just played) is not among them: the order of a drill sees to that.
    """
    log = _Replay(decks)
    for attempt in _standing(attempts):
        log.take(attempt)
    found: set[str] = set()
    for day in log.days.values():
        found |= day.reached | (day.tried if judge == "self" else day.witnessed)
        found |= day.missed if judge == "heard" else set()
    return frozenset(found)


def made(attempts: Sequence[Attempt]) -> int:
    """How many attempts were made: a run-through is one, whatever slips it has. The slips of runs
    that began at one moment are of one."""
    runs: set[tuple[str, int]] = set()
    count = 0
    before: dict[str, int] = {}  # by deck, the run that goes on
    for attempt in _standing(attempts):
        if attempt.drill != RUN:
            count += 1
            continue
        if attempt.seconds is not None:
            began = round((attempt.at - timedelta(seconds=attempt.seconds)).timestamp())
        else:
            began = before.get(attempt.deck, round(attempt.at.timestamp()))
        before[attempt.deck] = began
        runs.add((attempt.deck, began))
        if attempt.outcome is not Outcome.BROKE_OFF:
            before.pop(attempt.deck)
    return count + len(runs)


class _Replay:
    """A log that is read from its beginning."""

    def __init__(self, decks: Mapping[str, Deck]) -> None:
        self._decks = decks
        self._kin: dict[str, _Kin] = {}
        self.days: dict[tuple[str, date], _Day] = {}
        self._before: Attempt | None = None

    def take(self, attempt: Attempt) -> Try:
        kin = self._kin.get(attempt.deck)
        if kin is None:
            kin = self._kin[attempt.deck] = _Kin(self._decks.get(attempt.deck))
        day = self.days.get((attempt.deck, attempt.day))
        if day is None:
            day = self.days[attempt.deck, attempt.day] = _Day()
        weighed = _weighed(attempt, self._before, day, kin)
        self._before = attempt
        return weighed


def _weighed(attempt: Attempt, before: Attempt | None, day: _Day, kin: _Kin) -> Try:
    """One try, and `day` brought up to date."""
    start = kin.heir(attempt.start)
    in_order = attempt.drill in CUES_THE_PIECE
    witnessed = attempt.judge != "self"
    cued = start in day.reached or in_order or _just_after(before, attempt, kin)
    # A miss is taken at the player's word: what an instrument hears after it is a repeat.
    again = attempt.judge == "heard" and start in day.missed
    again = again or PAGE in attempt.hints
    repeat = again or start in (day.witnessed if witnessed else day.tried)
    if in_order:
        day.play_on(attempt, kin)
    if not _unplaced(attempt):
        day.note(attempt, start)
    return Try(
        attempt=attempt,
        start=start,
        cold=not cued and not repeat and evidence_of(attempt.drill) != "apart",
        cued=cued,
        repeat=repeat,
        # Where it is played in its order, `elsewhere` is where the playing was taken up again.
        confused="" if in_order else kin.heir(_instead(attempt)),
        lent=kin.lent(start),
    )
