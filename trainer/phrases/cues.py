"""What speaks for a phrase to begin at a place: the registry of cues.

A cue is a function from the places to one number each (its evidence: 0 where it says nothing,
about 1 where it is plain), a sentence for people, and its weights. To add one, write the
function and add a line to `CUES`; everything else follows.

Weights are log odds. `texture` is for music in several voices, whose places are bars;
`melody` for a single line, whose places are notes; a cue without a weight is not used there.
They maximise the likelihood of annotated phrases under the model of `spans.py`, with a
quadratic penalty and with the sign that musicians expect of each cue: 12 piano pieces of the
DCML corpora, each as printed and without its marks, so that bare scores are served, too; 150
songs of the Essen collection as published by CCARH. What those pieces could not tell was set by
hand: where slurs begin and end, and the signs in single melodies, which take the weight that
they have in several voices.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from trainer.phrases import harmony, melody, repeats, rests, signs
from trainer.phrases.places import Places
from trainer.phrases.table import Floats


@dataclass(frozen=True)
class Cue:
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


CUES: tuple[Cue, ...] = (
    Cue("return", repeats.returns, repeats.which_returns, texture=0.40),
    Cue("edge", repeats.stands_out, repeats.which_returns, texture=1.41),
    Cue("opening", repeats.like_opening, "it begins like the opening", texture=1.05),
    Cue("new", repeats.novelty, "the figure changes", texture=0.41),
    Cue("texture", repeats.texture_changes, "the texture changes", texture=0.97),
    Cue("home", harmony.home_harmony, "the harmony of the opening", texture=1.03),
    Cue("chord", harmony.same_harmony, "it takes up the harmony before it", texture=0.42),
    Cue("close", harmony.fifth_falls, "the bass falls a fifth before it", texture=0.79),
    Cue("bass", harmony.bass_stays, "the bass stays", texture=0.64),
    Cue("long note", rests.upper_waits, rests.who_waits, texture=0.27),
    Cue("rest", rests.upper_rests, rests.who_waits, texture=0.21),
    Cue("halt", rests.motion_halts, "the motion halts before it", texture=1.13),
    Cue("dynamic", signs.dynamic_here, "a dynamic is written here", texture=1.34),
    Cue("tempo", signs.tempo_here, "a tempo is written here", texture=0.31),
    Cue("hold", signs.hold_before, "a fermata or a breath before it", texture=0.57, melody=0.57),
    Cue("double bar", signs.double_bar, "a double bar before it", texture=1.23, melody=1.23),
    Cue("signature", signs.key_or_metre, "the key or the metre changes", texture=1.48),
    Cue("slur begins", signs.slur_begins, "a slur begins", texture=0.20),
    Cue("slur ends", signs.slur_ends, "a slur ends", texture=0.20),
    Cue("slur", signs.slur_crosses, "a slur runs across", texture=-0.71, melody=-0.71),
    Cue("count", signs.eighth_bar, "an eighth bar of the piece", texture=0.72),
    Cue("breath", melody.rest_before, "a rest before it", melody=0.97),
    Cue("long rest", melody.rest_length, "a rest before it", melody=0.73),
    Cue("usual rest", melody.usual_rest, "a rest before it", melody=0.41),
    Cue("long", melody.long_before, "a long note before it", melody=0.56),
    Cue("longest", melody.long_among, "a long note before it", melody=0.24),
    Cue("longer", melody.longer_than_next, "a long note before it", melody=0.10),
    Cue(
        "same place", melody.same_place, "the place in the bar is that of the opening", melody=0.35
    ),
    Cue("downbeat", melody.on_downbeat, "it begins the bar", melody=-0.22),
    Cue("upbeat", melody.upbeat, "an upbeat", melody=0.35),
    Cue("long upbeat", melody.long_upbeat, "an upbeat", melody=-0.06),
    Cue("beat", melody.on_beat, "on the beat", melody=-0.53),
    Cue("after beat", melody.after_beat, "the note before it is on a beat", melody=0.84),
    Cue("after downbeat", melody.after_downbeat, "the note before it begins a bar", melody=-0.82),
    Cue("bar line", melody.over_bar_line, "the bar line lies just before it", melody=0.99),
    Cue("leap", melody.leap, "the melody leaps to it", melody=1.01),
    Cue("tonic", melody.after_tonic, "the note before it is the final note", melody=0.43),
    Cue("step", melody.after_step_or_third, "the line came to rest before it", melody=0.41),
    Cue("opening rhythm", melody.opening_rhythm, "it begins like the opening", melody=0.42),
    Cue("opening notes", melody.opening_notes, "it begins like the opening", melody=0.62),
    Cue("returns", melody.returns_here, "a passage returns here", melody=0.31),
)
