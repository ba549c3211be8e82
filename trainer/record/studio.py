"""What a teacher's list has to know of a student's log, without reading it."""

from __future__ import annotations

from datetime import date

from trainer.values import Frozen


class Logged(Frozen, frozen=True):
    """`tries` are all in the log. `last` is the last practice day and `days` how many there were
    since a day that was asked for: those with an attempt that stands and that the player or an
    instrument judged. `mark` changes with every event of the student's."""

    tries: int = 0
    last: date | None = None
    days: int = 0
    mark: str = ""
