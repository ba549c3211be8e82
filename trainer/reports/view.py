"""All that there is to know of one student at one moment: what every report is made from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import cached_property
from hashlib import sha256

from trainer.deck.model import Deck, Piece, Start, revision
from trainer.draw.names import Naming
from trainer.memory.cache import FORM, Onward, Remembered, go_on, to_remember
from trainer.memory.evidence import Part, Try, weigh
from trainer.memory.model import Beliefs, Retention
from trainer.memory.outlook import Outlook, outlook
from trainer.memory.planner import NextCall, next_calls, plan
from trainer.memory.readiness import Readiness, readiness
from trainer.record.attempt import Attempt, practice_day
from trainer.record.layer import Layer, Own
from trainer.record.lesson import LessonNote
from trainer.record.log import Log
from trainer.record.people import Opening, Recital, Student, open_starts
from trainer.record.plan import KeptPlans, Plan
from trainer.score.cite import BRITISH, Words, entry
from trainer.score.model import Score
from trainer.values import encode

WORTH_KEEPING = 100  # tries whose replay is felt where it is that of sixty students


@dataclass(frozen=True)
class View:
    """The student's records as they stand at `now` (aware, local), and what follows from them.

    What follows is worked out when it is first asked for, and only then.
    """

    student: Student
    now: datetime
    decks: Mapping[str, Deck]  # by id, as the student has them
    pieces: Mapping[str, Piece]  # by deck id; may read a score only when it is looked at
    log: Log
    openings: tuple[Opening, ...] = ()
    recitals: tuple[Recital, ...] = ()
    names: Naming = "english"
    words: Words = BRITISH  # for places
    worked_on: Mapping[str, datetime] = field(default_factory=dict)  # starts, apart from calls
    kept: Remembered | None = None  # beliefs of an earlier day, which save a replay
    kept_plans: KeptPlans | None = None  # and plans, which save all of it
    seconds: float | None = None  # of drill today, where it is not the student's usual time
    layers: Mapping[str, Layer] = field(default_factory=dict)  # the student's own, by deck id
    masters: Mapping[str, Deck] = field(default_factory=dict)  # the decks that those lie over
    revisions: Mapping[str, str] = field(default_factory=dict)  # of all decks without them, by id
    lesson_notes: tuple[LessonNote, ...] = ()  # the teacher's own
    frames: Mapping[str, Score] = field(default_factory=dict)  # bars alone, quicker to read

    @property
    def day(self) -> date:
        return practice_day(self.now)

    def own(self, deck: str, start_id: str) -> Own:
        """What is the student's own at a start."""
        return self.layers.get(deck, Layer()).of(start_id)

    @cached_property
    def left_out(self) -> frozenset[str]:
        """The starts that are not called for this student, opened or not."""
        return frozenset().union(*(layer.left_out for layer in self.layers.values()))

    @cached_property
    def closed(self) -> frozenset[str]:
        """The starts that are not open yet; one that is left out is none of them."""
        known = {start.id for deck in self.decks.values() for start in deck.starts}
        return frozenset(known - self.open - self.left_out)

    def revision_of(self, deck: Deck) -> str:
        """The revision of the teacher's deck, whatever the student's own layer over it is."""
        return self.revisions.get(deck.id) or revision(self.masters.get(deck.id, deck))

    @cached_property
    def open(self) -> frozenset[str]:
        return open_starts(self.openings)

    @property
    def attempts(self) -> tuple[Attempt, ...]:
        """Those that stand, oldest first."""
        return self.log.attempts

    @cached_property
    def today(self) -> tuple[Attempt, ...]:
        """Those of this practice day."""
        return self.log.on(self.day)

    @cached_property
    def tries(self) -> tuple[Try, ...]:
        """All of them; beliefs are found without."""
        return weigh(self.attempts, self.decks)

    @cached_property
    def _onward(self) -> Onward:
        return go_on(self.log, self.decks, self.kept, self.worked_on)

    @cached_property
    def _before_today(self) -> int:
        """How many of the tries to go on with were made before today."""
        tries, today = self._onward.tries, self.day
        later = (n for n, one in enumerate(tries) if one.attempt.day >= today)
        return next(later, len(tries))

    @cached_property
    def _settled(self) -> Beliefs:
        """What was believed this morning."""
        return self._onward.beliefs.taken(self._onward.tries[: self._before_today])

    @cached_property
    def beliefs(self) -> Beliefs:
        return self._settled.taken(self._onward.tries[self._before_today :])

    @cached_property
    def kin(self) -> dict[str, frozenset[str]]:
        """The look-alikes of each start, by id: no two are begun on one day."""
        return {
            start.id: frozenset(deck.kin(start.id))
            for deck in self.decks.values()
            for start in deck.starts
        }

    @cached_property
    def tried_today(self) -> frozenset[str]:
        return frozenset(one.start for one in weigh(self.today, self.decks))

    @cached_property
    def plan(self) -> Plan:
        if self.kept_plans and self.seconds is None:
            kept = self.kept_plans.on(self.day, self.basis)
            if kept:
                return kept
        return self._plan_at(self.now)

    def _plan_at(self, now: datetime) -> Plan:
        return plan(
            self.student,
            self.beliefs,
            self.openings,
            self.decks,
            self.recitals,
            now,
            self.seconds,
            self.kin,
        )

    @cached_property
    def basis(self) -> str:
        """A digest of all that a day's plan follows from, the day left out."""
        words = (
            FORM,
            self.student,
            sorted(self.worked_on.items()),
            self.openings,
            self.recitals,
            self.layers,
        )
        decks = [self.revision_of(deck) for deck in self.decks.values()]
        told = f"{[encode(one) for one in words]}{decks}{self.log.state}"
        return sha256(told.encode()).hexdigest()[:32]

    @cached_property
    def beliefs_to_keep(self) -> Remembered | None:
        """The beliefs of this morning, where their replay would be felt the next time."""
        count = self._before_today
        if count < WORTH_KEEPING:
            return None
        return to_remember(self.log, self.decks, self._onward, self._settled, count)

    @cached_property
    def to_keep(self) -> tuple[Remembered | None, KeptPlans | None]:
        """What is worth keeping of what was worked out here: the beliefs where their replay
        would be felt, the plans of today and tomorrow where they are not kept yet."""
        beliefs = self.beliefs_to_keep
        fresh = self.kept_plans is None or not self.kept_plans.on(self.day, self.basis)
        if not fresh or self.seconds is not None:
            return beliefs, None
        plans = (self.plan, self._plan_at(self.now + timedelta(days=1)))
        return beliefs, KeptPlans(self.basis, plans)

    @cached_property
    def next_calls(self) -> dict[str, NextCall]:
        return next_calls(
            self.student, self.beliefs, self.openings, self.decks, self.recitals, self.now
        )

    def retention(
        self, start_id: str, part: Part = "start", *, on: date | None = None
    ) -> Retention:
        """The chance of the next cold try, or of one on a day to come. A start that was tried
        today can be tried cold again tomorrow, so that today's page does not flatter it."""
        soonest = 1 if start_id in self.tried_today else 0
        days = max(soonest, (on - self.day).days if on else 0)
        return self.beliefs.retention(start_id, self.now + timedelta(days=days), part)

    def chances(self, start_ids: Sequence[str]) -> dict[str, float]:
        """The chances of `retention` alone, for all at once: of those that were tried cold."""
        today = [one for one in start_ids if one in self.tried_today]
        others = [one for one in start_ids if one not in self.tried_today]
        later = self.now + timedelta(days=1)
        return self.beliefs.chances(others, self.now) | self.beliefs.chances(today, later)

    @property
    def target(self) -> date:
        """The day to plan for: the next recital's, or four weeks ahead."""
        return self.recital.day if self.recital else self.day + timedelta(days=28)

    @property
    def recital(self) -> Recital | None:
        """The next one to come."""
        coming = [recital for recital in self.recitals if recital.day >= self.day]
        return min(coming, key=lambda recital: (recital.day, recital.id), default=None)

    @cached_property
    def outlook(self) -> Outlook | None:
        """Whether the minutes will do for the next recital; None where none is set."""
        return outlook(
            self.student, self.beliefs, self.openings, self.decks, self.recitals, self.now
        )

    @cached_property
    def readiness(self) -> Readiness | None:
        """What the next recital would find if nothing more were played until its day."""
        if self.recital is None:
            return None
        at = self.now + timedelta(days=(self.recital.day - self.day).days)
        return readiness(self.recital, self.beliefs, self.open, self.decks, at)

    def starts(self, deck: str | None = None) -> list[tuple[Piece, Start]]:
        """Every start of one piece, or of all, in score order."""
        return [
            (piece, start)
            for deck_id, piece in self.pieces.items()
            if deck in (None, deck_id)
            for start in piece.deck.starts
        ]

    def place(self, deck: str, start: Start) -> str:
        """The place of a start in words, as `where`; the notes of its score are not read."""
        frame = self.frames.get(deck)
        return _named(self.pieces[deck].score if frame is None else frame, start, self.words)

    def find(self, deck: str, start_id: str) -> tuple[Piece, Start] | None:
        """A start by its ids, None where it is no longer called."""
        piece = self.pieces.get(deck)
        starts = piece.deck.starts if piece else ()
        found = next((start for start in starts if start.id == start_id), None)
        return (piece, found) if piece and found else None


def where(piece: Piece, start: Start, words: Words = BRITISH) -> str:
    """The place of a start in words, with the teacher's name for it if it has one."""
    return _named(piece.score, start, words)


def _named(score: Score, start: Start, words: Words) -> str:
    place = entry(score, start.onset, words=words)
    return f"{place} ({start.label})" if start.label else place
