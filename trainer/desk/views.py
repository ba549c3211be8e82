"""Views: all that there is to know of one student, or of all at once; what is kept of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from trainer.desk.base import Part
from trainer.desk.people import Settings
from trainer.desk.shelf import Frames, Shelf
from trainer.errors import TrainerError
from trainer.memory.cache import FORM, Basis, Remembered
from trainer.record.attempt import practice_day
from trainer.record.layer import homework, layers, worked_on
from trainer.record.log import Written
from trainer.record.people import Student
from trainer.record.plan import KeptPlans
from trainer.reports import settings as choices
from trainer.reports.view import View
from trainer.values import decode, encode

if TYPE_CHECKING:
    from trainer.reports.studio import Glance, Studio


@dataclass
class Views(Part):
    settings: Settings

    def of(
        self,
        student: Student,
        *,
        seconds: float | None = None,
        log: bool = True,
        full: bool = False,
    ) -> View:
        """All that there is to know of a student now; without the `log`, as if nothing was ever
        tried; `full` for the teacher, who sees a child's chances."""
        masters = self.store.pieces.decks()
        edits = self.store.log.layer_edits(student.id)
        mine = layers(edits)
        left_out = {start_id for layer in mine.values() for start_id in layer.left_out}
        shelf = Shelf(self.store, masters, mine)
        return View(
            student=student,
            now=self.clock(),
            decks={deck_id: shelf.deck(deck_id) for deck_id in masters},
            pieces=shelf,
            frames=Frames(self.store, masters),
            log=self.store.log.of(student.id) if log else Written(),
            # A start that is left out counts as one that is not open.
            openings=tuple(
                o for o in self.store.log.openings(student.id) if o.start not in left_out
            ),
            recitals=self.store.recitals.of(student.id),
            names=choices.naming(self.settings.kept(student)("names")),
            words=choices.words(self.settings.kept(student)("words")),
            span=choices.span(self.settings.kept(student)),
            worked_on=worked_on(edits),
            homework=homework(edits, practice_day(self.clock())),
            kept=self._kept_beliefs(student) if log else None,
            kept_plans=self._kept_plans(student) if log else None,
            seconds=seconds,
            lesson_notes=self.store.log.lesson_notes(student.id),
            layers=mine,
            masters={deck_id: deck for deck_id, deck in masters.items() if deck_id in mine},
            revisions={entry.id: entry.revision for entry in self.store.pieces.all()},
            not_written=self.store.why_not_written,
            full=full,
        )

    def studio(self, progress: Callable[[int, int], None] | None = None) -> Studio:
        """Every student by what they need, and every programme to come.

        What is seen of a student is kept as long as nothing new is logged; `progress` is told,
        of how many students that is known by now, and of how many in all.
        """
        from trainer.reports import studio as studios

        day = practice_day(self.clock())
        students = self.store.students.all()
        logged = self.store.studio.logged(day - timedelta(days=studios.IDLE_DAYS - 1))
        kept = self.store.caches.glances()
        known, fresh = [], {}
        try:
            for number, student in enumerate(students):
                if progress:
                    progress(number, len(students))
                log = logged[student.id]
                near = studios.near(self.store.recitals.of(student.id), day)
                basis = f"{FORM} {log.mark} {','.join(one.id for one in near)}"
                told = kept.get(student.id)
                seen = self._glanced(told[1]) if told and told[0] == basis else None
                if seen is None:
                    view = self.of(student, log=bool(near))
                    seen = studios.glance(view)
                    fresh[student.id] = (basis, encode(seen))
                    if near and view.beliefs_to_keep and not self.store.read_only:
                        self.keep_beliefs(student, view.beliefs_to_keep)
                known.append((student, log, seen))
        finally:  # also where it is broken off
            if fresh and not self.store.read_only:
                self.store.caches.keep_glances(fresh)
        return studios.studio(day, known)

    @staticmethod
    def _glanced(text: str) -> Glance | None:
        from trainer.reports.studio import Glance

        try:
            return decode(text, Glance, "What was seen of a student")
        except TrainerError:
            return None  # written in another form: made anew

    def is_past(self, view: View) -> bool:
        """Whether a view's practice day is over: it has to be made again."""
        return practice_day(self.clock()) != view.day

    def remember(self, view: View) -> None:
        """Keep what a view has worked out, where that will save time the next time."""
        if self.store.read_only:
            return
        beliefs, plans = view.to_keep
        if beliefs:
            self.keep_beliefs(view.student, beliefs)
        if plans:
            self.store.caches.keep_plans(view.student.id, encode(plans))

    def keep_beliefs(self, student: Student, found: Remembered) -> None:
        tries = found.basis.mark.attempts
        self.store.caches.keep_beliefs(student.id, tries, encode(found.basis), found.content)

    def _kept_beliefs(self, student: Student) -> Remembered | None:
        told = self.store.caches.beliefs(student.id)
        try:
            return Remembered(decode(told[0], Basis, "Kept beliefs"), told[1]) if told else None
        except TrainerError:
            return None  # written in another form: made anew

    def _kept_plans(self, student: Student) -> KeptPlans | None:
        told = self.store.caches.plans(student.id)
        try:
            return decode(told, KeptPlans, "The kept plans") if told else None
        except TrainerError:
            return None  # written in another form: made anew
