"""A recorded attempt, from samples to the verdict. Pure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from trainer.listen.match import Listener
from trainer.listen.model import Heard, Policy
from trainer.sound.spectrum import RATE
from trainer.sound.strokes import Finder
from trainer.sound.tuning import Tuning

if TYPE_CHECKING:
    from trainer.listen.model import Verdict, Waiting
    from trainer.sound.spectrum import Wave


def hear_sound(
    sound: Wave,
    waiting: Waiting,
    asked: str,
    end: float | None = None,
    policy: Policy | None = None,
) -> Verdict:
    """What was heard of an attempt at the start `asked` in a sound that begins with the call;
    `end` is when the listening ended, in seconds, by default with the sound."""
    listener = Listener(waiting, asked, policy or Policy())
    until = len(sound) / RATE if end is None else end
    for note in notes(sound):
        if note.time <= until:
            listener.hear(note)
    return listener.end(until)


def notes(sound: Wave) -> list[Heard]:
    """The keys that seem to have been struck, on an instrument tuned as the sound says."""
    tuning = Tuning()
    tuning.feed(sound)
    finder = Finder(tuning.cents or 0.0)
    strokes = [*finder.feed(sound), *finder.flush()]
    return [Heard(one.pitch, one.time, chance=one.chance) for one in strokes]
