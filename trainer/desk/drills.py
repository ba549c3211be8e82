"""The drill, a try outside a drill, and taking a try back."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trainer.deck import edit
from trainer.deck.model import Deck, Piece, Start, revision
from trainer.deck.page import leads_to
from trainer.desk.base import Base
from trainer.draw.hints import hint_names
from trainer.memory.evidence import not_cold
from trainer.practice import session as drill
from trainer.practice.drills import Begins, Draws, asked, drill_kind
from trainer.practice.exercise import Act, Action, E, step
from trainer.practice.order import Spot
from trainer.record.attempt import (
    Attempt,
    Judge,
    Outcome,
    Retraction,
    practice_day,
)
from trainer.reports.view import View, into, join_where, where
from trainer.score.cite import BRITISH, Words


class Drills(Base):
    def begin(
        self,
        view: View,
        *,
        kind: str = "cold",
        deck: str | None = None,
        judge: Judge = "self",
        only: Sequence[tuple[str, str]] | None = None,
        more: bool = False,
    ) -> drill.Session:
        """A drill of one kind, of all pieces or of one, in an order of its own; or of `only`
        these starts, by ids of deck and start, in the order in which they are given. What is
        drawn from the day's plan is what is left of it, or `more` where that is done."""
        self.store.must_write()
        chosen = drill_kind(kind)
        if only is None:
            found = self._drawn(view, chosen.draws, deck, more)
        else:
            found = [one for ids in only if (one := view.find(*ids)) is not None]
        spots = [spot(piece, start) for piece, start in found]
        known = dict(zip((one.id for one in spots), found, strict=True))
        order = (
            chosen.arrange(spots, self._previous(view), self.rng) if only is None else tuple(spots)
        )
        calls = tuple(
            call(*known[one.id], chosen.begins, view.words, view.revision_of(known[one.id][0].deck))
            for one in order
        )
        now = self.clock()
        return drill.begin(
            view.student.id,
            self.store.machine,
            kind,
            calls,
            now,
            judge=judge,
            drilled=drill.drilled_lately(view.today, now),
            warm=not_cold(view.today, view.decks, judge),
            earlier=tuple(one.start for one in asked(view.today)),
            safe=frozenset(slot.start for slot in view.plan.slots if slot.safe),
        )

    def _drawn(
        self, view: View, draws: Draws, deck: str | None, more: bool
    ) -> list[tuple[Piece, Start]]:
        """The starts that a drill draws on: those of the plan, or every open one in order."""
        if draws == "plan":
            plan = view.more if more else view.left
            slots = [slot for slot in plan.slots if deck in (None, slot.deck)]
            found = [view.find(slot.deck, slot.start) for slot in slots]
            return [one for one in found if one is not None]
        return [
            (piece, start)
            for piece, start in view.starts(deck)
            if start.id in view.open
            and (draws == "open" or view.open.intersection(piece.deck.kin(start.id)))
        ]

    def _previous(self, view: View) -> Spot | None:
        """What was drilled last on this day: the first call must not be cued by it."""
        last = view.today[-1] if view.today else None
        found = view.find(last.deck, last.start) if last else None
        return spot(*found) if found else None

    def act(self, exercise: E, act: Act, **more: Any) -> E:
        """Do an act in an exercise, with what is said or heard of it (`exercise.Action`). What it
        records is on the disk when this returns."""
        ids = (self.new_id(), self.new_id(), self.new_id())
        after, records = step(exercise, Action(act, self.clock(), ids, **more))
        if records:
            self.store.log.append(*records)
        return after

    def note(
        self, view: View, deck: Deck, number: int, outcome: Outcome, **fields: object
    ) -> Attempt:
        """Record one try outside a drill, as a teacher does at a lesson."""
        now = self.clock()
        attempt = Attempt(
            id=self.new_id(),
            student=view.student.id,
            deck=deck.id,
            revision=view.revision_of(deck),
            start=edit.numbered(deck, number).id,
            machine=self.store.machine,
            at=now,
            day=practice_day(now),
            outcome=outcome,
            **fields,  # type: ignore[arg-type]
        )
        self.store.log.append(attempt)
        return attempt

    def take_back(self, attempt: Attempt) -> None:
        """Retract an attempt; the log keeps both."""
        now, machine = self.clock(), self.store.machine
        self.store.log.append(Retraction(self.new_id(), attempt.id, machine, now, attempt.student))


def spot(piece: Piece, start: Start) -> Spot:
    """What the order of calls needs to know: where the start leads, on the route and in number."""
    after = set(piece.deck.following(start.id))
    after |= {other.id for other in piece.deck.starts if other.number == start.number + 1}
    return Spot(start.id, frozenset(after - {start.id}), frozenset(piece.deck.kin(start.id)))


def begun_instead(piece: Piece, start_id: str) -> tuple[Start, ...]:
    """The starts that may have been begun in place of the one called: its look-alikes first,
    then the others in score order."""
    kin = piece.deck.kin(start_id)
    others = [start for start in piece.deck.starts if start.id != start_id]
    likely = [start for like in kin for start in others if start.id == like]
    return (*likely, *(start for start in others if start.id not in kin))


def call(
    piece: Piece,
    start: Start,
    begins: Begins = "start",
    words: Words = BRITISH,
    made_of: str = "",
) -> drill.Call:
    """The call of a start: number and place, and the names of its hints. `made_of` is the
    deck revision stored in its attempt, by default that of the deck."""
    joins = begins == "before the join"
    after = leads_to(piece, start) if joins else None
    return drill.Call(
        spot(piece, start),
        piece.deck.id,
        made_of or revision(piece.deck),
        piece.deck.title,
        start.number,
        (join_where if joins else where)(piece, start, words),
        hint_names(piece, start),
        into(piece, start) if joins else "",
        after.number if after else 0,
    )
