"""A run-through by ear: an instrument hears where the playing is, where it broke, and its end.

seen = following.look()                      # some thirty times a second
run = following.log(exercises, run, seen)     # slips that are certain, hesitations, the end
run = following.finish(exercises, run, act)   # a key tells the end
run = following.agree(exercises, run, slip)   # what was not sure was a slip: the player says so

Whatever happens in the ear, the run goes on: what it heard before is logged, and the keys of the
computer tell the rest.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from fractions import Fraction
from functools import partial
from time import perf_counter
from typing import TYPE_CHECKING, Any, TypeVar

from trainer.errors import TrainerError
from trainer.listen.model import Policy
from trainer.listen.signs import LOW_KEY, Means, Sign, Signs, clashes, words_of
from trainer.practice.exercise import Act
from trainer.practice.run import Run
from trainer.record.attempt import Outcome, Witness
from trainer.score.cite import BRITISH, Words, place
from trainer.values import Frozen

if TYPE_CHECKING:
    from pathlib import Path

    from trainer.deck.model import Piece
    from trainer.desk.exercises import Exercises
    from trainer.listen.follow import Slip
    from trainer.listen.model import Verdict
    from trainer.listen.port import Port

T = TypeVar("T")
SILENCE = 4.0  # seconds after the last chord in which nothing came: the end


class Follows(Frozen, frozen=True):
    """How it stands: `place` in words, "" where it cannot be told; the slips and hesitations that
    were not told before; `ended`: the last chord was struck, and nothing after it. `sign` is told
    once. `failed`: what is played cannot be followed any more."""

    connected: bool
    place: str = ""
    slips: tuple[Slip, ...] = ()
    ended: bool = False
    sign: Sign | None = None
    failed: bool = False


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
        self._told: tuple[Slip, ...] = ()  # all slips and hesitations
        self.perhaps: tuple[Slip, ...] = ()  # what may have been a slip, and the player decides
        self.failed = False  # what is played cannot be followed any more

    @property
    def sign(self) -> str:
        """What is pressed, three times to stop; "" where there are no signs."""
        return words_of(self._signs.means)

    @property
    def heard(self) -> bool:
        """Whether any note was heard."""
        return self._last is not None

    def look(self) -> Follows:
        """Take what has come since the last look."""
        now, sign = self._clock(), None
        for event in self.port.take():
            sign = self._signs.hear(event) or sign
            self._hear()
        sign = self._signs.tick(now) or sign
        self._hear()
        silent = self._last is not None and now - self._last >= SILENCE
        at, at_end, slips = self._minding(self._seen) or (None, False, ())
        ended = silent and at_end and not self._over
        self._over = self._over or ended
        told = "" if at is None else self._place(at)
        return Follows(self.port.connected, told, slips, ended, sign, self.failed)

    def _seen(self) -> tuple[Fraction | None, bool, tuple[Slip, ...]]:
        follower = self._follower
        return follower.place, follower.at_end, follower.take()

    def _hear(self) -> None:
        for note in self._signs.notes():
            self._minding(partial(self._follower.hear, note.since(0.0)))
            self._last, self._over = note.time, False

    def _minding(self, ask: Callable[[], T]) -> T | None:
        """What the follower answers; None once it has failed. A run-through that is being played
        cannot be had again, so that no mistake in the ear may end it."""
        if self.failed:
            return None
        try:
            return ask()
        except Exception:
            self.failed = True
            return None

    def _place(self, at: Fraction) -> str:
        return place(self._piece.score, self._piece.score.bar_at(at).start, words=self._words)

    def log(self, exercises: Exercises, run: Run, seen: Follows) -> Run:
        """Log what is certain. What cannot be kept now is tried again at the next look."""
        if run.over:
            return run
        self._add(seen.slips)
        run = self._logged(exercises, run)
        if seen.ended or seen.sign == "stop":
            run = self.finish(exercises, run, Act.END if seen.ended else Act.STOP)
        return run

    def finish(self, exercises: Exercises, run: Run, act: Act) -> Run:
        """The end of the piece, or of the playing (END or STOP): what was heard up to it is logged
        before it. Once the end was reached, a pending break-off is dropped."""
        if self._last is None:
            return exercises.act(run, act)
        last = (*self.look().slips, *(self._minding(self._follower.end) or ()))
        self._add(slip for slip in last if act is Act.STOP or slip.kind != "end")
        run = self._logged(exercises, run)
        return exercises.act(run, act, heard=self._whole(run) if act is Act.END else None)

    def agree(self, exercises: Exercises, run: Run, slip: Slip) -> Run:
        """The player says that what was not sure was a slip: it is logged as said and heard."""
        run = exercises.act(run, Act.SLIP, **self._where(slip))
        self.perhaps = tuple(one for one in self.perhaps if one is not slip)
        return run

    def phrases(self) -> tuple[Verdict, ...]:
        """What was heard, phrase by phrase, once it has ended: to be drawn on the written music.
        Takes tenths of a second for a long piece."""
        from trainer.listen.whole import phrases_heard

        marks = self._minding(self._follower.marks) or ()
        return phrases_heard(self._piece, marks, self._told)

    def _add(self, slips: Iterable[Slip]) -> None:
        for slip in slips:
            self._told = (*self._told, slip)
            if slip.sure:
                self._due.append(slip)
            else:
                self.perhaps = (*self.perhaps, slip)

    def _logged(self, exercises: Exercises, run: Run) -> Run:
        while self._due:
            slip = self._due[0]
            told = self._where(slip)
            if slip.kind == "hesitation":
                waited = Witness(Outcome.STOPPED, broke_at=slip.broke_at)
                run = exercises.act(run, Act.HESITATE, broke_at=slip.broke_at, heard=waited)
            else:
                heard = Witness(Outcome.BROKE_OFF, elsewhere=told["start"], broke_at=slip.broke_at)
                run = exercises.act(run, Act.SLIP, **told, heard=heard)
            self._due.pop(0)
        return run

    def _where(self, slip: Slip) -> dict[str, Any]:
        """Where a slip was, as `Exercises.act` takes it."""
        from trainer.listen.follow import taken_up

        return {"broke_at": slip.broke_at, "start": taken_up(self._piece, slip)}

    def _whole(self, run: Run) -> Witness | None:
        """What was heard of the whole."""
        counts = self._minding(self._follower.counts)
        if counts is None:
            return None
        return Witness(
            Outcome.STOPPED if any(slip.heard for slip in run.slips) else Outcome.THROUGH,
            wrong=counts["wrong"],
            missed=counts["missed"],
            extra=counts["extra"],
            notes=self._follower.count,
        )

    def close(self) -> None:
        self.port.close()


class Recording:
    """A run-through that was recorded as a MIDI file. Its clock stands still between two keys."""

    def __init__(self, file: Path, piece: Piece, policy: Policy, words: Words) -> None:
        """Raises TrainerError where the file cannot be heard."""
        from trainer.listen.midi import read_midi
        from trainer.listen.port import MemoryPort

        self._notes = sorted(read_midi(file), key=lambda note: note.time)
        if not self._notes:
            raise TrainerError(f"{file.name} holds no notes; choose a .mid file with the playing.")
        self._now = 0.0
        self._port = MemoryPort(lambda: self._now, file.name)
        self.ear = Following(self._port, piece, Means(), policy, lambda: self._now, words)

    def hear(self, exercises: Exercises, run: Run) -> Run:
        """All of it, as played now: kept whole, or not at all."""
        with exercises.store.together():
            for note in self._notes:
                self._now = note.time
                self._port.play(note.pitch, note.velocity)
                run = self.ear.log(exercises, run, self.ear.look())
            self._now += SILENCE
            run = self.ear.log(exercises, run, self.ear.look())
            return run if run.over else self.ear.finish(exercises, run, Act.STOP)
