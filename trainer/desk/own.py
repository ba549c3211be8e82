"""One student's own layer over a deck."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from fractions import Fraction

from trainer.deck import edit
from trainer.deck.model import Deck, Start
from trainer.desk.base import Part
from trainer.draw.text import clean
from trainer.errors import TrainerError
from trainer.record.attempt import practice_day
from trainer.record.layer import LayerEdit, What, fault
from trainer.record.people import Opening, Student
from trainer.reports.view import View


class Own(Part):
    def set(self, student: Student, deck: Deck, start: Start, words: Mapping[What, str]) -> None:
        """Say what is a student's own at a start of a deck; "" takes it back. Raises TrainerError
        for a value that will not do, and then nothing is changed."""
        if edits := self._words(student, deck.id, start, words):
            self.store.log.append(*edits)

    def work_on(self, student: Student, deck: Deck, start: Start) -> None:
        """Say that a start was worked on apart from its calls: taken apart, slowly, hands alone,
        shown to the teacher. What is believed of it is open again from then on."""
        known = self.store.log.layer_edits(student.id)
        at = max([self.clock(), *(one.at + timedelta(microseconds=1) for one in known[-1:])])
        ids = (self.new_id(), student.id, deck.id, start.id)
        self.store.log.append(LayerEdit(*ids, "worked on", "yes", self.store.machine, at))

    def ask(
        self, student: Student, deck: Deck, starts: Iterable[Start], until: date | None
    ) -> None:
        """Ask for starts as homework until a day, that day included; None asks no more. Raises
        TrainerError for a day that is over."""
        today = practice_day(self.clock())
        if until is not None and until < today:
            raise TrainerError(f"{until} is in the past (today is {today}). Give a future date.")
        words: dict[What, str] = {"homework": until.isoformat() if until else ""}
        edits = [edit for start in starts for edit in self._words(student, deck.id, start, words)]
        self.store.log.append(*edits)

    def _words(
        self, student: Student, deck_id: str, start: Start, words: Mapping[What, str]
    ) -> list[LayerEdit]:
        """The edits that make this text current. Raises TrainerError."""
        known = self.store.log.layer_edits(student.id)
        said = {
            one.what: one.value for one in known if (one.deck, one.start) == (deck_id, start.id)
        }
        # Later than the word before it, even where the clock was put back meanwhile.
        at = max([self.clock(), *(one.at + timedelta(microseconds=1) for one in known[-1:])])
        edits = []
        for what, text in words.items():
            value, ids = clean(text), (self.new_id(), student.id, deck_id, start.id)
            word = LayerEdit(*ids, what, value, self.store.machine, at)
            if wrong := fault(word):
                raise TrainerError(f"Start {start.number} {wrong}: nothing was changed.")
            if value != said.get(what, ""):
                edits.append(word)
        return edits

    def add(self, view: View, deck_id: str, onset: Fraction) -> str:
        """Add a start for one student alone; gives its id. It is open where the phrase that it
        divides is. The same place again is the same start again, with its tries.

        Raises TrainerError for a place outside the piece, or where a start begins already.
        """
        piece, student = view.pieces[deck_id], view.student
        edit.add(piece, onset, "")  # refuses a place where no start can be
        value = str(onset)
        known = {start.id for start in piece.deck.starts} | {one.id for one in piece.deck.former}
        again = [
            one.start
            for one in self.store.log.layer_edits(student.id)
            if (one.deck, one.what, one.value) == (deck_id, "added", value)
            and one.start not in known
        ]
        start = Start(again[0] if again else self.new_id(), 0, onset)
        words = self._words(student, deck_id, start, {"added": value})
        divided = [one.id for one in piece.deck.starts if one.onset < onset][-1:]
        opens = view.open.intersection(divided)
        ids, now = (self.new_id(), student.id, deck_id, start.id), self.clock()
        opening = [Opening(*ids, True, self.store.machine, now)] if opens else []
        self.store.log.append(*words, *opening)  # both or neither
        return start.id

    def take_back(self, view: View, deck_id: str, start: Start) -> None:
        """Take back all that is a student's own at a start; a start of their own goes with it."""
        own, deck = view.own(deck_id, start.id), view.decks[deck_id]
        everything: dict[What, str] = {"fingering": "", "words": "", "tempo": "", "left out": ""}
        alone: dict[What, str] = {"added": ""}
        self.set(view.student, deck, start, everything if own.added is None else alone)
