"""Signs by which a player goes on without a hand on the keyboard of the computer. Pure.

A sign is pressed once, twice or three times in a row: the next call, the same again, stop. It is a
low key, a pedal, or a short run of notes of the player's choice. It has to be followed by a moment
of silence: what is played on after it was music.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Literal

from trainer.errors import TrainerError
from trainer.listen.model import SURE
from trainer.listen.port import Event
from trainer.listen.wire import SOFT, SOSTENUTO
from trainer.values import Frozen

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainer.listen.model import Hands, Waiting

Sign = Literal["next", "again", "stop"]

COUNTS: tuple[Sign, ...] = ("next", "again", "stop")  # pressed once, twice, three times
WITHIN = 0.6  # seconds from one press, or one note of a run, to the next
LOWEST = 21  # the lowest key of a piano
LONGEST = 8  # notes of a run


class Means(Frozen, frozen=True):
    """What a sign is made of: a run of `pitches`, one for a key alone, or a `pedal`'s controller;
    neither where there are no signs."""

    pitches: tuple[int, ...] = ()
    pedal: int = 0


LOW_KEY = Means((LOWEST,))


class Signs:
    """Tells signs from music, event by event; times are those of the events.

    An event that may be part of a sign is held back until it is known. `notes` gives what turned
    out to be music.
    """

    def __init__(self, means: Means = LOW_KEY) -> None:
        self.means = means
        self._run = means.pitches
        self._held: list[Event] = []  # presses, and the beginning of another
        self._presses = 0
        self._music: list[Event] = []
        self.began = 0.0  # when the last sign that was known began

    @property
    def since(self) -> float | None:
        """When the first event came that is held back; None where none is."""
        return self._held[0].time if self._held else None

    def hear(self, event: Event) -> Sign | None:
        """Take an event. The sign that is known by it: a third press, or, at a later event, one
        that was complete before."""
        sign = self.tick(event.time)
        if event.chance < SURE:
            self._music.append(event)
            return sign
        if self.means.pedal:
            if event.pedal == self.means.pedal:
                return self._press(event) or sign
            if not event.pedal:
                self._release()
                self._music.append(event)
            return sign
        if event.pedal:
            return sign
        if not self._run:
            self._music.append(event)
            return sign
        return self._step(event) or sign

    def tick(self, time: float) -> Sign | None:
        """The sign that is complete because nothing has come for a while."""
        if not self._held or time - self._held[-1].time < WITHIN:
            return None
        if not self._presses or self._begun():
            self._release()
            return None
        return self._done()

    def notes(self) -> tuple[Event, ...]:
        """The keys since the last asking that are no part of a sign, in order."""
        found, self._music = tuple(self._music), []
        return found

    def _begun(self) -> int:
        """How many notes of a run stand after the presses."""
        return len(self._held) - self._presses * max(1, len(self._run))

    def _step(self, event: Event) -> Sign | None:
        """One more note, of a run or against it."""
        if event.pitch == self._run[self._begun()]:
            if self._begun() + 1 == len(self._run):
                return self._press(event)
            self._held.append(event)
            return None
        first, *rest = *self._held, event
        self._held, self._presses = [], 0
        self._music.append(first)
        for other in rest:  # a run may begin within what was held
            self._step(other)
        return None

    def _press(self, event: Event) -> Sign | None:
        self._held.append(event)
        self._presses += 1
        return self._done() if self._presses == len(COUNTS) else None

    def _done(self) -> Sign:
        sign, self.began = COUNTS[self._presses - 1], self._held[0].time
        self._held, self._presses = [], 0
        return sign

    def _release(self) -> None:
        """What is held was music; a pedal never is."""
        self._music += [event for event in self._held if not event.pedal]
        self._held, self._presses = [], 0


def clashes(means: Means, waiting: Waiting) -> bool:
    """Whether a piece has these notes in a row, in one hand or both, so that they are no sign."""
    hands: tuple[Hands, ...] = ("both", "right", "left")
    chords = (
        [{*cluster.of(which), *cluster.free} for cluster in waiting.clusters if cluster.of(which)]
        for which in hands
    )
    return bool(means.pitches) and any(_holds(one, means.pitches) for one in chords)


def _holds(chords: Sequence[set[int]], run: Sequence[int]) -> bool:
    """Whether a run may be heard in these chords: each note in the chord of the one before it, or
    in the next."""
    ends: set[int] = set(range(len(chords)))
    for place, pitch in enumerate(run):
        near = ends if place == 0 else ends | {end + 1 for end in ends}
        ends = {at for at in near if at < len(chords) and pitch in chords[at]}
    return bool(ends)


_NAME = re.compile(r"([A-Ga-g])([#b♯♭]?)(-?\d)")
_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def means_of(text: str) -> Means:
    """What a setting's text means: "off", "soft pedal", "middle pedal", or one to LONGEST notes
    such as "A0" or "C2 E2 G2", middle C being C4. Raises TrainerError for any other."""
    words = text.split()
    if words in ([], ["off"]):
        return Means()
    if len(words) == 2 and words[1] == "pedal" and words[0] in ("soft", "middle"):
        return Means(pedal=SOFT if words[0] == "soft" else SOSTENUTO)
    found = [_NAME.fullmatch(word) for word in words]
    pitches = tuple(_pitch(*match.groups()) for match in found if match)
    if len(pitches) < len(words) or len(words) > LONGEST or not _keys(pitches):
        raise TrainerError(
            f"{text[:40]!r} is not a signal; give notes such as A0 or C2 E2 G2, soft pedal, middle "
            "pedal, or off."
        )
    return Means(pitches)


def words_of(means: Means) -> str:
    """A sign as a player is told of it; "" where there is none."""
    if means == LOW_KEY:
        return "the lowest key"
    if means.pedal:
        return f"the {text_of(means)}"
    return text_of(means) if means.pitches else ""


def text_of(means: Means) -> str:
    """A sign as `means_of` reads it, black keys as sharps."""
    if means.pedal:
        return "soft pedal" if means.pedal == SOFT else "middle pedal"
    names = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
    return " ".join(f"{names[p % 12]}{p // 12 - 1}" for p in means.pitches) or "off"


def _pitch(step: str, sign: str, octave: str) -> int:
    alter = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1}[sign]
    return 12 * (int(octave) + 1) + _STEPS[step.upper()] + alter


def _keys(pitches: Sequence[int]) -> bool:
    """Whether all of them are on a piano."""
    return all(LOWEST <= pitch <= LOWEST + 87 for pitch in pitches)
