"""The exercises: the drill, the run-through, and going on after a slip."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trainer.deck.model import Piece, Start, revision
from trainer.deck.page import leads_to
from trainer.desk.base import Part
from trainer.draw.hints import hint_names
from trainer.errors import TrainerError
from trainer.memory.evidence import not_cold
from trainer.practice import run as runs
from trainer.practice import session as drill
from trainer.practice import slip as slips
from trainer.practice.drills import Begins, Draws, asked, drill_kind
from trainer.practice.exercise import Act, Action, E, step
from trainer.practice.order import Spot, shuffled
from trainer.record.attempt import (
    Judge,
)
from trainer.reports.view import View, into, join_where, where
from trainer.score.cite import BRITISH, Words


class Exercises(Part):
    """One machine plays them all (`practice/exercise.py`); here they begin and are recorded."""

    def drill(
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

    def run(self, view: View, deck_id: str, *, judge: Judge = "self") -> runs.Run:
        """A run-through of a whole piece."""
        self.store.must_write()
        deck, machine = view.decks[deck_id], self.store.machine
        made_of = view.revision_of(deck)
        return runs.Run(view.student.id, machine, deck, self.clock(), judge, revision=made_of)

    def rehearsal(
        self, view: View, deck_id: str, *, times: int = 5, judge: Judge = "self"
    ) -> slips.Rehearsal:
        """So many interruptions in one piece, at its open starts or, where none is open, at any.
        Raises TrainerError where no start leads to another."""
        self.store.must_write()
        piece = view.pieces[deck_id]
        able = [start for start in piece.deck.starts if piece.deck.following(start.id)]
        able = [start for start in able if start.id in view.open] or able
        if not able:
            raise TrainerError(
                f"{piece.deck.title} has only one start, so there is none to go on to; add another."
            )
        order = self._in_turn(piece, able, times)
        calls = tuple(self._slip_call(view, piece, start) for start in order)
        return slips.Rehearsal(
            view.student.id,
            self.store.machine,
            deck_id,
            view.revision_of(piece.deck),
            calls,
            self.clock(),
            judge,
        )

    def _in_turn(self, piece: Piece, starts: Sequence[Start], times: int) -> list[Start]:
        """Round after round of the starts, each in a random order that cues nothing."""
        by_id = {start.id: start for start in starts}
        order: list[Spot] = []
        while len(order) < times:
            spots = [spot(piece, start) for start in starts]
            order += shuffled(spots, order[-1] if order else None, self.rng)
        return [by_id[one.id] for one in order[:times]]

    def _slip_call(self, view: View, piece: Piece, start: Start) -> slips.SlipCall:
        marks = [m for m in piece.score.marks_of("tempo") if m.onset <= start.onset and m.value]
        tempo = marks[-1].value if marks else None
        if own := view.own(piece.deck.id, start.id).tempo:
            tempo = own * float(piece.score.bar_at(start.onset).meter.beat)
        seconds = slips.wait(start.onset, piece.end_of(start), tempo, self.rng)
        following = piece.deck.following(start.id)
        at = where(piece, start, view.words)
        return slips.SlipCall(start.id, start.number, at, following, seconds)

    def act(self, exercise: E, act: Act, **more: Any) -> E:
        """Do an act in an exercise, with what is said or heard of it (`exercise.Action`). What it
        records is on the disk when this returns."""
        ids = (self.new_id(), self.new_id(), self.new_id())
        after, records = step(exercise, Action(act, self.clock(), ids, **more))
        if records:
            self.store.log.append(*records)
        return after


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
