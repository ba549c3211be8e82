"""A run-through by ear: an instrument hears where the playing is, where it broke, and its end.

seen = following.look()                      # some thirty times a second
run = following.log(desk, run, seen)         # slips that are certain, the end
run = following.finish(desk, run, act)       # a key tells the end
"""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from time import perf_counter
from typing import TYPE_CHECKING

from trainer.listen.model import Policy
from trainer.listen.signs import LOW_KEY, Means, Sign, Signs, clashes, words_of
from trainer.practice.run import Run, RunAct
from trainer.record.attempt import Outcome, Witness
from trainer.score.cite import BRITISH, Words, place
from trainer.values import Frozen

if TYPE_CHECKING:
    from trainer.deck.model import Piece
    from trainer.desk.runs import Runs
    from trainer.listen.follow import Slip
    from trainer.listen.port import Port

SILENCE = 4.0  # seconds after the last chord in which nothing came: the end


class Follows(Frozen, frozen=True):
    """How it stands: `place` in words, "" where it cannot be told; the slips that were not told
    before; `ended`: the last chord was struck, and nothing after it. `sign` is told once."""

    connected: bool
    place: str = ""
    slips: tuple[Slip, ...] = ()
    ended: bool = False
    sign: Sign | None = None


class Following:
    """The ear of one run-through. `clock` is the port's, in seconds."""

    def __init__(
        self,
        port: Port,
        piece: Piece,
        means: Means = LOW_KEY,
        policy: Policy = Policy(),  # noqa: B008
        clock: Callable[[], float] = perf_counter,
        words: Words = BRITISH,
    ) -> None:
        from trainer.listen.follow import Follower  # numpy
        from trainer.listen.score import waiting

        self.port = port
        self._piece, self._clock, self._words = piece, clock, words
        self._follower = Follower(piece, policy)
        self._signs = Signs(Means() if clashes(means, waiting(piece)) else means)
        self._last: float | None = None  # when the last key went down
        self._due: list[Slip] = []  # slips that are not logged
        self._over = False  # the end was told

    @property
    def sign(self) -> str:
        """What is pressed, three times to stop; "" where there are no signs."""
        return words_of(self._signs.means)

    def look(self) -> Follows:
        """Take what has come since the last look."""
        now, sign = self._clock(), None
        for event in self.port.take():
            sign = self._signs.hear(event) or sign
            self._hear()
        sign = self._signs.tick(now) or sign
        self._hear()
        follower = self._follower
        silent = self._last is not None and now - self._last >= SILENCE
        ended = silent and follower.at_end and not self._over
        self._over = self._over or ended
        at = follower.place
        told = "" if at is None else self._place(at)
        return Follows(self.port.connected, told, follower.take(), ended, sign)

    def _hear(self) -> None:
        for note in self._signs.notes():
            self._follower.hear(note.since(0.0))
            self._last, self._over = note.time, False

    def _place(self, at: Fraction) -> str:
        return place(self._piece.score, self._piece.score.bar_at(at).start, words=self._words)

    def log(self, desk: Runs, run: Run, seen: Follows) -> Run:
        """Log what is certain. What cannot be kept now is tried again at the next look."""
        if run.over:
            return run
        self._due += seen.slips
        run = self._logged(desk, run)
        if seen.ended or seen.sign == "stop":
            run = self.finish(desk, run, RunAct.END if seen.ended else RunAct.STOP)
        return run

    def finish(self, desk: Runs, run: Run, act: RunAct) -> Run:
        """The end of the piece, or of the playing (END or STOP): what was heard up to it is logged
        before it. Where the end was reached, the playing broke off nowhere for good."""
        if self._last is None:
            return desk.in_run(run, act)
        last = (*self.look().slips, *self._follower.end())
        self._due += [slip for slip in last if act is RunAct.STOP or slip.kind != "end"]
        run = self._logged(desk, run)
        return desk.in_run(run, act, heard=self._whole(run) if act is RunAct.END else None)

    def _logged(self, desk: Runs, run: Run) -> Run:
        from trainer.listen.follow import taken_up

        while self._due:
            broke = self._due[0].broke_at
            resumed = taken_up(self._piece, self._due[0])
            heard = Witness(Outcome.BROKE_OFF, elsewhere=resumed, broke_at=broke)
            run = desk.in_run(run, RunAct.SLIP, broke_at=broke, resumed=resumed, heard=heard)
            self._due.pop(0)
        return run

    def _whole(self, run: Run) -> Witness:
        """What was heard of the whole."""
        counts = self._follower.counts()
        return Witness(
            Outcome.STOPPED if any(slip.heard for slip in run.slips) else Outcome.THROUGH,
            wrong=counts["wrong"],
            missed=counts["missed"],
            extra=counts["extra"],
            notes=self._follower.count,
        )

    def close(self) -> None:
        self.port.close()
