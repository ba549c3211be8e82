"""Playing on: the run-through, and going on after a slip."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.deck.model import Piece, Start
from trainer.desk.base import Base
from trainer.desk.drills import spot
from trainer.errors import TrainerError
from trainer.practice import run as runs
from trainer.practice import slip as slips
from trainer.practice.order import Spot, shuffled
from trainer.record.attempt import Judge
from trainer.reports.view import View, where


class Runs(Base):
    def begin_run(self, view: View, deck_id: str, *, judge: Judge = "self") -> runs.Run:
        """A run-through of a whole piece."""
        self.store.must_write()
        deck, machine = view.decks[deck_id], self.store.machine
        made_of = view.revision_of(deck)
        return runs.Run(view.student.id, machine, deck, self.clock(), judge, revision=made_of)

    def begin_rehearsal(
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
