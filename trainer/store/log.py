"""The log of attempts, retractions and openings: it only grows."""

from __future__ import annotations

from trainer.errors import TrainerError
from trainer.record.attempt import Attempt, Retraction
from trainer.record.people import Opening
from trainer.store import rows
from trainer.store.base import Base, shown


class Log(Base):
    """What is read comes in the order of instants, whatever order it arrived in."""

    def append(self, *events: rows.Event) -> int:
        """Add events in one durable transaction: all of them or none.

        An event that is there already is passed over, so the same events may come again and
        in any order. Gives how many were new. Raises TrainerError where an id is there with
        other contents, or a student is not known.
        """
        new = 0
        with self._connection.writing() as run:
            for event in events:
                find, add, row = rows.writer(event)
                known = run(find, row[:1]).fetchone()
                if known is None:
                    run(add, row)
                    new += 1
                elif known != row:
                    raise TrainerError(
                        f"{type(event).__name__} {shown(event.id)} is already kept with other"
                        " contents: nothing was changed, see where the second one comes from."
                    )
        return new

    def attempts(self, student: str, deck: str | None = None) -> tuple[Attempt, ...]:
        """A student's attempts, of one deck or of all, oldest first, retracted ones included."""
        chosen = "" if deck is None else " AND deck = ?"
        sql = f"SELECT {rows.ATTEMPT} FROM attempt WHERE student = ?{chosen} ORDER BY at, id"
        parameters = (student,) if deck is None else (student, deck)
        return self._connection.read(rows.attempts, sql, parameters)

    def retractions(self, student: str) -> tuple[Retraction, ...]:
        """The retractions of a student's attempts, oldest first."""
        columns = ", ".join(f"r.{name}" for name in rows.RETRACTION.split(", "))
        return self._connection.read(
            rows.retractions,
            f"SELECT {columns} FROM retraction AS r JOIN attempt AS a ON a.id = r.attempt"
            " WHERE a.student = ? ORDER BY r.at, r.id",
            (student,),
        )

    def openings(self, student: str) -> tuple[Opening, ...]:
        """What was said to a student about open starts, oldest first."""
        sql = f"SELECT {rows.OPENING} FROM opening WHERE student = ? ORDER BY at, id"
        return self._connection.read(rows.openings, sql, (student,))
