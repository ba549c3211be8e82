"""The instrument that hears a drill or a run-through, as it was set."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.desk.base import Part
from trainer.desk.people import Settings
from trainer.errors import TrainerError
from trainer.record.people import Student
from trainer.reports import settings as choices
from trainer.reports.view import View

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.deck.model import Piece
    from trainer.desk.following import Following, Recording
    from trainer.desk.hearing import Hearing
    from trainer.listen.model import Policy
    from trainer.listen.port import Port
    from trainer.listen.signs import Means


@dataclass
class Instruments(Part):
    settings: Settings

    def hearing(self, student: Student, instrument: str = "") -> Hearing | None:
        """What hears a drill of this student, by the instrument that is set or by this one; None
        where none is wanted. It need not be connected yet. To open it may take seconds. Raises
        TrainerError where it cannot be heard at all."""
        port = self._port(student, instrument)
        if port is None:
            return None
        from trainer.desk.hearing import Hearing

        return Hearing(port, *self._heard_as(student))

    def trouble(self, student: Student) -> str:
        """Why the instrument that is set cannot be heard now, "" where it can or none is wanted.
        May take seconds."""
        try:
            port = self._port(student, waits=False)
        except TrainerError as error:
            return str(error)
        if port is not None:
            port.close()
        return ""

    def following(self, view: View, piece: Piece, instrument: str = "") -> Following | None:
        """What hears a run-through, in the same way, but never by microphone, which is not sure
        enough of single slips. Raises TrainerError also where the piece has no notes."""
        from trainer.listen.microphone import named

        if named(instrument or self.settings.get(view.student, "instrument")) is not None:
            return None
        port = self._port(view.student, instrument)
        if port is None:
            return None
        from trainer.desk.following import Following

        try:
            return Following(port, piece, *self._heard_as(view.student), words=view.words)
        except TrainerError:
            port.close()
            raise

    def recording(self, view: View, piece: Piece, file: Path) -> Recording:
        """A run-through that was recorded as a MIDI file. Raises TrainerError."""
        from trainer.desk.following import Recording

        return Recording(file, piece, self._heard_as(view.student)[1], view.words)

    def _port(self, student: Student, instrument: str = "", *, waits: bool = True) -> Port | None:
        wanted = instrument or self.settings.get(student, "instrument")
        if wanted == choices.OFF:
            return None
        from trainer.listen.midi import open_port

        return open_port("" if wanted == choices.ANY else wanted, waits=waits)

    def _heard_as(self, student: Student) -> tuple[Means, Policy]:
        """What signs are made of, and what passes, as it was set."""
        from trainer.listen.signs import means_of

        means = means_of(self.settings.get(student, "signals"))
        return means, choices.policy(self.settings.kept(student))
