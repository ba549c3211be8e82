"""The studio: all students at once, and a desk for the thread that looks through them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from random import Random
from typing import TYPE_CHECKING, Self

from trainer.desk.people import People
from trainer.errors import TrainerError
from trainer.memory.cache import FORM
from trainer.record.attempt import practice_day
from trainer.values import decode, encode

if TYPE_CHECKING:
    from trainer.reports.studio import Glance, Studio


class StudioDesk(People):
    def beside(self) -> Self:
        """Another desk over the same database, for another thread; its store is to be closed."""
        from trainer.store.store import Store

        store = Store.open(self.store.path, now=self.clock, new_id=self.new_id)
        return type(self)(store, self.clock, self.new_id, Random())

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
                    view = self.view(student, log=bool(near))
                    seen = studios.glance(view)
                    fresh[student.id] = (basis, encode(seen))
                    if near and view.beliefs_to_keep and not self.store.read_only:
                        self._keep_beliefs(student, view.beliefs_to_keep)
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
