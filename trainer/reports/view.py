"""All that there is to know of one student at one moment: what every report is made from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import cached_property
from hashlib import sha256

from trainer.deck.model import Deck, Piece, Start, revision
from trainer.deck.page import before_join, leads_to
from trainer.draw.names import Naming
from trainer.memory.cache import FORM, Onward, Remembered, go_on, to_remember
from trainer.memory.evidence import CUES_THE_PIECE, Part, Try, made, not_cold, weigh
from trainer.memory.model import Beliefs, Retention
from trainer.memory.outlook import Outlook, outlook
from trainer.memory.planner import NextCall, given_seconds, next_calls, plan
from trainer.memory.readiness import Readiness, readiness
from trainer.practice.drills import to_ask_again
from trainer.record.attempt import Attempt, practice_day
from trainer.record.layer import Layer, Own
from trainer.record.lesson import LessonNote
from trainer.record.log import Log
from trainer.record.people import Level, Opening, Recital, Student, open_starts
from trainer.record.plan import Held, KeptPlans, Plan, Slot
from trainer.score.blocks import OCTAVE
from trainer.score.cite import BRITISH, Words, entry, place
from trainer.score.model import Score
from trainer.values import encode

HOUR = 15  # of the day, the middle of a practice day: what a plan is reckoned for
SECONDS = 25.0  # of an attempt that no plan has costed
AWAY = 7  # days without an attempt that count as being away
ASKED_AGAIN = "It did not hold today, so it comes again."
ONCE_MORE = "Once more, as practice."
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
    span: int = OCTAVE  # the widest reach of a hand, in semitones
    worked_on: Mapping[str, datetime] = field(default_factory=dict)  # starts, apart from calls
    homework: Mapping[str, date] = field(default_factory=dict)  # starts, until which day
    kept: Remembered | None = None  # beliefs of an earlier day, which save a replay
    kept_plans: KeptPlans | None = None  # and plans, which save all of it
    seconds: float | None = None  # of drill today, where it is not the student's usual time
    layers: Mapping[str, Layer] = field(default_factory=dict)  # the student's own, by deck id
    masters: Mapping[str, Deck] = field(default_factory=dict)  # the decks that those lie over
    revisions: Mapping[str, str] = field(default_factory=dict)  # of all decks without them, by id
    lesson_notes: tuple[LessonNote, ...] = ()  # the teacher's own
    frames: Mapping[str, Score] = field(default_factory=dict)  # bars alone, quicker to read
    not_written: str = ""  # what to do where nothing can be recorded
    full: bool = False  # for the teacher, who sees a child's chances

    @property
    def day(self) -> date:
        return practice_day(self.now)

    @property
    def level(self) -> Level:
        """Who looks: the student, or the teacher who sees all of a child's."""
        child = self.student.level == "child"
        return "adult" if self.full and child else self.student.level

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
    def played_today(self) -> frozenset[str]:
        """The starts that cannot be tried cold any more today."""
        return not_cold(self.today, self.decks)

    @cached_property
    def tried_today(self) -> frozenset[str]:
        """The starts that were called today, in whatever drill, on whatever machine."""
        tries = weigh(self.today, self.decks)
        return frozenset(one.start for one in tries if one.attempt.drill not in CUES_THE_PIECE)

    @property
    def made_today(self) -> int:
        """How many attempts were made today; a run-through is one."""
        return made(self.today)

    @cached_property
    def plan(self) -> Plan:
        """The whole plan of this practice day. It follows from what was known in the morning, so
        that nothing that is played today changes it, and every machine with the same log has
        the same one."""
        if self.kept_plans and self.seconds is None:
            kept = self.kept_plans.on(self.day, self.basis)
            if kept:
                return kept
        return self._plan_of(self.day, self._settled, self.seconds)

    @cached_property
    def left(self) -> Plan:
        """What is left of the plan: the starts that were not called today, and those that were
        missed and are to be asked again."""
        again = [one for one in to_ask_again(self.today) if one in self.open]
        slots = {slot.start: slot for slot in self.plan.slots}
        fresh = [slot for slot in self.plan.slots if slot.start not in self.tried_today]
        missed = [self._missed(start, slots.get(start)) for start in again]
        return Plan(self.student.id, self.day, (*fresh, *(one for one in missed if one)))

    def _missed(self, start: str, slot: Slot | None) -> Slot | None:
        deck = next(one.deck for one in reversed(self.today) if one.start == start)
        known = self.decks.get(deck)
        if known is None or all(one.id != start for one in known.starts):
            return None
        return Slot(deck, start, ASKED_AGAIN, slot.seconds if slot else SECONDS)

    @cached_property
    def tomorrow(self) -> Plan:
        """The plan of the next practice day, with no more practice today."""
        return self._plan_of(self.day + timedelta(days=1), self.beliefs, None)

    @cached_property
    def more(self) -> Plan:
        """More for today, where the player wants it: what the planner would add, else the open
        starts that were called today once more, those that were missed first."""
        seconds = 60 * (self.student.minutes_on(self.day) or self.student.minutes)
        found = self._plan_at(self.now, self.beliefs, seconds)
        if found.slots:
            return found
        again = [
            (deck.id, start.id)
            for deck in self.decks.values()
            for start in deck.starts
            if start.id in self.open
        ]
        chances = self.chances([start for _, start in again])
        again.sort(key=lambda one: chances.get(one[1], 0.0))
        slots = [Slot(deck, start, ONCE_MORE, SECONDS) for deck, start in again]
        return Plan(self.student.id, self.day, tuple(slots[: max(1, int(seconds // SECONDS))]))

    @property
    def day_planned(self) -> bool:
        """Whether something is left today. Works out all that the page of the day shows."""
        left = bool(self.left.slots)
        if not left and self.open:
            _ = self.tomorrow, self.more
        return left

    @cached_property
    def stuck(self) -> frozenset[str]:
        """The open starts that practice by starts does not lift any more."""
        return frozenset(one for one in self.open if self.beliefs.stuck(one))

    @property
    def held_back(self) -> tuple[Held, ...]:
        """The open starts that wait today for a reason of their own."""
        return tuple(one for one in self.plan.held_back if one.start not in self.tried_today)

    @cached_property
    def away(self) -> int:
        """The full days without an attempt before today; 0 under a week, and before the first."""
        before = (self.log.on(self.day - timedelta(days=n)) for n in range(1, AWAY + 1))
        if any(before):
            return 0
        last = max((one.day for one in self.attempts if one.day < self.day), default=None)
        return (self.day - last).days - 1 if last else 0

    def _plan_of(self, day: date, beliefs: Beliefs, seconds: float | None) -> Plan:
        """The plan of a practice day as of one fixed hour of it."""
        if seconds is None and day == self.day and self.away:
            seconds = given_seconds(self.student, day, eve=True)
        return self._plan_at(self._middle(day), beliefs, seconds)

    def _plan_at(self, now: datetime, beliefs: Beliefs, seconds: float | None) -> Plan:
        return plan(
            self.student,
            beliefs,
            self.openings,
            self.decks,
            self.recitals,
            now,
            seconds,
            self.kin,
            self.homework,
        )

    def instant(self, days: int) -> datetime:
        """So many days from now, for what is foretold: now, or the middle of a day to come, so
        that all pages say the same of it at whatever hour they are made."""
        return self._middle(self.day + timedelta(days=days)) if days > 0 else self.now

    def _middle(self, day: date) -> datetime:
        middle = self.now.replace(hour=HOUR, minute=0, second=0, microsecond=0)
        return middle + (day - practice_day(middle))

    @cached_property
    def basis(self) -> str:
        """A digest of all that a day's plan follows from, the day left out."""
        words = (
            FORM,
            self.student,
            sorted(self.worked_on.items()),
            sorted(self.homework.items()),
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
        return beliefs, KeptPlans(self.basis, (self.plan, self.tomorrow))

    @cached_property
    def next_calls(self) -> dict[str, NextCall]:
        return next_calls(
            self.student,
            self.beliefs,
            self.openings,
            self.decks,
            self.recitals,
            self.now,
            homework=self.homework,
        )

    def next_day(self, start_id: str) -> date | None:
        """The day on which a start is called next: today while the plan still holds it."""
        if any(slot.start == start_id for slot in self.left.slots):
            return self.day
        call = self.next_calls.get(start_id)
        return call.day if call else None

    def retention(self, start_id: str, part: Part = "both", *, on: date | None = None) -> Retention:
        """The chance of the next cold try, or of one on a day to come. A start that was tried
        today can be tried cold again tomorrow, so that today's page does not flatter it."""
        soonest = 1 if start_id in self.played_today else 0
        days = max(soonest, (on - self.day).days if on else 0)
        return self.beliefs.retention(start_id, self.instant(days), part)

    def chances(self, start_ids: Sequence[str]) -> dict[str, float]:
        """The chances of `retention` alone, for all at once: of those that were tried cold."""
        today = [one for one in start_ids if one in self.played_today]
        others = [one for one in start_ids if one not in self.played_today]
        later = self.instant(1)
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
            self.student,
            self.beliefs,
            self.openings,
            self.decks,
            self.recitals,
            self._middle(self.day),
        )

    @cached_property
    def readiness(self) -> Readiness | None:
        """What the next recital would find if nothing more were played until its day."""
        if self.recital is None:
            return None
        at = self.instant((self.recital.day - self.day).days)
        return readiness(self.recital, self.beliefs, self.open, self.decks, at, self.left_out)

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


def into(piece: Piece, start: Start) -> str:
    """What the join of a start leads into: "into start 6"."""
    after = leads_to(piece, start)
    return f"into start {after.number}" if after else "to the end"


def join_where(piece: Piece, start: Start, words: Words = BRITISH) -> str:
    """The name of a join: "into start 6, from b. 20"."""
    return (
        f"{into(piece, start)}, from {place(piece.score, before_join(piece, start), words=words)}"
    )


def _named(score: Score, start: Start, words: Words) -> str:
    at = entry(score, start.onset, words=words)
    return f"{at} ({start.label})" if start.label else at
