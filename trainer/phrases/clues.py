"""What speaks for a phrase to begin at a place: the registry of clues.

A clue is a function from the places to one number each (its evidence: 0 where it says nothing,
about 1 where it is plain), a sentence for people, and its weights. To add one, write the
function and add a line to `CLUES`; everything else follows.

Weights are log odds. `texture` is for music in several voices, whose places are bars;
`melody` for a single line, whose places are notes; a clue without a weight is not used there.
They maximise the likelihood of annotated phrases under the model of `spans.py`, with a
quadratic penalty: 52 piano pieces of the DCML corpora for music in several voices, 150 songs of
the Essen collection as published by CCARH for single melodies. Signs in single melodies and
the close in even figures have a weight set by hand. What a person plainly wrote is no clue but a
start: see `plain.py`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from trainer.phrases import closes, melody, repeats, rests, signs
from trainer.phrases.places import Places
from trainer.phrases.table import Floats


@dataclass(frozen=True)
class Clue:
    """`words` is the sentence, or a function that makes it for one place."""

    name: str
    evidence: Callable[[Places], Floats]
    words: str | Callable[[Places, int], str]
    texture: float | None = None
    melody: float | None = None

    def weight(self, single: bool) -> float | None:
        return self.melody if single else self.texture

    def say(self, places: Places, index: int) -> str:
        return self.words if isinstance(self.words, str) else self.words(places, index)


CLUES: tuple[Clue, ...] = (
    Clue("edge", repeats.stands_out, repeats.which_returns, texture=2.40),
    Clue("new", repeats.novelty, "the figure changes", texture=0.33),
    Clue("rhythm", repeats.rhythm_changes, "the rhythm changes", texture=1.39),
    Clue("register", repeats.register_changes, repeats.say_register, texture=0.65),
    Clue("home", closes.home_harmony, closes.say_home, texture=0.89),
    Clue("close", closes.full_close, closes.say_full, texture=0.90),
    Clue("half close", closes.half_close, closes.say_half, texture=1.07),
    Clue("tonic here", closes.tonic_here, closes.say_tonic, texture=0.47),
    Clue("still in the close", repeats.arrives_evenly, "", texture=-1.50),
    Clue("bass", closes.bass_arrives, closes.say_arrival, texture=0.59),
    Clue("long note", rests.upper_waits, rests.who_waits, texture=0.25),
    Clue("dynamic", signs.dynamic_here, "a dynamic is written here", texture=1.03),
    Clue("slur", signs.slur_crosses, "", melody=-0.71),
    Clue("breath", melody.rest_before, "a rest before it", melody=0.97),
    Clue("long rest", melody.rest_length, "a rest before it", melody=0.73),
    Clue("usual rest", melody.usual_rest, "a rest before it", melody=0.41),
    Clue("long", melody.long_before, "a long note before it", melody=0.56),
    Clue("longest", melody.long_among, "a long note before it", melody=0.24),
    Clue("longer", melody.longer_than_next, "a long note before it", melody=0.10),
    Clue(
        "same place",
        melody.same_place,
        "it has the same place in the bar as the opening",
        melody=0.35,
    ),
    Clue("downbeat", melody.on_downbeat, "it begins the bar", melody=-0.22),
    Clue("upbeat", melody.upbeat, "an upbeat", melody=0.35),
    Clue("long upbeat", melody.long_upbeat, "an upbeat", melody=-0.06),
    Clue("beat", melody.on_beat, "on the beat", melody=-0.53),
    Clue("after beat", melody.after_beat, "the note before it is on a beat", melody=0.84),
    Clue("after downbeat", melody.after_downbeat, "the note before it begins a bar", melody=-0.82),
    Clue("bar line", melody.over_bar_line, "the bar line lies just before it", melody=0.99),
    Clue("leap", melody.leap, "the melody leaps to it", melody=1.01),
    Clue("tonic", melody.after_tonic, "the note before it is the final note", melody=0.43),
    Clue("step", melody.after_step_or_third, "the melody came to rest before it", melody=0.41),
    Clue("opening rhythm", melody.opening_rhythm, "it begins like the opening", melody=0.42),
    Clue("opening notes", melody.opening_notes, "it begins like the opening", melody=0.62),
    Clue("returns", melody.returns_here, "a passage returns here", melody=0.31),
)
